//! Where the store of jobs is when nobody says so. Looks at no environment beyond the platform's data folder.

use std::path::{Path, PathBuf};

/// The store's file in a data folder.
const FILE: &str = "jobs.db";

/// The path that was given, or the file in the platform's data folder; none when the platform names no such folder.
#[must_use]
pub fn place(given: Option<&Path>) -> Option<PathBuf> {
    match given {
        Some(path) => Some(path.to_owned()),
        None => directories::ProjectDirs::from("", "", "faultodds").map(|d| d.data_dir().join(FILE)),
    }
}
