//! Where the files of a base come from: the program itself or a folder. Reads text; does not know what it means.

use super::bounded::read_bytes;
use super::problem::{Problem, ProblemCode};
use super::yaml::{LARGEST_FILE, Place};
use std::path::Path;

/// One file of a base.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KbFile {
    /// Path relative to the base's folder, with `/` between the parts.
    pub path: String,
    /// Its text.
    pub text: String,
}

/// A place that files of a base come from.
pub trait Files {
    /// All files, sorted by path, and what could not be read.
    fn read(&self) -> (Vec<KbFile>, Vec<Problem>);
}

/// A folder on disk.
#[derive(Clone, Copy, Debug)]
pub struct Folder<'a>(pub &'a Path);

impl Files for Folder<'_> {
    fn read(&self) -> (Vec<KbFile>, Vec<Problem>) {
        let mut files = Vec::new();
        let mut problems = Vec::new();
        let mut left = Left::default();
        walk(self.0, "", 0, &mut left, &mut files, &mut problems);
        if left.names == 0 || left.bytes == 0 {
            // Whatever else such a folder holds would only hide what is wrong with it.
            files.clear();
            problems.clear();
            problems.push(Problem {
                code: ProblemCode::TooLarge,
                file: self.0.display().to_string(),
                place: Place::default(),
                length: 1,
                message: format!("more than {MOST_NAMES} files and folders, or more than {MOST_BYTES} bytes of entries: this is no base"),
                hint: Some("name the folder that holds the families of the base, each with its codes, parts and tests".to_owned()),
            });
        }
        files.sort_by(|a, b| a.path.cmp(&b.path));
        (files, problems)
    }
}

/// Files held in memory, for tests and for the shipped base.
#[derive(Clone, Debug, Default)]
pub struct InMemory(pub Vec<KbFile>);

impl Files for InMemory {
    fn read(&self) -> (Vec<KbFile>, Vec<Problem>) {
        let mut files = self.0.clone();
        files.sort_by(|a, b| a.path.cmp(&b.path));
        (files, Vec::new())
    }
}

/// Deepest folder that is looked into; entries stand at depth 2.
const DEEPEST: usize = 6;

/// The most names that are looked at in all folders together; the shipped base has some twelve hundred.
const MOST_NAMES: usize = 20_000;

/// The most text that is read in all.
const MOST_BYTES: usize = 64 << 20;

/// What may still be looked at and read, so that a folder that is no base is given up soon.
struct Left {
    names: usize,
    bytes: usize,
}

impl Default for Left {
    fn default() -> Self {
        Self { names: MOST_NAMES, bytes: MOST_BYTES }
    }
}

fn walk(
    folder: &Path,
    relative: &str,
    depth: usize,
    left: &mut Left,
    files: &mut Vec<KbFile>,
    problems: &mut Vec<Problem>,
) {
    let mut tell = |code, path: &str, message: String, hint: Option<&str>| {
        problems.push(Problem {
            code,
            file: path.to_owned(),
            place: Place::default(),
            length: 1,
            message,
            hint: hint.map(str::to_owned),
        });
    };
    let listing = match std::fs::read_dir(folder) {
        Ok(listing) => listing,
        Err(error) => {
            tell(ProblemCode::Unreadable, &folder.display().to_string(), format!("cannot be read: {error}"), None);
            return;
        }
    };
    let mut names: Vec<_> = listing.take(left.names).filter_map(Result::ok).map(|e| e.file_name()).collect();
    names.sort();
    left.names -= names.len();
    if left.names == 0 {
        return;
    }
    let mut folders = Vec::new();
    for name in names {
        let Some(name) = name.to_str().map(str::to_owned) else {
            tell(ProblemCode::BadId, &name.to_string_lossy(), "the file's name is not UTF-8".to_owned(), None);
            continue;
        };
        if name.starts_with('.') {
            continue;
        }
        let path = folder.join(&name);
        let shown = if relative.is_empty() { name.clone() } else { format!("{relative}/{name}") };
        let Ok(about) = std::fs::metadata(&path) else {
            tell(ProblemCode::Unreadable, &shown, "cannot be read: a dangling link?".to_owned(), None);
            continue;
        };
        if about.is_dir() {
            folders.push((path, shown));
            continue;
        }
        if !has_extension(&name, "yaml") {
            // A note beside the entries is nobody's business; a slip in the ending is.
            if has_extension(&name, "yml") {
                let hint = "rename it so that it ends in .yaml";
                tell(ProblemCode::Misplaced, &shown, "entries end in .yaml".to_owned(), Some(hint));
            }
            continue;
        }
        let size = usize::try_from(about.len()).unwrap_or(usize::MAX);
        if size > LARGEST_FILE {
            let message = format!("{size} bytes, and an entry may have at most {LARGEST_FILE}; it was not read");
            tell(ProblemCode::TooLarge, &shown, message, Some("split it, or move it out of the base"));
            continue;
        }
        left.bytes = left.bytes.saturating_sub(size);
        if left.bytes == 0 {
            return;
        }
        match read_bytes(&path, LARGEST_FILE as u64) {
            Ok(bytes) => match String::from_utf8(bytes) {
                Ok(text) => files.push(KbFile { path: shown, text }),
                Err(error) => {
                    let good = error.utf8_error().valid_up_to();
                    let before = &error.as_bytes()[..good];
                    let line = 1 + before.iter().filter(|b| **b == b'\n').count();
                    let message = format!("line {line} holds bytes that are not UTF-8");
                    tell(ProblemCode::NotUtf8, &shown, message, Some("save the file as UTF-8"));
                }
            },
            Err(error) => tell(ProblemCode::Unreadable, &shown, format!("cannot be read: {error}"), None),
        }
    }
    for (path, shown) in folders {
        if depth < DEEPEST && left.names > 0 && left.bytes > 0 {
            walk(&path, &shown, depth + 1, left, files, problems);
        }
    }
}

fn has_extension(name: &str, extension: &str) -> bool {
    Path::new(name).extension().is_some_and(|e| e.eq_ignore_ascii_case(extension))
}
