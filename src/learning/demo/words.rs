//! How the demo shop writes: other names, doubts, slips of the pen, units as they come; and the texts that go with
//! the demo's files.

use inference::Rng;
use knowledge::base::{Base, NOT_LISTED_PREFIX};
use std::collections::BTreeMap;

/// Which column is what in the messy file.
pub(super) const MAPPING: &str = "\
# Which column of past.csv is what. Drafted with `faultodds past map data-demo/past.csv`, then filled in by hand.
schema: faultodds.mapping/1
columns:
  - {field: job, column: Job No}
  - {field: date, column: Date In}
  - {field: codes, column: DTCs}
  - {field: cause, column: What we found}
  - {field: make, column: Make}
  - {field: model, column: Model}
  - {field: year, column: Yr}
  - {field: mileage, column: Odo}
  - {field: repair, column: Work done}
  - {field: repair_time, column: Repair hrs}
  - {field: time, column: Total hrs}
  - {field: parts, column: Parts}
  - {field: comeback_of, column: Back from}
dates: dmy
decimal: \".\"
mileage_unit: mi
time_unit: h
results:
  - column: Smoke at filler
    reading: \"smoke-whole:filler\"
    levels:
      - {cell: \"no\", level: no smoke}
      - {cell: bit, level: wisp}
      - {cell: lots, level: plume}
";

/// Which column is what in the clean file.
pub(super) const CLEAN_MAPPING: &str = "\
schema: faultodds.mapping/1
columns:
  - {field: job, column: job}
  - {field: date, column: date}
  - {field: codes, column: codes}
  - {field: cause, column: cause}
  - {field: make, column: make}
  - {field: model, column: model}
  - {field: year, column: year}
  - {field: mileage, column: km}
  - {field: repair_time, column: repair_minutes}
  - {field: parts, column: parts}
dates: ymd
decimal: \".\"
mileage_unit: km
time_unit: min
";

/// The shop file.
pub(super) const SHOP: &str = "\
# The two-bay shop of Nether Aldwick, which is invented, as are its prices. Use it with --shop data-demo/shop.yaml.
currency: crown
labour_rate: 84          # for an hour
hand_on: {cost: 420, minutes: 240}
retest_minutes: 12       # clearing the codes and proving a repair
keep_small: money        # or: minutes
tools: [command-scan-tool, evap-adapters, fused-lamp, hand-vacuum-pump, hose-clamp-pliers, jack-stands, multimeter, probe-leads, scan-tool, service-information, smoke-machine, torch]
own:                     # own minutes and prices; parts for repairs, consumables for tests
  - {id: cap-look-reseat, minutes: 2}
  - {id: filler-cap/replace-cap, minutes: 5, price: 18}
";

/// What is said about the demo.
pub(super) const README: &str = "\
# The demo shop

Everything here is invented: the shop *Two Bays* in the town of Nether Aldwick, its customers, the makes and models,
the prices in crowns and every job. No real workshop, vehicle or person is behind any line.

| file | what it is |
| --- | --- |
| `past.csv` | about 2,000 closed jobs of six years (2020 to 2025) as the shop kept them: other names for parts, parts that were \"replaced\" without a word on how they had failed, typing slips, mixed units, missing cells, doubts, cars that came back, and rows that belong elsewhere |
| `past-mapping.yaml` | which column is what |
| `shop.yaml` | the shop's rates and tools |
| `clean.csv`, `clean-mapping.yaml` | 120 of the jobs in neat columns, for a first try |

The jobs are drawn with a fixed seed by `src/learning/demo/`, from a world whose numbers differ from the shipped base:
each share and probability is drawn afresh around the shipped one with a quarter of its weight, five makes and their
models have weak spots of their own, and the shop writes down what it believes, which is not always what was so.
Make them again, to the byte, with

    cargo run --release --example demo-shop -- data-demo

## From the spreadsheet to the numbers

Draft the mapping (the one here was filled in by hand), look at what would happen, bring the jobs in:

    faultodds past map data-demo/past.csv
    faultodds past import data-demo/past.csv --mapping data-demo/past-mapping.yaml --dry-run
    faultodds past import data-demo/past.csv --mapping data-demo/past-mapping.yaml
    faultodds past show

See what every wording was taken to mean, and how certain that is. Causes that the words alone do not settle go into a file to
edit, and come back from it; a single wording can be settled at once:

    faultodds past words --top 10
    faultodds past held > held.yaml
    faultodds past decide held.yaml
    faultodds past decide --words \"new gas cap\" --cause filler-cap

See what would change, measure whether it helps on jobs not seen before, then keep it:

    faultodds tune --dry-run
    faultodds score --plans 20 --shop data-demo/shop.yaml --svg reliability.svg
    faultodds tune --out overlay.yaml
    faultodds rank P0455 --overlay overlay.yaml --make Orlo --model Heron
    faultodds quote P0455 --overlay overlay.yaml --shop data-demo/shop.yaml

To go back to the shipped numbers leave `--overlay` away. Counts without jobs can be given to another shop, and learned
from together:

    faultodds past counts --as two-bays > our-counts.json
    faultodds tune --dry-run --as two-bays --counts our-counts.json our-counts.json

No cell of such counts speaks of fewer than five jobs; what is rarer is lumped, which costs some of what could be learned of rare
faults. For an SQL engine, the jobs as two tables without customer, plate, day or words, and the statement that counts them:

    faultodds past export tables.new --as two-bays
    faultodds past counts --sql > counts.sql

To take one import out, or to start over:

    faultodds past forget 1 --yes
    faultodds past clear --yes
";

/// The hand that writes.
pub(super) struct Pen {
    rng: Rng,
    /// Suspect: names it goes by.
    names: BTreeMap<String, Vec<String>>,
    /// Suspect: names of its part, where that fails in more than one way.
    parts: BTreeMap<String, Vec<String>>,
    /// Suspect: minutes and parts of its quickest repair, and what is done.
    repairs: BTreeMap<String, (f64, f64, String)>,
    symptoms: BTreeMap<String, Vec<String>>,
    at_filler: BTreeMap<String, f64>,
}

const OPENERS: [&str; 6] = ["", "", "", "found ", "it was the ", "traced to "];
const TAILS: [&str; 7] = ["", "", "", "", " - replaced", ", new one fitted", ". All good now"];
const VAGUE: [&str; 6] = ["evap leak", "wiring", "the usual", "hose thing at back", "valve", "leak found and sorted"];

impl Pen {
    pub fn new(base: &Base, seed: u64) -> Self {
        let (mut names, mut parts, mut repairs) = (BTreeMap::new(), BTreeMap::new(), BTreeMap::new());
        let (mut symptoms, mut at_filler) = (BTreeMap::new(), BTreeMap::new());
        for (part, s) in base.suspects() {
            let mode = s
                .name
                .split_once(", ")
                .map_or(s.id.split('/').nth(1).unwrap_or_default().replace('-', " "), |(_, m)| m.to_owned());
            let mut all = vec![s.name.clone(), s.name.replace(',', "")];
            all.extend(part.also.iter().take(4).map(|a| format!("{a} {mode}")));
            names.insert(s.id.clone(), all);
            if part.suspects.len() > 1 {
                let called = std::iter::once(&part.name).chain(part.also.iter().take(2)).map(|n| n.to_lowercase());
                parts.insert(s.id.clone(), called.collect::<Vec<String>>());
            }
            let words = s
                .symptoms
                .iter()
                .filter_map(|l| base.symptom(&l.symptom))
                .map(|x| x.also.first().unwrap_or(&x.name).clone());
            symptoms.insert(s.id.clone(), words.collect());
        }
        for (_, r) in base.repairs() {
            for s in &r.removes {
                let entry = (r.minutes.get(), r.parts_cost.get(), r.does.clone());
                let known = repairs.entry(s.clone()).or_insert_with(|| entry.clone());
                if known.0 > entry.0 {
                    *known = entry;
                }
            }
        }
        if let Some((_, reading)) = base.reading("smoke-whole:filler") {
            for l in &reading.detects {
                at_filler.insert(l.suspect.clone(), l.p.iter().map(|p| p.get()).sum());
            }
        }
        Self { rng: Rng::new(seed, 77), names, parts, repairs, symptoms, at_filler }
    }

    pub fn one_in(&mut self, n: u32) -> bool {
        self.rng.unit() * f64::from(n) < 1.0
    }

    pub fn pick(&mut self, n: usize) -> usize {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            clippy::cast_precision_loss,
            reason = "a place in a short list"
        )]
        let i = (self.rng.unit() * n as f64) as usize;
        i.min(n.saturating_sub(1))
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.rng.unit()
    }

    /// Another suspect of the same part, which a hurried person could have taken it for.
    pub fn neighbour(&mut self, suspect: &str, base: &Base) -> Option<String> {
        let part = suspect.split('/').next()?;
        let others: Vec<&str> =
            base.part(part)?.suspects.iter().map(|s| s.id.as_str()).filter(|s| *s != suspect).collect();
        let i = self.pick(others.len());
        others.get(i).map(|s| (*s).to_owned())
    }

    /// The suspect's own name.
    pub fn plain(&self, suspect: &str) -> String {
        self.names.get(suspect).map_or("unknown".to_owned(), |n| n[0].clone())
    }

    /// What the shop wrote down as the cause, and whether that names no single suspect.
    pub fn cause(&mut self, suspect: &str, unsure: bool) -> (String, bool) {
        let named = self.names.get(suspect).cloned();
        let Some(names) = named.filter(|_| !suspect.starts_with(NOT_LISTED_PREFIX)) else {
            return (["unknown", "not found", "", "customer declined further work"][self.pick(4)].to_owned(), true);
        };
        if unsure {
            let text = match self.pick(4) {
                0 => String::new(),
                1 => "not found, referred".to_owned(),
                2 => format!("{}?", names[self.pick(names.len())]),
                _ => format!("possibly {}", names[self.pick(names.len())]),
            };
            return (text, true);
        }
        if self.one_in(30) {
            return (VAGUE[self.pick(VAGUE.len())].to_owned(), true);
        }
        // One in six writes down what was replaced, and not in which way it had failed.
        if self.one_in(6)
            && let Some(parts) = self.parts.get(suspect).cloned()
        {
            let part = &parts[self.pick(parts.len())];
            let text = match self.pick(5) {
                0 => format!("replaced {part}"),
                1 => format!("new {part}"),
                2 => format!("{part} bad, replaced"),
                3 => format!("{part} faulty"),
                _ => part.clone(),
            };
            return (text, true);
        }
        // The shop has its habits: three times out of four the same words.
        let name =
            if self.one_in(4) { names[self.pick(names.len())].clone() } else { names[names.len().min(2) - 1].clone() };
        let text = format!("{}{name}{}", OPENERS[self.pick(OPENERS.len())], TAILS[self.pick(TAILS.len())]);
        (if self.one_in(12) { self.slip(&text) } else { text }, false)
    }

    /// Two letters of a longer word change places.
    fn slip(&mut self, text: &str) -> String {
        let mut letters: Vec<char> = text.chars().collect();
        let places: Vec<usize> = (1..letters.len().saturating_sub(2))
            .filter(|i| letters[i - 1..=i + 1].iter().all(char::is_ascii_lowercase))
            .collect();
        if !places.is_empty() {
            let i = places[self.pick(places.len())];
            letters.swap(i, i + 1);
        }
        letters.into_iter().collect()
    }

    pub fn spent(&mut self, suspect: &str) -> (f64, f64) {
        let (minutes, parts, _) = self.repairs.get(suspect).cloned().unwrap_or((0.0, 0.0, String::new()));
        // This shop is a quarter slower than the base believes and buys a fifth dearer.
        let spread = |pen: &mut Self| (0.3 * (pen.rng.unit() + pen.rng.unit() + pen.rng.unit() - 1.5)).exp();
        (minutes * 1.25 * spread(self), parts * 1.2 * spread(self))
    }

    /// Hours of the repair and in all, in the units that came to hand.
    pub fn times(&mut self, suspect: &str) -> (String, String) {
        let (repair, _) = self.spent(suspect);
        let total = repair + self.between(15.0, 100.0);
        let write = |pen: &mut Self, m: f64| match pen.pick(10) {
            0 => format!("{m:.0} min"),
            1 => format!("{:.0}:{:02.0}", (m / 60.0).floor(), (m % 60.0).floor()),
            _ => format!("{:.2}", m / 60.0),
        };
        let (repair, total) = (write(self, repair), write(self, total));
        (self.gap(repair, 20), self.gap(total, 20))
    }

    pub fn parts(&mut self, suspect: &str) -> String {
        let (_, mut parts) = self.spent(suspect);
        // Now and then a figure slips.
        if self.one_in(80) {
            parts *= 10.0;
        }
        let text = match self.pick(8) {
            0 => format!("cr {parts:.2}").replace("cr ", ""),
            1 => format!("{parts:.0}"),
            _ => format!("{parts:.2}"),
        };
        self.gap(text, 15)
    }

    pub fn gap(&mut self, text: String, one_in: u32) -> String {
        if self.one_in(one_in) { String::new() } else { text }
    }

    pub fn distance(&mut self, km: f64) -> String {
        let miles = km / 1.609_344;
        let text = match self.pick(6) {
            0 => format!("{km:.0} km"),
            1 => format!("{:.0}k", miles / 1000.0),
            2 => format!("{:.0},{:03.0}", (miles / 1000.0).floor(), (miles % 1000.0).floor()),
            _ => format!("{miles:.0}"),
        };
        self.gap(text, 18)
    }

    pub fn codes(&mut self, codes: &[String]) -> String {
        match self.pick(6) {
            0 => codes.join("/").to_lowercase(),
            1 => codes.join("\n"),
            2 => codes.join(", "),
            _ => codes.join(" "),
        }
    }

    pub fn complaint(&mut self, suspect: &str) -> String {
        let words = self.symptoms.get(suspect).cloned().unwrap_or_default();
        match self.pick(4) {
            0 if !words.is_empty() => words[self.pick(words.len())].clone(),
            1 => String::new(),
            _ => "engine light on".to_owned(),
        }
    }

    pub fn work(&mut self, suspect: &str) -> String {
        let does = self.repairs.get(suspect).map(|r| r.2.clone()).unwrap_or_default();
        self.gap(does.to_lowercase(), 10)
    }

    /// Smoke was tried on one job in six; what it showed at the filler.
    pub fn smoke(&mut self, suspect: &str) -> String {
        if !self.one_in(6) {
            return String::new();
        }
        let p = self.at_filler.get(suspect).copied().unwrap_or(0.02);
        if self.rng.unit() >= p {
            "no"
        } else if self.one_in(2) {
            "bit"
        } else {
            "lots"
        }
        .to_owned()
    }
}
