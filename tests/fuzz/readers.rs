//! Every reader of the program, as a function from bytes to an answer in words.

use faultodds::car::{self, Wanted};
use faultodds::commands::guide::answers::hear;
use faultodds::commands::guide::question::Question;
use faultodds::evidence::{Taken, car_said, codes_said, looks_said, parse_vehicle, renewed_said, results_said};
use faultodds::gauge::{Kind, parse_quantity, parse_reading};
use faultodds::jobs::{Access, LookOutcome, Store, parse_freeze};
use faultodds::knowledge::files::{InMemory, KbFile};
use faultodds::knowledge::{Base, check};
use faultodds::learning::counts::Counts;
use faultodds::learning::overlay::Overlay;
use faultodds::learning::past::import::Request;
use faultodds::learning::past::{self, Mapping, WordMatcher, cells, review};
use faultodds::search::{EntryKind, Finder, Settings};
use faultodds::{shipped, shop};
use std::fs;
use std::path::{Path, PathBuf};

/// What became of an input.
pub enum Seen {
    /// An answer or a refusal.
    Fine(String),
    /// An answer that cannot be right.
    Wrong(String),
}

/// What is done with an input.
type Read<'a> = dyn FnMut(&[u8]) -> Seen + 'a;

/// A reader under test.
pub struct Reader<'a> {
    /// Its name, and that of its folder in the corpus.
    pub name: &'static str,
    /// About how many microseconds an input takes: how the inputs are shared out, and no limit.
    pub cost: usize,
    /// Files of the project to start from.
    seeds: Vec<PathBuf>,
    /// Texts to start from.
    texts: Vec<String>,
    /// Reads the input.
    pub read: Box<Read<'a>>,
}

impl Reader<'_> {
    /// What the changes start from.
    pub fn corpus(&self) -> Vec<Vec<u8>> {
        let folder = root().join("tests/fuzz/corpus").join(self.name);
        let mut kept: Vec<PathBuf> =
            fs::read_dir(folder).into_iter().flatten().filter_map(|e| Some(e.ok()?.path())).collect();
        kept.sort();
        let files =
            self.seeds.iter().chain(&kept).map(|p| fs::read(p).unwrap_or_else(|e| panic!("{}: {e}", p.display())));
        files.chain(self.texts.iter().map(|t| t.clone().into_bytes())).collect()
    }
}

/// What readers need beside the input.
pub struct Desk {
    folder: tempfile::TempDir,
    base: Base,
    matcher: WordMatcher,
}

