//! Which base a command works on: the shipped one, or a folder.

use super::{Io, Stop};
use crate::knowledge::files::{Files, Folder, InMemory};
use crate::knowledge::{Base, Checked, check};
use crate::learning::overlay::{Overlay, OverlayError};
use crate::screens::failure::Failure;
use crate::screens::problems;
use crate::shipped;
use std::io::Write as _;
use std::path::Path;

/// A base that passed its check.
#[derive(Debug)]
pub struct Loaded {
    /// The base.
    pub base: Base,
}

impl Loaded {
    /// Loads the shipped base, or checks and loads the one in the folder.
    ///
    /// # Errors
    /// A folder whose base has problems; they are told on the error stream.
    pub fn new(folder: Option<&Path>, io: &mut Io) -> Result<Self, Stop> {
        let base = Self::without_overlay(folder, io)?;
        let Some(path) = io.overlay.clone() else { return Ok(base) };
        Ok(Self { base: overlaid(&base.base, &path)? })
    }

    /// The base as it is, whatever was learned.
    fn without_overlay(folder: Option<&Path>, io: &mut Io) -> Result<Self, Stop> {
        let Some(folder) = folder else {
            let base = shipped::base().map_err(|e| Failure::new(e.to_string()))?;
            return Ok(Self { base });
        };
        let checked = check_folder(folder)?;
        if checked.problems.is_empty() {
            return Ok(Self { base: checked.base });
        }
        const SHOWN: usize = 5;
        let shown = &checked.problems[..checked.problems.len().min(SHOWN)];
        let report = problems::report(shown, &checked.files, &folder.display().to_string(), io.look.width);
        io.err.write_all(report.as_bytes())?;
        let told = problems::count(checked.problems.len());
        let failure = Failure::new(format!("the base in {} has {told}", folder.display()));
        Err(failure.hint(format!("see them all with: faultodds kb check --kb {}", folder.display())).into())
    }
}

/// The base with the overlay.
fn overlaid(base: &Base, path: &Path) -> Result<Base, Failure> {
    const SHOWN: usize = 5;
    let place = path.display();
    let text = std::fs::read_to_string(path).map_err(|e| Failure::new(format!("{place}: {e}")))?;
    let overlay = Overlay::from_yaml(&text).map_err(|OverlayError::Troubles(t)| t);
    overlay.and_then(|o| o.apply(base)).map_err(|troubles| {
        let failure =
            Failure::new(format!("the overlay {place} cannot be laid over this base: {} problems", troubles.len()));
        let shown = troubles.iter().take(SHOWN).map(|t| format!("{place}:{}:{}: {}", t.line, t.column, t.message));
        shown.fold(failure, Failure::hint).hint("make it anew with: faultodds tune")
    })
}

/// Checks the base in a folder.
///
/// # Errors
/// When there is no such folder.
pub fn check_folder(folder: &Path) -> Result<Checked, Stop> {
    if !folder.is_dir() {
        let failure = Failure::new(format!("{} is not a folder", folder.display()));
        return Err(failure.hint("--kb takes the folder that holds the families, such as `kb`").into());
    }
    Ok(check(&Folder(folder)))
}

/// Checks the texts of the shipped base.
///
/// # Errors
/// When the program file is damaged.
pub fn check_shipped() -> Result<Checked, Stop> {
    let files: InMemory = shipped::files().map_err(|e| Failure::new(e.to_string()))?;
    Ok(check(&files as &dyn Files))
}
