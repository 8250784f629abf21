//! Which base a command works on: the shipped one, or a folder.

use super::{Io, Stop};
use cli::GroupArgs;
use jobs::Job;
use knowledge::files::{Files, Folder, InMemory};
use knowledge::near::{did_you_mean, near};
use knowledge::{Base, Checked, check};
use learning::job::groups_of;
use learning::overlay::{Overlay, OverlayError};
use screens::failure::Failure;
use screens::problems;
use screens::text::{hanging, harmless};
use std::borrow::Cow;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// A base that passed its check.
#[derive(Debug)]
pub struct Loaded {
    /// The base, with the numbers of the overlay. It lives as long as the program: to take its thousands of texts apart at
    /// the end costs as much as a tenth of a short answer, and nobody is the better for it.
    pub base: &'static Base,
    /// The overlay, for what it says of groups of cars.
    overlay: Option<Overlay>,
}

impl Loaded {
    /// Loads the shipped base, or checks and loads the one in the folder.
    ///
    /// # Errors
    /// A folder whose base has problems; they are told on the error stream.
    pub fn new(folder: Option<&Path>, io: &mut Io) -> Result<Self, Stop> {
        let base = Self::without_overlay(folder, io)?;
        let Some(path) = io.overlay.clone() else { return Ok(base) };
        let (base, overlay) = overlaid(base.base, &path)?;
        Ok(Self { base: kept(base), overlay: Some(overlay) })
    }

