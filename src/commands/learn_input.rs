//! What `past`, `tune` and `score` have in common: the stores, the jobs, the matcher of causes.

use super::search::finder;
use super::{Io, Stop};
use cli::shared::{PastStoreArgs, StoreArgs};
use indicatif::{ProgressBar, ProgressStyle};
use jobs::store::Filter;
use jobs::{Access, Store as JobStore, StoreError, place};
use knowledge::Base;
use learning::job::ClosedJob;
use learning::past::words::Named;
use learning::past::{CauseMatcher, PastError, Store, WordMatcher};
use learning::recorded;
use screens::failure::Failure;
use screens::text::harmless;
use search::{EntryKind, Finder};
use std::path::{Path, PathBuf};

impl From<PastError> for Stop {
    fn from(error: PastError) -> Self {
        if let PastError::Written { told } = &error {
            let mut told = told.iter();
            let first = told.next().cloned().unwrap_or_default();
            return told.fold(Failure::new(first), |f, t| f.hint(t.clone())).into();
        }
        let failure = Failure::new(error.to_string());
        match error {
            PastError::Columns { .. } => failure.hint("draft the mapping again with: faultodds past map FILE").into(),
            PastError::Row { .. } => failure.hint("nothing was kept").into(),
            _ => failure.into(),
        }
    }
}

/// Where past jobs are kept.
pub(super) fn past_place(args: &PastStoreArgs) -> Result<PathBuf, Failure> {
    beside(args.past.as_deref(), "past.db").ok_or_else(|| {
        Failure::new("this system names no folder for data").hint("say where past jobs are kept with --past FILE")
    })
}

/// The path given, or that file in the data folder.
pub(super) fn beside(given: Option<&Path>, name: &str) -> Option<PathBuf> {
    match given {
        Some(path) => Some(path.to_owned()),
        None => place(None).map(|jobs| jobs.with_file_name(name)),
    }
}

/// The store of past jobs for reading; none when nothing was ever brought in.
pub(super) fn past_store(args: &PastStoreArgs) -> Result<Option<Store>, Stop> {
    Ok(Store::open_to_read(&past_place(args)?)?)
}

/// Parts of a damaged store that are named one by one.
const MOST_NAMED: usize = 3;

/// The store of past jobs for counting, and whether it is what was stored; what is not is told on the error stream.
pub(super) fn past_counted(args: &PastStoreArgs, io: &mut Io) -> Result<Option<(Store, bool)>, Stop> {
    let Some(store) = past_store(args)? else { return Ok(None) };
    let broken = store.broken()?;
    for trouble in broken.iter().take(MOST_NAMED) {
        io.note(&harmless(&trouble.to_string()))?;
    }
    if broken.len() > MOST_NAMED {
        io.note(&format!("and {} more: faultodds past check", broken.len() - MOST_NAMED))?;
    }
    Ok(Some((store, broken.is_empty())))
}

/// Hands on every closed job recorded with `job`; a store that was never made holds none.
pub(super) fn each_recorded(args: &StoreArgs, base: &Base, take: &mut dyn FnMut(&ClosedJob)) -> Result<usize, Stop> {
    let Some(path) = place(args.db.as_deref()) else { return Ok(0) };
    let store = match JobStore::open(&path, Access::Read) {
        Ok(store) => store,
        Err(StoreError::Missing { .. }) => return Ok(0),
        Err(error) => return Err(error.into()),
    };
    let filter = Filter { open: Some(false), ..Filter::default() };
    let (mut n, page) = (0, store.list(&filter, 10_000_000)?);
    for row in page.rows.iter().rev() {
        if let Some(job) = recorded::closed(&store.job(row.number)?, base) {
            take(&job);
            n += 1;
        }
    }
    Ok(n)
}

/// A bar on the error stream for a replay, which hides itself where that is no terminal, and what moves it.
pub(super) fn replaying() -> (ProgressBar, impl Fn(f64) + Sync) {
    let bar = ProgressBar::new(100);
    if let Ok(style) = ProgressStyle::with_template("replaying [{bar:30}] {percent} % {eta} left") {
        bar.set_style(style);
    }
    let moved = bar.clone();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "per cent of a share")]
    let progress = move |share: f64| moved.set_position((100.0 * share) as u64);
    (bar, progress)
}

/// Finds suspects by words: by their names first, by the search where that leaves a doubt.
pub(super) struct Matcher<'b> {
    words: WordMatcher,
    finder: Finder<'b>,
}

impl<'b> Matcher<'b> {
    /// Of this base and its search index.
    pub fn new(base: &Base, index: &'b [u8]) -> Result<Self, Failure> {
        Ok(Self { words: WordMatcher::new(base), finder: finder(index)? })
    }
}

impl CauseMatcher for Matcher<'_> {
    /// The overlap of words; where it leaves a doubt and the search agrees on the first, half way up to the search's
    /// score, which knows more words.
    fn suspects(&self, words: &str) -> Vec<(String, f64)> {
        let mut out = self.words.suspects(words);
        if out.first().is_some_and(|f| f.1 > 0.75) {
            return out;
        }
        // A search that cannot be made is no reason to refuse a row: the words alone then decide.
        let Ok(found) = self.finder.search(words, &[EntryKind::Suspect], 8) else { return out };
        // Words that name no part ("evap leak") are vague, whatever the search makes of them.
        let names_a_part = self.words.part(words).is_some();
        let best = found.hits.first().map_or(1.0, |h| h.score.max(1.0));
        for hit in found.hits {
            let score = found.understood * (hit.score / best).min(1.0) * hit.score.min(1.0);
            match out.iter_mut().find(|(id, _)| *id == hit.id) {
                // Where the names share little with the words, the search may propose but not settle.
                Some((_, s)) if score > *s => {
                    let most = if *s < 0.45 || !names_a_part { 0.6 } else { 1.0 };
                    *s = (0.5 * (*s + score)).min(most).max(*s);
                }
                Some(_) => {}
                None => out.push((hit.id, 0.5 * score)),
            }
        }
        out.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        out
    }

    fn names_the_way(&self, words: &str, suspect: &str) -> bool {
        self.words.names_the_way(words, suspect)
    }

    fn part(&self, words: &str) -> Option<Named> {
        self.words.part(words)
    }

    fn modes(&self, part: &str) -> Vec<String> {
        self.words.modes(part)
    }
}
