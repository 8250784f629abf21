//! What the tests from outside share: running the program, and laying out bases in a temporary folder. Tests nothing.
#![allow(dead_code, reason = "each test program uses its own part of this")]

pub mod book;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// What one run of the program left behind.
#[derive(Debug)]
pub struct Ran {
    pub code: i32,
    pub out: String,
    pub err: String,
}

/// The program, with nothing of the surroundings leaking in.
pub fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_faultodds"));
    for name in ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE", "COLUMNS", "TERM"] {
        command.env_remove(name);
    }
    for (name, _) in std::env::vars_os() {
        if name.to_string_lossy().starts_with("FAULTODDS_") {
            command.env_remove(name);
        }
    }
    // Whoever runs the tests may have a shop file, an overlay or jobs of their own: none of them is seen.
    for name in ["HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME"] {
        command.env(name, NO_HOME);
    }
    command.stdin(Stdio::null());
    command
}

/// Runs the program with these words.
pub fn run<S: AsRef<std::ffi::OsStr>>(args: &[S]) -> Ran {
    finish(program().args(args))
}

/// A home folder that is not there and cannot be made.
pub const NO_HOME: &str = "/dev/null/home";

/// Runs a prepared command and refuses the marks of a crash whatever it was asked.
pub fn finish(command: &mut Command) -> Ran {
    let output = command.output().expect("the program starts");
    let ran = Ran {
        code: output.status.code().unwrap_or(-1),
        out: String::from_utf8(output.stdout).expect("output is UTF-8"),
        err: String::from_utf8(output.stderr).expect("messages are UTF-8"),
    };
    assert!(!ran.err.contains("panicked"), "{}", ran.err);
    assert!(!ran.out.contains("NaN"), "{}", ran.out);
    ran
}

/// A place of its own for past jobs and jobs, and the program run on it.
pub struct Desk {
    pub folder: tempfile::TempDir,
}

impl Desk {
    pub fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn run(&self, args: &[&str]) -> Ran {
        let mut command = program();
        command.env("FAULTODDS_PAST", self.path("past.db")).env("FAULTODDS_DB", self.path("jobs.db"));
        finish(command.args(args))
    }
}

/// Copies a folder with all that is in it.
pub fn copy_folder(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy_folder(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// The folder of the shipped base.
pub fn shipped_folder() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/kb"))
}

/// The text of a file in `tests/bad-kb`.
pub fn bad_kb(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bad-kb").join(name);
    fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// Lays out the smallest good base, changed as the text says (see `tests/bad-kb/good.base`).
pub fn lay_out(folder: &Path, changes: &str) {
    let good = bad_kb("good.base");
    for text in [good.as_str(), changes] {
        for (what, path, body) in sections(text) {
            let (path, rest) = path.split_once(' ').unwrap_or((path, ""));
            let full = folder.join(path);
            fs::create_dir_all(full.parent().unwrap()).unwrap();
            match what {
                "at" => fs::write(full, body).unwrap(),
                "gone" => fs::remove_file(full).unwrap(),
                "bytes" => fs::write(full, bytes(&body)).unwrap(),
                // A sparse file: as long as it says, and next to nothing on the disk.
                "size" => fs::File::create(full).unwrap().set_len(rest.parse().unwrap()).unwrap(),
                "link" => link_to_nowhere(&full),
                other => panic!("`#@ {other}` is not a change"),
            }
        }
    }
}

/// The text cut at its `#@` lines: what to do, with which file, and the lines below.
fn sections(text: &str) -> Vec<(&str, &str, String)> {
    let mut out: Vec<(&str, &str, String)> = Vec::new();
    for line in text.lines() {
        if let Some(order) = line.strip_prefix("#@ ") {
            let (what, path) = order.split_once(' ').expect("an order names a file");
            out.push((what, path, String::new()));
        } else if let Some(last) = out.last_mut() {
            last.2.push_str(line);
            last.2.push('\n');
        }
    }
    out
}

/// The text with `\xNN` as single bytes.
fn bytes(text: &str) -> Vec<u8> {
    let mut pieces = text.split("\\x");
    let mut out = pieces.next().unwrap_or_default().as_bytes().to_vec();
    for piece in pieces {
        out.push(u8::from_str_radix(&piece[..2], 16).unwrap());
        out.extend_from_slice(&piece.as_bytes()[2..]);
    }
    out
}

#[cfg(unix)]
fn link_to_nowhere(path: &Path) {
    std::os::unix::fs::symlink("nowhere-at-all", path).unwrap();
}

#[cfg(not(unix))]
fn link_to_nowhere(_: &Path) {}

/// Every file of a folder by its path within it.
pub fn files_of(folder: &Path) -> BTreeMap<String, String> {
    fn walk(folder: &Path, at: &str, out: &mut BTreeMap<String, String>) {
        for entry in fs::read_dir(folder).unwrap() {
            let entry = entry.unwrap();
            let name = entry.file_name().into_string().unwrap();
            let path = if at.is_empty() { name } else { format!("{at}/{name}") };
            if entry.file_type().unwrap().is_dir() {
                walk(&entry.path(), &path, out);
            } else {
                out.insert(path, fs::read_to_string(entry.path()).unwrap());
            }
        }
    }
    let mut out = BTreeMap::new();
    walk(folder, "", &mut out);
    out
}
