//! From a base to its index: every wording read into stems once, written down so that nothing has to be read again.

use super::entry::{Entry, EntryKind, entries};
use super::error::SearchError;
use super::lexicon::{Lexicon, StemId, Word};
use super::packed::{COMMON_AT, Head, Numbers, Packed, Strings};
use super::recall::Builder;
use knowledge::base::{Base, Repair};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// The index of a base, as bytes that `Packed::read` reads.
///
/// # Errors
/// The index cannot be built.
pub fn pack(base: &Base) -> Result<Vec<u8>, SearchError> {
    let entries = entries(base);
    let mut lexicon = Lexicon::default();
    let read: Vec<Vec<Vec<Word>>> =
        entries.iter().map(|e| e.wordings.iter().map(|w| lexicon.learn(&w.text)).collect()).collect();
    for wordings in &read {
        lexicon.count_entry(wordings.iter().flatten().map(|w| w.stem).collect::<BTreeSet<_>>());
    }
    let groups = groups(&base.synonyms, &mut lexicon);
    let places = lexicon.places();
    let place = |stem: StemId| places.get(stem as usize).copied().unwrap_or_default();

    let (mut entry_ends, mut word_ends, mut words) = (Vec::new(), Vec::new(), Vec::new());
    let (mut texts, mut roles) = (Vec::new(), Vec::new());
    let mut builder = Builder::new()?;
    for (entry, rows) in entries.iter().zip(&read) {
        for (wording, row) in entry.wordings.iter().zip(rows) {
            texts.push(wording.text.as_ref());
            roles.push(wording.role.number());
            words.extend(row.iter().flat_map(|w| [place(w.stem), w.from, w.to]));
            word_ends.push(number(words.len() / 3));
        }
        entry_ends.push(number(texts.len()));
        let (title, body) = stems_once(entry, rows);
        builder.add(entry.kind, &title, &body, &lexicon)?;
    }
    let files = builder.finish()?;

    let known = lexicon.known();
    let stems = lexicon.sorted();
    let mut starts: Vec<[u32; 3]> = Vec::new();
    let (mut group_ends, mut phrase_ends, mut phrase_stems) = (Vec::new(), Vec::new(), Vec::new());
    for (g, group) in groups.iter().enumerate() {
        for phrase in group {
            starts.push([place(phrase[0]), number(g), number(phrase_ends.len())]);
            phrase_stems.extend(phrase.iter().map(|s| place(*s)));
            phrase_ends.push(number(phrase_stems.len()));
        }
        group_ends.push(number(phrase_ends.len()));
    }
    starts.sort_unstable();

    let (bears_ends, bears) = bears(base, &entries);
    let bytes = |numbers: &[u32]| numbers.iter().flat_map(|n| n.to_le_bytes()).collect::<Vec<u8>>();
    let (entry_ends, word_ends, words) = (bytes(&entry_ends), bytes(&word_ends), bytes(&words));
    let (group_ends, phrase_ends, phrase_stems) = (bytes(&group_ends), bytes(&phrase_ends), bytes(&phrase_stems));
    let starts = bytes(starts.as_flattened());
    let (bears_ends, bears, common) = (bytes(&bears_ends), bytes(&bears), bytes(&common(base, &entries)));
    let known_stems = bytes(&known.iter().map(|(_, s)| place(*s)).collect::<Vec<_>>());
    let entries_with = bytes(&stems.iter().map(|s| lexicon.entries_with(*s)).collect::<Vec<_>>());
    let (texts, texts_ends) = end_to_end(texts.iter().copied());
    let (known, known_ends) = end_to_end(known.iter().map(|(w, _)| *w));
    let (stems, stems_ends) = end_to_end(stems.iter().map(|s| lexicon.text(*s)));
    let packed = Packed {
        entries: entries.iter().map(|e| Head { kind: e.kind, id: e.id }).collect(),
        entry_ends: Numbers::new(&entry_ends),
        wordings: Strings { text: &texts, ends: Numbers::new(&texts_ends) },
        roles: &roles,
        word_ends: Numbers::new(&word_ends),
        words: Numbers::new(&words),
        bears_ends: Numbers::new(&bears_ends),
        bears: Numbers::new(&bears),
        common: Numbers::new(&common),
        known: Strings { text: &known, ends: Numbers::new(&known_ends) },
        known_stems: Numbers::new(&known_stems),
        stems: Strings { text: &stems, ends: Numbers::new(&stems_ends) },
        entries_with: Numbers::new(&entries_with),
        group_ends: Numbers::new(&group_ends),
        phrase_ends: Numbers::new(&phrase_ends),
        phrase_stems: Numbers::new(&phrase_stems),
        starts: Numbers::new(&starts),
        files: files.iter().map(|(name, bytes)| (name.as_str(), bytes.as_slice())).collect(),
    };
    Ok(postcard::to_allocvec(&packed)?)
}

