//! Symptoms as said on a command line: by id or in words. Words that fit several are never guessed at.

use super::search::{failed, finder, index};
use super::{Io, Stop};
use crate::knowledge::base::Base;
use crate::screens::failure::Failure;
use crate::screens::text::{cut, hanging};
use crate::search::{Finder, Hit, Resolved};
use std::io::Write as _;

/// The ids of the symptoms said, none twice; words are told back on the error stream with what they were taken for.
///
/// # Errors
/// Words that fit no symptom, or several when nobody can be asked.
pub(super) fn symptoms_said(said: &[String], base: &Base, io: &mut Io) -> Result<Vec<String>, Stop> {
    let mut out: Vec<String> = Vec::new();
    let index = index(base, io)?;
    let mut ready: Option<Finder> = None;
    for words in said {
        let id = words.trim().to_lowercase().replace(' ', "-");
        let id = if base.symptom(&id).is_some() {
            id
        } else {
            let finder = match &ready {
                Some(finder) => finder,
                None => ready.insert(finder(&index)?),
            };
            let id = resolve(words, finder, io)?;
            let name = base.symptom(&id).map_or("", |s| &s.name);
            let mut note = String::new();
            hanging(
                &mut note,
                "note: ",
                "      ",
                &format!("\"{}\" is taken for {id}: {name}", cut(words.trim(), 60)),
                io.look.width,
            );
            io.err.write_all(note.as_bytes())?;
            id
        };
        if !out.contains(&id) {
            out.push(id);
        }
    }
    Ok(out)
}

fn resolve(words: &str, finder: &Finder, io: &mut Io) -> Result<String, Stop> {
    let shown = cut(words.trim(), 60);
    match finder.resolve_symptom(words).map_err(failed)? {
        Resolved::One(id) => Ok(id),
        Resolved::Several(hits) if io.interactive => ask(&shown, hits, io),
        Resolved::Several(hits) => {
            let mut failure = Failure::new(format!("\"{shown}\" may mean several symptoms; say which"));
            for hit in hits {
                failure = failure.hint(format!("--symptom {}: {}", hit.id, hit.name));
            }
            Err(failure.into())
        }
        Resolved::None { near } => {
            let mut failure = Failure::new(format!("no symptom answers \"{shown}\""));
            if !near.is_empty() {
                failure = failure.hint(format!("words that look alike: {}", near.join(", ")));
            }
            Err(failure.hint("see all symptoms with: faultodds kb list symptoms").into())
        }
    }
}

/// Asks which of them is meant, until a number of the list comes.
fn ask(shown: &str, hits: Vec<Hit>, io: &mut Io) -> Result<String, Stop> {
    let mut list = String::new();
    hanging(&mut list, "", "", &format!("\"{shown}\" may mean:"), io.look.width);
    for (i, hit) in hits.iter().enumerate() {
        hanging(&mut list, &format!("{:3}  ", i + 1), "     ", &hit.name, io.look.width);
    }
    io.err.write_all(list.as_bytes())?;
    loop {
        write!(io.err, "Which one? 1 to {}, or nothing to stop: ", hits.len())?;
        io.err.flush()?;
        let mut line = String::new();
        let end = io.input.read_line(&mut line)? == 0;
        let answer = line.trim();
        if end || answer.is_empty() {
            return Err(Failure::new(format!("\"{shown}\" was left open, so nothing was done")).into());
        }
        let chosen = answer.parse::<usize>().ok().and_then(|n| hits.get(n.checked_sub(1)?));
        if let Some(hit) = chosen {
            return Ok(hit.id.clone());
        }
    }
}
