//! A store of its own and the program run on it.

use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};
use tempfile::TempDir;

pub struct Desk {
    folder: TempDir,
}

impl Desk {
    pub fn new() -> Self {
        Self { folder: TempDir::new().unwrap() }
    }

    pub fn db(&self) -> PathBuf {
        self.folder.path().join("jobs.db")
    }

    /// Runs the program with lines typed into it.
    pub fn typed(&self, args: &[&str], lines: &str) -> Output {
        self.typed_in(&[], args, lines)
    }

    /// The same with something set in the environment.
    pub fn typed_in(&self, set: &[(&str, &str)], args: &[&str], lines: &str) -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_faultodds"));
        for (name, _) in std::env::vars_os() {
            if name.to_string_lossy().starts_with("FAULTODDS_") {
                command.env_remove(name);
            }
        }
        let mut child = command
            .args(args)
            .env("FAULTODDS_DB", self.db())
            .env("XDG_CONFIG_HOME", self.folder.path())
            .env("TZ", "UTC")
            .env("NO_COLOR", "1")
            .envs(set.iter().copied())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        // A program that refuses its arguments does not read on.
        let _gone = child.stdin.take().unwrap().write_all(lines.as_bytes());
        child.wait_with_output().unwrap()
    }

    /// What it prints when all goes well.
    #[track_caller]
    pub fn done(&self, args: &[&str]) -> String {
        let out = self.typed(args, "");
        assert!(out.status.success(), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8(out.stdout).unwrap()
    }

    /// What it says on the error stream.
    pub fn said(&self, args: &[&str]) -> String {
        flat(&String::from_utf8(self.typed(args, "").stderr).unwrap())
    }

    /// A conversation; answers what was printed, line ends as blanks.
    #[track_caller]
    pub fn talk(&self, args: &[&str], lines: &str) -> String {
        let out = self.typed(&[&["guide"], args].concat(), lines);
        assert!(out.status.success(), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
        flat(&String::from_utf8(out.stdout).unwrap())
    }

    /// A job as JSON.
    pub fn job(&self, number: i64) -> serde_json::Value {
        serde_json::from_str(&self.done(&["job", "show", "--json", "--job", &number.to_string()])).unwrap()
    }

    /// Kinds of the events that hold.
    pub fn kinds(&self, number: i64) -> Vec<String> {
        let job = self.job(number);
        let events = job["events"].as_array().unwrap().iter().filter(|e| e["holds"] == true);
        let kinds = events.map(|e| e["event"]["kind"].as_str().unwrap().to_owned());
        kinds.filter(|k| k != "undone").collect()
    }

    /// Outcomes that hold and were not replaced, as `reading=outcome`.
    pub fn outcomes(&self, number: i64) -> Vec<String> {
        let job = self.job(number);
        let events = job["events"].as_array().unwrap().iter().filter(|e| e["holds"] == true);
        let results = events.filter_map(|e| e["event"]["body"]["results"].as_array().cloned()).flatten();
        results.map(|r| format!("{}={}", r["reading"].as_str().unwrap(), r["outcome"].as_str().unwrap())).collect()
    }
}

/// The text with every stretch of blanks and line ends as one blank, so that wrapping does not matter.
pub fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Says that one thing stands before another.
#[track_caller]
pub fn in_order(text: &str, pieces: &[&str]) {
    let mut from = 0;
    for piece in pieces {
        let at = text[from..].find(piece).unwrap_or_else(|| panic!("`{piece}` is not where it should be in:\n{text}"));
        from += at + piece.len();
    }
}
