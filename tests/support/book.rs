//! Commands that stand in pages for people are run as a person would: line by line, in a folder of their own, by a shell.
//! Tests nothing.

use super::{Ran, copy_folder, finish, shipped_folder};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// A person's place: a home without any file of theirs, and a folder with the demo shop in which commands are typed.
pub struct Place {
    folder: tempfile::TempDir,
}

impl Place {
    pub fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let place = Self { folder };
        std::fs::create_dir_all(place.home()).unwrap();
        let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("data-demo");
        copy_folder(&demo, &place.work().join("data-demo"));
        place
    }

    /// The same, with the shipped base as a folder to work on.
    pub fn with_base() -> Self {
        let place = Self::new();
        copy_folder(shipped_folder(), &place.work().join("kb"));
        place
    }

    /// Another place with all that is in this one.
    pub fn copy(&self) -> Self {
        let folder = tempfile::tempdir().unwrap();
        copy_folder(self.folder.path(), folder.path());
        Self { folder }
    }

    pub fn home(&self) -> PathBuf {
        self.folder.path().join("home")
    }

    pub fn work(&self) -> PathBuf {
        self.folder.path().join("work")
    }

    /// Types the line into a shell; what goes to the two streams comes as one text, as on a terminal.
    pub fn sh(&self, line: &str) -> Ran {
        let own = Path::new(env!("CARGO_BIN_EXE_faultodds")).parent().unwrap();
        let path = format!("{}:{}", own.display(), std::env::var("PATH").unwrap_or_default());
        let mut shell = Command::new("sh");
        shell.args(["-c", &format!("exec 2>&1\n{line}")]).current_dir(self.work()).env_clear();
        shell.env("PATH", path).env("HOME", self.home()).env("NO_COLOR", "1").env("COLUMNS", "80");
        finish(shell.stdin(Stdio::null()))
    }
}

/// A command of a page and what stands under it.
struct Step {
    /// Its line in the page, from 1.
    line: usize,
    command: String,
    /// Lines of the page that show its output, from and to, from 0; nothing where none is shown.
    shown: Option<(usize, usize)>,
    /// Exit code that it must have, where one is stated: a line `? 1`.
    code: Option<i32>,
}

/// The commands of blocks marked `sh`, one a line, and of blocks marked `console`, each behind `$ ` with its output under it.
/// A block marked `yaml PATH` is written to that file.
fn steps(lines: &[&str]) -> Vec<Step> {
    let mut out: Vec<Step> = Vec::new();
    let mut block = "";
    let mut waiting = String::new();
    for (i, line) in lines.iter().enumerate() {
        if let Some(kind) = line.strip_prefix("```") {
            block = if block.is_empty() { kind } else { "" };
            if let Some(path) = block.strip_prefix("yaml ") {
                let text: Vec<&str> = lines[i + 1..].iter().take_while(|l| !l.starts_with("```")).copied().collect();
                let command = format!("cat > {path} <<'END'\n{}\nEND", text.join("\n"));
                out.push(Step { line: i + 1, command, shown: None, code: Some(0) });
            }
            continue;
        }
        let typed = match block {
            "sh" => Some(*line).filter(|l| !l.trim().is_empty()),
            "console" => line.strip_prefix("$ "),
            _ => None,
        };
        let at = i + 1;
        match (typed, block) {
            (Some(part), _) if part.ends_with('\\') => waiting += &format!("{part}\n"),
            (Some(part), _) => {
                let command = std::mem::take(&mut waiting) + part;
                out.push(Step { line: at, command, shown: (block == "console").then_some((at, at)), code: None });
            }
            (None, "console") => {
                let step = out.last_mut().expect("output stands under a command");
                match line.strip_prefix("? ") {
                    Some(code) if step.shown == Some((i, i)) => {
                        step.code = Some(code.trim().parse().unwrap());
                        step.shown = Some((at, at));
                    }
                    _ => step.shown = step.shown.map(|(from, _)| (from, at)),
                }
            }
            _ => {}
        }
    }
    out
}

/// Runs the page; answers what is not as it stands there. With `BOOK=overwrite` in the surroundings the page is put right.
pub fn run_page(path: &Path, place: &Place) -> Vec<String> {
    let text = std::fs::read_to_string(path).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let (mut wrong, mut put) = (Vec::new(), Vec::new());
    let steps = steps(&lines);
    assert!(steps.len() > 5, "{} shows next to no command", path.display());
    for step in steps {
        let ran = place.sh(&step.command);
        let told = format!("{}:{}: {}", path.display(), step.line, step.command);
        // Without a word of it 0 is meant, and where no output is shown 1 as well: the answer is no.
        let holds = step.code.map_or(ran.code == 0 || (ran.code == 1 && step.shown.is_none()), |c| c == ran.code);
        if !holds {
            wrong.push(format!("{told}\nexit code {}\n{}", ran.code, ran.out));
        }
        let Some((from, to)) = step.shown else { continue };
        let got: Vec<&str> = ran.out.lines().map(str::trim_end).collect();
        if !matches(&lines[from..to], &got) {
            wrong.push(format!("{told}\nprints now\n{}", ran.out));
            put.push((from, to, renewed(&lines[from..to], &got)));
        }
    }
    if std::env::var("BOOK").is_ok_and(|b| b == "overwrite") {
        let mut lines: Vec<String> = lines.into_iter().map(str::to_owned).collect();
        for (from, to, new) in put.into_iter().rev() {
            lines.splice(from..to, new);
        }
        std::fs::write(path, lines.join("\n") + "\n").unwrap();
    }
    wrong
}

/// Whether the lines are as shown; `...` alone stands for any lines.
fn matches(shown: &[&str], got: &[&str]) -> bool {
    let mut pieces = shown.split(|l| *l == "...");
    let first = pieces.next().unwrap_or_default();
    let Some(mut rest) = got.strip_prefix(first) else { return false };
    let mut pieces: Vec<&[&str]> = pieces.collect();
    let Some(last) = pieces.pop() else { return rest.is_empty() };
    for piece in pieces {
        let Some(at) = rest.windows(piece.len().max(1)).position(|w| w.starts_with(piece)) else { return false };
        rest = &rest[at + piece.len()..];
    }
    rest.ends_with(last)
}

/// What to show instead: as many lines at either end as were shown, and between two `...` the lines that begin most like
/// those that stood there.
fn renewed(shown: &[&str], got: &[&str]) -> Vec<String> {
    let pieces: Vec<&[&str]> = shown.split(|l| *l == "...").collect();
    let [first, between @ .., last] = pieces.as_slice() else { return got.iter().map(|l| (*l).to_owned()).collect() };
    let (head, tail) = (first.len().min(got.len()), got.len().saturating_sub(last.len()));
    let mut out = got[..head].to_vec();
    let mut at = head;
    for piece in between {
        out.push("...");
        for line in *piece {
            let alike = |i: &usize| line.chars().zip(got[*i].chars()).take_while(|(a, b)| a == b).count();
            // Of equals the first.
            let Some(best) = (at..tail.max(at)).rev().max_by_key(alike) else { continue };
            out.push(got[best]);
            at = best + 1;
        }
    }
    out.push("...");
    out.extend(&got[tail.max(at)..]);
    out.into_iter().map(str::to_owned).collect()
}