impl Desk {
    pub fn new() -> Self {
        let base = shipped::base().unwrap();
        Self { folder: tempfile::tempdir().unwrap(), matcher: WordMatcher::new(&base), base }
    }
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn texts(list: &[&str]) -> Vec<String> {
    list.iter().map(|t| (*t).to_owned()).collect()
}

fn at(list: &[&str]) -> Vec<PathBuf> {
    list.iter().map(|p| root().join(p)).collect()
}

fn letters(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// What a good answer prints must read as the same again.
fn again<T: std::fmt::Debug, E: std::fmt::Debug>(
    read: Result<(T, String), E>,
    back: impl Fn(&str) -> Result<T, E>,
) -> Seen {
    match read {
        Err(error) => Seen::Fine(format!("{error:?}")),
        Ok((value, written)) => match back(&written) {
            Ok(twice) if format!("{twice:?}") == format!("{value:?}") => Seen::Fine("good".to_owned()),
            Ok(_) => Seen::Wrong(format!("what was written reads as another: {written}")),
            Err(error) => Seen::Wrong(format!("what was written is refused with {error:?}: {written}")),
        },
    }
}

/// All readers.
pub fn all(desk: &Desk) -> Vec<Reader<'_>> {
    let base = &desk.base;
    let words = |name, cost, list: &[&str], read| Reader { name, cost, seeds: Vec::new(), texts: texts(list), read };
    vec![
        entries(),
        spreadsheet(desk),
        Reader {
            name: "mapping",
            cost: 65,
            seeds: at(&["data-demo/past-mapping.yaml", "data-demo/clean-mapping.yaml"]),
            texts: Vec::new(),
            read: Box::new(|b| {
                let told = Mapping::from_yaml(&letters(b)).map(|m| m.unknown(base));
                Seen::Fine(told.map_or_else(|e| e.to_string(), |unknown| unknown.join(" ")))
            }),
        },
        Reader {
            name: "shop",
            cost: 40,
            seeds: at(&["data-demo/shop.yaml"]),
            texts: Vec::new(),
            read: Box::new(|b| {
                Seen::Fine(
                    shop::read(&letters(b), "shop.yaml", base).map_or_else(|e| format!("{e:?}"), |_| String::new()),
                )
            }),
        },
        Reader {
            name: "overlay",
            cost: 50,
            seeds: Vec::new(),
            texts: texts(&[OVERLAY]),
            read: Box::new(|b| {
                let read = Overlay::from_yaml(&letters(b)).map(|o| {
                    let _ = o.apply(base).map(|with| o.undo(&with));
                    let text = o.to_yaml();
                    (text.clone(), text)
                });
                again(read, |t| Overlay::from_yaml(t).map(|o| o.to_yaml()))
            }),
        },
        Reader {
            name: "counts",
            cost: 5,
            seeds: Vec::new(),
            texts: texts(&[COUNTS]),
            read: Box::new(|b| {
                let written = |c: &Counts| c.to_json().unwrap_or_default();
                let read = Counts::from_json(&letters(b)).map(|c| (written(&c), written(&c)));
                again(read, |t| Counts::from_json(t).map(|c| written(&c)))
            }),
        },
        Reader {
            name: "review",
            cost: 15,
            seeds: Vec::new(),
            texts: texts(&[
                "schema: faultodds.review/1\ncauses:\n  - {words: \"valve sticks\", cause: purge-valve/leaks}\n",
            ]),
            read: Box::new(|b| {
                Seen::Fine(
                    review::from_yaml(&letters(b), base).map_or_else(|e| format!("{e:?}"), |d| format!("{}", d.len())),
                )
            }),
        },
        jobs(desk),
        words("gauge", 130, &GAUGE, Box::new(|b| gauge(&letters(b)))),
        words("cells", 10, &CELLS, Box::new(|b| cell(&letters(b)))),
        search(),
        words("said", 800, &SAID, Box::new(|b| said(&letters(b), base))),
        words("answers", 3000, &ANSWERS, Box::new(|b| answer(&letters(b), base))),
        Reader {
            name: "captures",
            cost: 50,
            seeds: at(&[
                "data-demo/car/small-leak.log",
                "data-demo/car/lossy.log",
                "data-demo/car/noted.txt",
                "data-demo/car/several-units.txt",
            ]),
            texts: Vec::new(),
            read: Box::new(|b| {
                let report = car::read(letters(b).lines(), Wanted { vehicle_number: true });
                Seen::Fine(format!("{:?}", car_said(&report, base, Taken::AtFirst)))
            }),
        },
    ]
}

/// Entries of a base: one changed file in the smallest good base.
fn entries() -> Reader<'static> {
    let good = fs::read_to_string(root().join("tests/bad-kb/good.base")).unwrap();
    let mut files: Vec<KbFile> = Vec::new();
    for line in good.lines() {
        if let Some(path) = line.strip_prefix("#@ at ") {
            files.push(KbFile { path: path.to_owned(), text: String::new() });
        } else if let Some(last) = files.last_mut() {
            last.text.push_str(line);
            last.text.push('\n');
        }
    }
    let texts = files.iter().map(|f| format!("{}\n{}", f.path, f.text)).collect();
    let read = move |bytes: &[u8]| {
        let text = letters(bytes);
        // The first line is the file's path, so that paths are changed too.
        let (path, text) = text.split_once('\n').unwrap_or((&text, ""));
        let mut all: Vec<KbFile> = files.iter().filter(|f| f.path != path).cloned().collect();
        all.push(KbFile { path: path.to_owned(), text: text.to_owned() });
        let told: Vec<&str> = check(&InMemory(all)).problems.iter().map(|p| p.code.word()).collect();
        Seen::Fine(told.join(" "))
    };
    Reader { name: "entries", cost: 750, seeds: Vec::new(), texts, read: Box::new(read) }
}

