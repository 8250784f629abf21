//! `search`: entries of the base in the words people use.

use super::{Ending, Io, Loaded, Stop, search_past};
use cli::SearchArgs;
use knowledge::base::{Base, Vehicle};
use knowledge::near::{did_you_mean, near};
use network::build::build;
use screens::failure::{self, Failure};
use screens::search::SearchScreen;
use search::{EntryKind, Finder, Found, SearchError, Settings, pack};
use shipped::Speaks;
use std::borrow::Cow;
use std::path::Path;

pub(super) fn run(args: &SearchArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    if search_past::is_asked(&args.kinds)? {
        return search_past::run(args, kb, io);
    }
    let kinds = kinds_said(&args.kinds)?;
    let words = args.words.join(" ");
    // The shipped base itself is not loaded: its index and what symptoms speak for lie ready.
    let own = if io.own_base || io.overlay.is_some() { Some(Loaded::new(kb, io)?) } else { None };
    let index = match &own {
        Some(loaded) => index(loaded.base, io)?,
        None => Cow::Borrowed(shipped::index()),
    };
    let found = finder(&index)?.search(&words, &kinds, args.top.max(1)).map_err(failed)?;
    let has_symptom = found.hits.iter().any(|h| h.kind == EntryKind::Symptom);
    let (related, names) = match &own {
        _ if !has_symptom => Speaks::default(),
        Some(loaded) => speaks(loaded.base, &found)?,
        None => shipped::speaks().map_err(|e| Failure::new(e.to_string()))?,
    };
    let screen = SearchScreen { words: &words, found: &found, related: &related, names: &names };
    if args.json {
        io.show_json(&screen.json())?;
    } else {
        io.show(&screen.text(io.look))?;
    }
    Ok(if found.hits.is_empty() { Ending::No } else { Ending::Done })
}

/// The search index of the base: the one in the program, or one made now where the base is the user's own. An overlay changes
/// numbers and no words.
pub(super) fn index(base: &Base, io: &Io) -> Result<Cow<'static, [u8]>, Failure> {
    if io.own_base { pack(base).map(Cow::Owned).map_err(failed) } else { Ok(Cow::Borrowed(shipped::index())) }
}

/// An index made ready to be searched.
pub(super) fn finder(index: &[u8]) -> Result<Finder<'_>, Failure> {
    Finder::new(index, Settings::default()).map_err(failed)
}

pub(super) fn failed(error: SearchError) -> Failure {
    Failure::new(error.to_string())
}

fn kinds_said(said: &[String]) -> Result<Vec<EntryKind>, Failure> {
    let mut out = Vec::new();
    for word in said {
        let Some(kind) = EntryKind::said(word) else {
            let all: Vec<String> =
                EntryKind::ALL.iter().map(|k| format!("{}s", k.word())).chain(["past".to_owned()]).collect();
            let failure = Failure::new(format!("--in {word}: there is nothing of that name to search in"));
            let close = near(word, all.iter().map(String::as_str), 1);
            return Err(
                failure.hint(did_you_mean(&close).unwrap_or_else(|| format!("it is one of {}", all.join(", "))))
            );
        };
        out.push(kind);
    }
    Ok(out)
}

/// What each symptom among the hits speaks for, on a car of which nothing else is known, and the names of what it speaks for.
fn speaks(base: &Base, found: &Found) -> Result<Speaks, Failure> {
    let symptoms = found.hits.iter().filter(|h| h.kind == EntryKind::Symptom).map(|h| h.id.as_str());
    let network = build(base, &Vehicle::default());
    shipped::speaks_of(base, &network, symptoms).map_err(|e| failure::inference(&e, &network))
}
