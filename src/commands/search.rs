//! `search`: entries of the base in the words people use.

use super::{Ending, Io, Loaded, Stop, search_past};
use cli::SearchArgs;
use inference::InferenceError;
use knowledge::base::{Base, Vehicle};
use knowledge::near::{did_you_mean, near};
use network::build::build;
use ranking::{Related, Relations};
use screens::failure::{self, Failure};
use screens::search::SearchScreen;
use search::{EntryKind, Finder, Found, SearchError, Settings, pack};
use std::borrow::Cow;
use std::path::Path;

/// Suspects and codes told for a symptom.
const RELATED: usize = 3;

pub(super) fn run(args: &SearchArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    if search_past::is_asked(&args.kinds)? {
        return search_past::run(args, kb, io);
    }
    let kinds = kinds_said(&args.kinds)?;
    let words = args.words.join(" ");
    // The index of the shipped base is all that most answers need; the base is loaded for what symptoms speak for.
    let mut loaded = if io.own_base { Some(Loaded::new(kb, io)?) } else { None };
    let index = match &loaded {
        Some(loaded) => index(&loaded.base, io)?,
        None => Cow::Borrowed(shipped::index()),
    };
    let found = finder(&index)?.search(&words, &kinds, args.top.max(1)).map_err(failed)?;
    if loaded.is_none() && found.hits.iter().any(|h| h.kind == EntryKind::Symptom) {
        loaded = Some(Loaded::new(kb, io)?);
    }
    let base = loaded.as_ref().map(|l| &l.base);
    let related = match base {
        Some(base) => related(base, &found)?,
        None => vec![None; found.hits.len()],
    };
    let screen = SearchScreen { base, words: &words, found: &found, related: &related };
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

/// What each symptom among the hits speaks for, on a car of which nothing else is known.
fn related(base: &Base, found: &Found) -> Result<Vec<Option<Related>>, Failure> {
    let is_symptom = |kind: EntryKind| kind == EntryKind::Symptom;
    if !found.hits.iter().any(|h| is_symptom(h.kind)) {
        return Ok(vec![None; found.hits.len()]);
    }
    let network = build(base, &Vehicle::default());
    let ask = || -> Result<Vec<Option<Related>>, InferenceError> {
        let mut relations = Relations::new(&network)?;
        found.hits.iter().map(|h| is_symptom(h.kind).then(|| relations.of(&h.id, RELATED)).transpose()).collect()
    };
    ask().map_err(|e| failure::inference(&e, &network))
}