fn spreadsheet(desk: &Desk) -> Reader<'_> {
    let head = |p: &str| letters(&fs::read(root().join(p)).unwrap()).lines().take(9).collect::<Vec<_>>().join("\n");
    let mapping =
        Mapping::from_yaml(&fs::read_to_string(root().join("data-demo/clean-mapping.yaml")).unwrap()).unwrap();
    let path = desk.folder.path().join("past.csv");
    let mut store = past::Store::in_memory().unwrap();
    let read = move |bytes: &[u8]| {
        fs::write(&path, bytes).unwrap();
        let request = Request {
            base: &desk.base,
            mapping: &mapping,
            matcher: &desk.matcher,
            today: jiff::civil::date(2026, 11, 27),
            dry_run: true,
            progress: &mut |_| true,
        };
        match past::import(&mut store, &path, request) {
            // Every row below the header has become something.
            Ok(r) if r.rows != r.kept + r.held + r.known + r.changed + r.refused => {
                Seen::Wrong(format!("rows are lost: {r:?}"))
            }
            Ok(r) => Seen::Fine(format!("{:?}", r.reasons.keys().collect::<Vec<_>>())),
            Err(e) => Seen::Fine(e.to_string()),
        }
    };
    Reader {
        name: "spreadsheet",
        cost: 1700,
        seeds: Vec::new(),
        texts: vec![head("data-demo/clean.csv"), head("data-demo/past.csv")],
        read: Box::new(read),
    }
}

/// Lines of exported jobs. What is taken must come out again.
fn jobs(desk: &Desk) -> Reader<'_> {
    let path = desk.folder.path().join("jobs.db");
    let mut store = Store::open(&path, Access::Write).unwrap();
    let (mut taken, mut next) = (0, 1);
    let read = move |bytes: &[u8]| match store.import(&mut &*bytes) {
        Err(e) => Seen::Fine(e.to_string()),
        Ok(done) => {
            taken += done.new;
            // A check costs more with every job, so each waits until the store is a quarter larger than at the one before.
            if taken >= next {
                next = taken + taken / 4 + 40;
                match store.check() {
                    Ok(told) if told.is_empty() => {}
                    told => return Seen::Wrong(format!("the store is no longer whole: {told:?}")),
                }
            }
            Seen::Fine(format!("{done:?}"))
        }
    };
    let lines = fs::read_to_string(root().join("tests/stores/form-2.jsonl")).unwrap();
    Reader {
        name: "jobs",
        cost: 20,
        seeds: Vec::new(),
        texts: lines.lines().map(str::to_owned).collect(),
        read: Box::new(read),
    }
}

fn search() -> Reader<'static> {
    let finder = Finder::new(shipped::index(), Settings::default()).unwrap();
    let read = move |b: &[u8]| {
        let text = letters(b);
        match (finder.search(&text, &[], 5), finder.resolve(EntryKind::Symptom, &text)) {
            (Ok(found), Ok(_)) => match found.hits.iter().find(|h| !h.score.is_finite()) {
                Some(hit) => Seen::Wrong(format!("{} has no score", hit.id)),
                None => Seen::Fine(found.hits.iter().map(|h| h.id.as_str()).collect::<Vec<_>>().join(" ")),
            },
            (Err(e), _) | (_, Err(e)) => Seen::Wrong(e.to_string()),
        }
    };
    Reader { name: "search", cost: 5000, seeds: Vec::new(), texts: texts(&SEARCH), read: Box::new(read) }
}

fn gauge(text: &str) -> Seen {
    const KINDS: [Kind; 8] = [
        Kind::Pressure,
        Kind::Flow,
        Kind::Resistance,
        Kind::Voltage,
        Kind::Temperature,
        Kind::Time,
        Kind::Length,
        Kind::Share,
    ];
    let mut out = String::new();
    for kind in KINDS {
        match parse_reading(text, kind) {
            // What is refused is quoted, so only an answer is looked at.
            Ok(reading) if format!("{reading:?}").contains("NaN") => return Seen::Wrong(format!("{reading:?}")),
            Ok(reading) => out.push_str(&format!("{reading:?}")),
            Err(e) => out.push_str(&e.to_string()),
        }
        out.push_str(&parse_quantity(text, kind).map_or_else(|e| e.to_string(), |_| String::new()));
    }
    Seen::Fine(out)
}

fn cell(text: &str) -> Seen {
    use cells::DateOrder;
    let mut out = format!("{:?} {}", cells::codes(text), cells::short(text));
    for order in [DateOrder::Dmy, DateOrder::Mdy, DateOrder::Ymd] {
        out.push_str(&cells::date(text, order).map_or_else(|e| e, |_| String::new()));
    }
    let (amount, minutes, km) = (cells::amount(text, '.'), cells::minutes(text, ',', true), cells::km(text, '.', true));
    for number in [amount, minutes, km] {
        match number {
            Ok(n) if !n.is_finite() => return Seen::Wrong(format!("{n} was taken for a number")),
            Ok(_) => {}
            Err(e) => out.push_str(&e),
        }
    }
    Seen::Fine(out)
}

