//! `search --in past`: the words of the shop's own jobs, and the causes it wrote of past ones.

use super::learn_input::past_store;
use super::{Ending, Io, Loaded, Stop};
use cli::SearchArgs;
use jobs::{Access, Store, StoreError, place};
use learning::own_words::{OwnText, find};
use screens::failure::Failure;
use screens::search_past::OwnScreen;
use std::path::Path;

/// Whether the shop's own words are asked for.
///
/// # Errors
/// They are asked for together with entries of the base.
pub(super) fn is_asked(kinds: &[String]) -> Result<bool, Failure> {
    let asked = kinds.iter().any(|k| k.trim().eq_ignore_ascii_case("past"));
    if asked && kinds.len() > 1 {
        return Err(Failure::new("--in past searches the shop's own words, which are no entries of the base")
            .hint("search them alone: --in past"));
    }
    Ok(asked)
}

pub(super) fn run(args: &SearchArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let loaded = Loaded::new(kb, io)?;
    let base = &loaded.base;
    let words = args.words.join(" ");
    let mut texts: Vec<OwnText> = Vec::new();
    if let Some(path) = place(args.store.db.as_deref()) {
        match Store::open(&path, Access::Read) {
            Ok(store) => texts.extend(store.said()?.into_iter().map(|said| OwnText::of_job(said, base))),
            Err(StoreError::Missing { .. }) => {}
            Err(error) => return Err(error.into()),
        }
    }
    if let Some(store) = past_store(&args.past)? {
        texts.extend(store.written()?.into_iter().map(OwnText::of_past));
    }
    let (hits, more) = find(&texts, &words, base, args.top.max(1)).map_err(|e| Failure::new(e.to_string()))?;
    let screen = OwnScreen { words: &words, hits: &hits, more, any: !texts.is_empty() };
    if args.json {
        io.show_json(&screen.json())?;
    } else {
        io.show(&screen.text(io.look))?;
    }
    Ok(if hits.is_empty() { Ending::No } else { Ending::Done })
}
