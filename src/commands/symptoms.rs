//! Symptoms and faults as said on a command line: by id or in words. Words that fit several are never guessed at.

use super::search::{failed, finder, index};
use super::{Io, Stop};
use knowledge::base::Base;
use screens::failure::Failure;
use screens::text::{cut, hanging};
use search::{EntryKind, Finder, Hit, Resolved};
use std::io::Write as _;

/// The ids of the symptoms said, none twice; words are told back on the error stream with what they were taken for.
///
/// # Errors
/// Words that fit no symptom, or several when nobody can be asked.
pub(super) fn symptoms_said(said: &[String], base: &Base, io: &mut Io) -> Result<Vec<String>, Stop> {
    let index = index(base, io)?;
    let mut ready: Option<Finder> = None;
    let mut out: Vec<String> = Vec::new();
    for words in said {
        let id = words.trim().to_lowercase().replace(' ', "-");
        let id = if base.symptom(&id).is_some() { id } else { SYMPTOM.taken(words, base, &index, &mut ready, io)? };
        if !out.contains(&id) {
            out.push(id);
        }
    }
    Ok(out)
}

/// What was found with one's own eyes, each as `PART/MODE` or `PART`, with what was said of it behind `=`; words are told back
/// as for symptoms.
///
/// # Errors
/// Words that fit no suspect, or several when nobody can be asked.
pub(super) fn found_said(said: &[String], base: &Base, io: &mut Io) -> Result<Vec<String>, Stop> {
    let index = index(base, io)?;
    let mut ready: Option<Finder> = None;
    let mut out: Vec<String> = Vec::new();
    for one in said {
        let (words, how) = one.split_once('=').map_or((one.as_str(), None), |(words, how)| (words, Some(how)));
        let id = words.trim().to_lowercase();
        // What looks like an id is one, known or mistyped; that is told where it is read.
        if !id.contains(' ') || base.suspect(&id).is_some() {
            out.push(one.clone());
            continue;
        }
        let id = SUSPECT.taken(words, base, &index, &mut ready, io)?;
        out.push(how.map_or_else(|| id.clone(), |how| format!("{id}={how}")));
    }
    Ok(out)
}

/// A sort of entry that can be said in words.
struct Sayable {
    kind: EntryKind,
    option: &'static str,
    one: &'static str,
    several: &'static str,
    list: &'static str,
}

const SYMPTOM: Sayable = Sayable {
    kind: EntryKind::Symptom,
    option: "--symptom",
    one: "symptom",
    several: "symptoms",
    list: "see all symptoms with: faultodds kb list symptoms",
};

const SUSPECT: Sayable = Sayable {
    kind: EntryKind::Suspect,
    option: "--found",
    one: "fault",
    several: "faults",
    list: "see all faults with: faultodds kb list suspects",
};

impl Sayable {
    /// The id that the words stand for, told back.
    fn taken<'i>(
        &self,
        words: &str,
        base: &Base,
        index: &'i [u8],
        ready: &mut Option<Finder<'i>>,
        io: &mut Io,
    ) -> Result<String, Stop> {
        let finder = match ready {
            Some(finder) => finder,
            None => ready.insert(finder(index)?),
        };
        let id = self.resolve(words, finder, io)?;
        let name = match self.kind {
            EntryKind::Suspect => base.suspect_name(&id),
            _ => base.symptom(&id).map_or(String::new(), |s| s.name.clone()),
        };
        let text = format!("\"{}\" is taken for {id}: {name}", cut(words.trim(), 60));
        io.note(&text)?;
        Ok(id)
    }

    fn resolve(&self, words: &str, finder: &Finder, io: &mut Io) -> Result<String, Stop> {
        let shown = cut(words.trim(), 60);
        match finder.resolve(self.kind, words).map_err(failed)? {
            Resolved::One(id) => Ok(id),
            Resolved::Several(hits) if io.interactive => ask(&shown, hits, io),
            Resolved::Several(hits) => {
                let told = if hits.len() > 1 {
                    format!("\"{shown}\" may mean several {}; say which", self.several)
                } else {
                    format!("\"{shown}\" is not clearly a {} of the base; if it is this one, say so", self.one)
                };
                let mut failure = Failure::new(told);
                for hit in hits {
                    failure = failure.hint(format!("{} {}: {}", self.option, hit.id, hit.name));
                }
                Err(failure.into())
            }
            Resolved::None { near } => {
                let mut failure = Failure::new(format!("no {} answers \"{shown}\"", self.one));
                if !near.is_empty() {
                    failure = failure.hint(format!("words that look alike: {}", near.join(", ")));
                }
                Err(failure.hint(self.list).into())
            }
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