fn said(text: &str, base: &Base) -> Seen {
    let words: Vec<String> = text.split('\n').map(str::to_owned).collect();
    let mut out = format!("{:?}", codes_said(&words, base));
    out.push_str(&format!("{:?}", results_said(&words, base).map(|r| r.len())));
    out.push_str(&format!("{:?}", looks_said(&words, &words, base).map(|r| r.len())));
    out.push_str(&format!("{:?}", parse_vehicle(&words, base, 2026)));
    out.push_str(&format!("{:?}", renewed_said(text)));
    out.push_str(&format!("{:?}", parse_freeze(&words)));
    Seen::Fine(out)
}

fn answer(line: &str, base: &Base) -> Seen {
    let reading = |test: &str| {
        let reading = base.tests.iter().find(|t| t.id == test).and_then(|t| t.readings.first());
        reading.map(|r| Question::Reading { test: test.to_owned(), reading: r.id.clone(), again: false })
    };
    let mut questions = vec![
        Question::Start { topics: Vec::new() },
        Question::Close,
        Question::HandOn,
        Question::Choose { list: Vec::new() },
        Question::Which {
            said: "valve".to_owned(),
            outcome: LookOutcome::Sound,
            list: vec!["purge-valve/leaks".to_owned()],
        },
        Question::Repair { repair: "purge-valve/replace".to_owned() },
    ];
    questions.extend(
        ["purge-valve-hold", "cap-look-reseat", "purge-coil-ohms", "smoke-whole"].iter().filter_map(|t| reading(t)),
    );
    Seen::Fine(questions.iter().map(|q| format!("{:?} ", hear(q, line, base))).collect())
}

const OVERLAY: &str = "schema: faultodds.overlay/1\nmade: today\njobs: 3\nnumbers:\n  - {what: prior, of: purge-valve/leaks, old: 0.1, new: 0.2, low: 0.1, high: 0.3, jobs: 3, old_weight: 25, new_weight: 28}\n  - {what: minutes, of: purge-valve-hold, old: 11, new: 12, low: 10, high: 14, jobs: 3}\ngroups:\n  - {by: make, value: Orlo, of: purge-valve/leaks, times: 1.5, low: 1.1, high: 2.0, jobs: 9}\n";
const COUNTS: &str = r#"{"schema":"faultodds.counts/1","rows":[["cause","","purge-valve/leaks","","",3],["cause","make=Orlo","filler-cap/loose","","",1.5]]}"#;
const GAUGE: [&str; 12] = [
    "20 -> 12 inHg in 4 min",
    "26 ohm",
    "14 inH2O",
    "-8.5 kPa",
    "0.020 in",
    "1/4 psi",
    "20 inHg, 19 after 2 min",
    "12.6 V",
    "0.6 L/min",
    "more than 5 kohm",
    "20, 18, 16 inHg every 30 s",
    "100 C",
];
const CELLS: [&str; 10] = [
    "03/04/2021",
    "2021-04-03",
    "1.234,50",
    "$1,234.50",
    "1h30",
    "0.5",
    "90 min",
    "120000 km",
    "P0455, P0441-00; u0100",
    "=cmd()",
];
const SEARCH: [&str; 8] = [
    "stinks of petrol after filling up",
    "\"filler cap\" rust",
    "P0442",
    "hard to start after refuelling",
    "no smell and the pump clicks off",
    "Tankdeckel undicht",
    "purge valve stuck open",
    "p04 55 lamp on",
];
const SAID: [&str; 8] = [
    "P0455\nP0441",
    "purge-valve-hold=20 -> 12 inHg in 4 min",
    "cap-look-reseat=pass\nsmoke-whole:filler=plume",
    "purge-valve/leaks=probably",
    "age=9,140000km,salt",
    "filler-cap/reseat@30d",
    "rpm=800,load=20%",
    "year=2017, 90000mi",
];
const ANSWERS: [&str; 12] = [
    "y",
    "no smoke machine",
    "9 years",
    "limit 200",
    "back",
    "20 -> 12 inHg in 4 min",
    "2",
    "skip no time",
    "found filler cap loose",
    "note what it is",
    "test smoke-whole",
    "12 ohm",
];