/// What each test finds and each repair removes, as rows of the suspect's number and how much it is borne on; and where the
/// rows of each entry end. What finds many things is less about each of them.
fn bears(base: &Base, entries: &[Entry]) -> (Vec<u32>, Vec<u32>) {
    /// A test that finds a suspect less often than this is not about it.
    const FINDS: f64 = 0.4;
    /// Several repairs may remove one suspect, and the words say which of them is meant.
    const REMOVES: f64 = 0.6;
    let place: HashMap<&str, usize> =
        entries.iter().enumerate().filter(|(_, e)| e.kind == EntryKind::Suspect).map(|(i, e)| (e.id, i)).collect();
    let repairs: HashMap<&str, &Repair> =
        base.parts.iter().flat_map(|p| &p.repairs).map(|r| (r.id.as_str(), r)).collect();
    let (mut ends, mut rows) = (Vec::new(), Vec::new());
    for entry in entries {
        let mut of: BTreeMap<usize, f64> = BTreeMap::new();
        match entry.kind {
            EntryKind::Test => {
                for link in base.test(entry.id).into_iter().flat_map(|t| &t.readings).flat_map(|r| &r.detects) {
                    let p: f64 = link.p.iter().map(|p| p.get()).sum();
                    if let Some(&at) = place.get(link.suspect.as_str()).filter(|_| p >= FINDS) {
                        let most = of.entry(at).or_default();
                        *most = most.max(p);
                    }
                }
            }
            EntryKind::Repair => {
                let removed = repairs.get(entry.id).into_iter().flat_map(|r| &r.removes);
                of.extend(removed.filter_map(|s| place.get(s.as_str())).map(|&at| (at, REMOVES)));
            }
            _ => {}
        }
        #[expect(clippy::cast_precision_loss, reason = "suspects of a test")]
        let spread = (of.len() as f64).powf(0.25).max(1.0);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "up to a thousand")]
        rows.extend(of.iter().flat_map(|(at, p)| [number(*at), (1000.0 * p / spread).round() as u32]));
        ends.push(number(rows.len() / 2));
    }
    (ends, rows)
}

/// How common each suspect, what each repair removes, and each code is, against the middle one of its sort; other sorts are all
/// as common as each other.
fn common(base: &Base, entries: &[Entry]) -> Vec<u32> {
    let prior: HashMap<&str, f64> = base.suspects().map(|(_, s)| (s.id.as_str(), s.prior.get())).collect();
    let of = |suspect: &str| prior.get(suspect).copied().unwrap_or_default();
    let repairs: HashMap<&str, &Repair> = base.repairs().map(|(_, r)| (r.id.as_str(), r)).collect();
    let rates: Vec<Option<f64>> = entries
        .iter()
        .map(|e| match e.kind {
            EntryKind::Suspect => Some(of(e.id)),
            EntryKind::Repair => repairs.get(e.id).map(|r| r.removes.iter().map(|s| of(s)).sum()),
            EntryKind::Code => base.code(e.id).map(|c| {
                c.leak.get()
                    + c.sets.iter().map(|l| of(&l.suspect) * l.p.iter().map(|p| p.get()).sum::<f64>()).sum::<f64>()
            }),
            _ => None,
        })
        .collect();
    let middle = |kind: EntryKind| {
        let mut own: Vec<f64> =
            entries.iter().zip(&rates).filter(|(e, _)| e.kind == kind).filter_map(|(_, r)| *r).collect();
        own.sort_by(f64::total_cmp);
        own.get(own.len() / 2).copied().unwrap_or(1.0)
    };
    let middles: HashMap<EntryKind, f64> =
        [EntryKind::Suspect, EntryKind::Repair, EntryKind::Code].into_iter().map(|k| (k, middle(k))).collect();
    let written = |(entry, rate): (&Entry, &Option<f64>)| {
        let ratio = rate.zip(middles.get(&entry.kind)).map_or(1.0, |(r, m)| (r / m).clamp(1e-6, 1e6));
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to within the offset")]
        let at = (f64::from(COMMON_AT) + 1000.0 * ratio.ln()).round() as u32;
        at
    };
    entries.iter().zip(&rates).map(written).collect()
}

/// The groups as rows of stems; their words are learned, so that typing one of them wrong is noticed too.
fn groups(groups: &[Vec<String>], lexicon: &mut Lexicon) -> Vec<Vec<Vec<StemId>>> {
    let mut out = Vec::new();
    for group in groups {
        let mut phrases: Vec<Vec<StemId>> = Vec::new();
        for phrase in group {
            let stems: Vec<StemId> = lexicon.learn(phrase).iter().map(|w| w.stem).collect();
            if !stems.is_empty() && !phrases.contains(&stems) {
                phrases.push(stems);
            }
        }
        out.push(phrases);
    }
    out
}

/// The stems of the names of an entry, and of what is told of it, each once.
fn stems_once(entry: &Entry, rows: &[Vec<Word>]) -> (Vec<StemId>, Vec<StemId>) {
    let (mut title, mut body) = (BTreeSet::new(), BTreeSet::new());
    for (wording, row) in entry.wordings.iter().zip(rows) {
        let stems = row.iter().map(|w| w.stem);
        if wording.role.names() { title.extend(stems) } else { body.extend(stems) }
    }
    (title.into_iter().collect(), body.into_iter().collect())
}

fn end_to_end<'t>(texts: impl Iterator<Item = &'t str>) -> (String, Vec<u8>) {
    let (mut all, mut ends) = (String::new(), Vec::new());
    for text in texts {
        all.push_str(text);
        ends.extend(number(all.len()).to_le_bytes());
    }
    (all, ends)
}

/// A length as the index writes it. A base is read only up to limits far below four thousand million bytes.
fn number(length: usize) -> u32 {
    u32::try_from(length).unwrap_or(u32::MAX)
}