    /// The base for a car of this make, model and engine, with what the overlay learned of such cars.
    #[must_use]
    pub fn for_car(&self, car: &GroupArgs) -> Cow<'_, Base> {
        let groups = groups_of(car.make.as_deref(), car.model.as_deref(), car.engine.as_deref());
        match &self.overlay {
            Some(overlay) if !overlay.factors(&groups).is_empty() => Cow::Owned(overlay.for_car(self.base, &groups)),
            _ => Cow::Borrowed(self.base),
        }
    }

    /// The same for the car of a job.
    #[must_use]
    pub fn for_job(&self, job: &Job) -> Cow<'_, Base> {
        self.for_car(&of_job(job))
    }

    /// Says on the error stream what make, model and engine change, or that they change nothing.
    ///
    /// # Errors
    /// When the stream cannot be written.
    pub fn tell_groups(&self, car: &GroupArgs, io: &mut Io) -> std::io::Result<()> {
        let groups = groups_of(car.make.as_deref(), car.model.as_deref(), car.engine.as_deref());
        if let Some(o) = &self.overlay {
            let told = format!(
                "{} numbers come from {:.0} jobs of this shop (overlay of {}); which, says `kb show ID` with the same --overlay",
                o.rows.len(),
                o.jobs,
                o.made
            );
            self.tell(&told, io)?;
        }
        if groups.is_empty() {
            return Ok(());
        }
        let factors = self.overlay.as_ref().map(|o| o.factors(&groups));
        let text = match factors {
            None => "make, model and engine change nothing without an overlay, which `tune` makes".to_owned(),
            Some(f) if f.is_empty() => {
                let known: std::collections::BTreeSet<(&str, &str)> =
                    self.overlay.iter().flat_map(|o| &o.groups).map(|g| (g.by.as_str(), g.value.as_str())).collect();
                // A make is mistyped for a make: that a model's name begins with it says nothing of it.
                let close: Vec<&str> = groups
                    .iter()
                    .filter(|(by, value)| !known.iter().any(|(b, v)| b == by && *v == value.as_str()))
                    .flat_map(|(by, value)| near(value, known.iter().filter(|(b, _)| b == by).map(|(_, v)| *v), 1))
                    .collect();
                let hint = did_you_mean(&close).map_or(String::new(), |h| format!("; {h}"));
                format!(
                    "this shop's jobs do not tell such cars from others, so make, model and engine change nothing{hint}"
                )
            }
            Some(f) => {
                let jobs = f.iter().map(|g| g.jobs).fold(0.0, f64::max);
                let each: Vec<String> =
                    f.iter().map(|g| format!("{} {:.1} times as often", self.part_name(&g.of), g.times)).collect();
                format!(
                    "by {jobs:.0} jobs of this shop on the {} {}, compared with all its cars, there fails: {}",
                    f[0].by,
                    f[0].value,
                    each.join(", ")
                )
            }
        };
        self.tell(&text, io)
    }

    fn part_name(&self, id: &str) -> String {
        self.base.part(id).map_or_else(|| id.to_owned(), |p| format!("{} ({id})", p.name))
    }

    fn tell(&self, text: &str, io: &mut Io) -> std::io::Result<()> {
        let mut out = String::new();
        hanging(&mut out, "", "", &harmless(text), io.look.width);
        io.err.write_all(out.as_bytes())
    }

    /// The prior as shipped of a suspect whose prior the shop's jobs have moved.
    #[must_use]
    pub fn shipped_prior(&self, suspect: &str) -> Option<f64> {
        self.overlay.as_ref().and_then(|o| o.shipped_prior(suspect))
    }

    /// What the shop's jobs changed of an entry, one sentence each; nothing without an overlay.
    #[must_use]
    pub fn of_shop(&self, id: &str) -> Vec<String> {
        self.overlay.as_ref().map(|o| o.about(id)).unwrap_or_default()
    }

    /// The base as it is, whatever was learned.
    fn without_overlay(folder: Option<&Path>, io: &mut Io) -> Result<Self, Stop> {
        let Some(folder) = folder else {
            let base = shipped::base().map_err(|e| Failure::new(e.to_string()))?;
            return Ok(Self { base: kept(base), overlay: None });
        };
        let checked = check_folder(folder)?;
        if checked.problems.is_empty() {
            return Ok(Self { base: kept(checked.base), overlay: None });
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

fn kept(base: Base) -> &'static Base {
    Box::leak(Box::new(base))
}

/// Make, model and engine of a job's car.
pub(super) fn of_job(job: &Job) -> GroupArgs {
    GroupArgs { make: job.car.make.clone(), model: job.car.model.clone(), engine: job.car.engine.clone() }
}

/// The base with the overlay, and the overlay.
pub(super) fn overlaid(base: &Base, path: &Path) -> Result<(Base, Overlay), Failure> {
    const SHOWN: usize = 5;
    let place = path.display();
    let text = knowledge::bounded::read_text(path).map_err(|e| Failure::new(format!("{place}: {e}")))?;
    let overlay = Overlay::from_yaml(&text).map_err(|OverlayError::Troubles(t)| t);
    overlay.and_then(|o| Ok((o.apply(base)?, o))).map_err(|troubles| {
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
    if let Some(meant) = meant_folder(folder) {
        let failure = Failure::new(format!("{} is not the folder of a base", folder.display()));
        return Err(failure.hint(format!("did you mean {}?", meant.display())).into());
    }
    Ok(check(&Folder(folder)))
}

/// The base right below or above a folder that is none itself.
fn meant_folder(folder: &Path) -> Option<PathBuf> {
    if holds_families(folder) {
        return None;
    }
    let whole = folder.canonicalize().ok()?;
    let below = folders_in(folder).into_iter().find(|f| holds_families(f));
    below.or_else(|| whole.ancestors().skip(1).take(2).find(|f| holds_families(f)).map(Path::to_owned))
}

/// Whether a folder in it holds all the kinds of entry that a base needs, in any of its families.
fn holds_families(folder: &Path) -> bool {
    let families = folders_in(folder);
    ["codes", "monitors", "parts", "tests"].iter().all(|kind| families.iter().any(|f| f.join(kind).is_dir()))
}

/// The folders in a folder, sorted; of very many names the first thousand.
fn folders_in(folder: &Path) -> Vec<PathBuf> {
    const LOOKED_AT: usize = 1000;
    let Ok(listing) = std::fs::read_dir(folder) else { return Vec::new() };
    let paths = listing.take(LOOKED_AT).filter_map(Result::ok).map(|e| e.path());
    let mut folders: Vec<PathBuf> = paths.filter(|p| p.is_dir()).collect();
    folders.sort();
    folders
}

/// Checks the texts of the shipped base.
///
/// # Errors
/// When the program file is damaged.
pub fn check_shipped() -> Result<Checked, Stop> {
    let files: InMemory = shipped::files().map_err(|e| Failure::new(e.to_string()))?;
    Ok(check(&files as &dyn Files))
}
