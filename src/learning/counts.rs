//! What must be counted to learn, and nothing more: sufficient statistics that add up, so that shops can merge
//! theirs without showing each other a job. The table is documented at [`Counts`]; any SQL engine can make it.

use super::job::{Cause, ClosedJob, age_band};
use super::spread::Histogram;
use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, HashMap};

/// Version of the exported shape.
pub const SCHEMA: &str = "faultodds.counts/1";

/// Different patterns of unsure jobs that are kept apart. Beyond, test results are left out of the pattern and then
/// the candidates, so that memory stays flat however many jobs there are.
const MOST_PATTERNS: usize = 4_096;

/// What a row counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Jobs with one confirmed cause: `subject` the suspect, `object` the codes at intake.
    Cause,
    /// The same by group: `group` is `make:NAME`, `model:NAME`, `engine:NAME`, `age:BAND` or `shop:NAME`, `subject` the suspect,
    /// or nothing for those that were lumped.
    Group,
    /// Confirmed cause and a reading: `subject` the suspect, `object` the reading, `level` what it showed.
    Reading,
    /// Two causes at once: `subject` and `object`, in order.
    Pair,
    /// No confirmed cause: `subject` the candidates, `object` the codes, `level` the results.
    Unsure,
    /// Nothing was wrong: `object` the codes.
    NoFault,
    /// Minutes of a repair or a test (`subject`), by bin of 2 % (`level`, round(ln(minutes) / 0.02)).
    Minutes,
    /// Parts cost of a repair, likewise.
    Price,
}

/// One row of the table without its count.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Key {
    /// What is counted.
    pub kind: Kind,
    /// Group, or empty.
    pub group: String,
    /// Who.
    pub subject: String,
    /// What with.
    pub object: String,
    /// At which level.
    pub level: String,
}

/// The table `(kind, group, subject, object, level, n)`, unique but for `n`.
///
/// SQL engines make it from the two tables that `past export` writes; the statements are in `past/counts.sql` and printed by
/// `past counts --sql`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Counts {
    rows: BTreeMap<Key, f64>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Exported {
    schema: String,
    rows: Vec<(Kind, String, String, String, String, f64)>,
}

/// Why a file of counts cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum CountsError {
    /// Not JSON of this shape.
    #[error("this is not a file of counts: {0}")]
    Shape(#[from] serde_json::Error),
    /// Another version.
    #[error("the counts have the shape `{0}`, and this program reads `{SCHEMA}`")]
    Version(String),
    /// A count that is none.
    #[error("row {row} counts {n} jobs")]
    Number {
        /// Row from 1.
        row: usize,
        /// As given.
        n: f64,
    },
}

impl Counts {
    /// All rows in order.
    pub fn rows(&self) -> impl Iterator<Item = (&Key, f64)> {
        self.rows.iter().map(|(k, n)| (k, *n))
    }

    /// The rows of one kind.
    pub fn of(&self, kind: Kind) -> impl Iterator<Item = (&Key, f64)> {
        self.rows().filter(move |(k, _)| k.kind == kind)
    }

    /// How many jobs, whatever their cause.
    #[must_use]
    pub fn jobs(&self) -> f64 {
        let whole = |k: Kind| matches!(k, Kind::Cause | Kind::Pair | Kind::Unsure | Kind::NoFault);
        self.rows().filter(|(k, _)| whole(k.kind)).map(|(_, n)| n).sum()
    }

    /// Adds to a row.
    pub fn add(&mut self, key: Key, n: f64) {
        *self.rows.entry(key).or_default() += n;
    }

    /// Adds all rows of another table.
    pub fn merge(&mut self, other: &Self) {
        for (key, n) in &other.rows {
            *self.rows.entry(key.clone()).or_default() += n;
        }
    }

    /// The histogram of minutes or prices of a repair or test.
    #[must_use]
    pub fn histograms(&self, kind: Kind) -> BTreeMap<String, Histogram> {
        let mut out: BTreeMap<String, Histogram> = BTreeMap::new();
        for (key, n) in self.of(kind) {
            if let Ok(bin) = key.level.parse() {
                out.entry(key.subject.clone()).or_default().add(bin, n);
            }
        }
        out
    }

    /// The table as JSON.
    ///
    /// # Errors
    /// Never for tables of finite counts.
    pub fn to_json(&self) -> Result<String, CountsError> {
        let row =
            |(k, n): (&Key, f64)| (k.kind, k.group.clone(), k.subject.clone(), k.object.clone(), k.level.clone(), n);
        let rows = self.rows().map(row).collect();
        Ok(serde_json::to_string(&Exported { schema: SCHEMA.to_owned(), rows })?)
    }

    /// Reads a table from JSON.
    ///
    /// # Errors
    /// Another shape or version, or a count that is negative or no number.
    pub fn from_json(text: &str) -> Result<Self, CountsError> {
        let told: Exported = serde_json::from_str(text)?;
        if told.schema != SCHEMA {
            return Err(CountsError::Version(told.schema));
        }
        let mut out = Self::default();
        for (i, (kind, group, subject, object, level, n)) in told.rows.into_iter().enumerate() {
            if !(n.is_finite() && n >= 0.0) {
                return Err(CountsError::Number { row: i + 1, n });
            }
            out.add(Key { kind, group, subject, object, level }, n);
        }
        Ok(out)
    }
}

/// Candidates of an unsure job as one word: `id=belief`, in the order of their names, beliefs with one digit.
#[must_use]
pub fn candidates_as_word(candidates: &[(String, f64)]) -> String {
    let mut told: Vec<String> = candidates.iter().map(|(s, b)| format!("{s}={b:.1}")).collect();
    told.sort();
    told.join(" ")
}

/// Results as one word: `reading=level`, parted by bars since a level's name may hold blanks.
#[must_use]
pub fn results_as_word(results: &[(String, String)]) -> String {
    let mut shown: Vec<String> = results.iter().map(|(r, l)| format!("{r}={l}")).collect();
    shown.sort();
    shown.join("|")
}

/// Counts jobs one after another. Words become numbers once, so that a million jobs cost a few lookups each.
#[derive(Debug, Default)]
pub struct Counter {
    words: HashMap<String, u32>,
    names: Vec<String>,
    /// By numbers of our own, which nobody can choose to collide.
    rows: FxHashMap<(Kind, [u32; 4]), f64>,
    unsure_patterns: usize,
    /// Words of the groups of cars that came before, by what is written of the car.
    groups: HashMap<String, Vec<u32>>,
    /// Words of the bins of minutes and prices.
    bins: FxHashMap<i32, u32>,
}

/// Different cars whose groups are remembered.
const MOST_CARS: usize = 20_000;

impl Counter {
    /// Counts a job.
    pub fn add(&mut self, job: &ClosedJob) {
        let pattern = self.word(&job.pattern());
        match &job.cause {
            Cause::Found(suspect) => {
                let s = self.word(suspect);
                self.row(Kind::Cause, [0, s, pattern, 0]);
                for g in self.groups(job) {
                    self.row(Kind::Group, [g, s, 0, 0]);
                }
                for (reading, level) in &job.results {
                    let (r, l) = (self.word(reading), self.word(level));
                    self.row(Kind::Reading, [0, s, r, l]);
                }
            }
            Cause::Several(all) => {
                let mut all = all.clone();
                all.sort();
                if let [one, two, ..] = all.as_slice() {
                    let (one, two) = (self.word(one), self.word(two));
                    self.row(Kind::Pair, [0, one, two, 0]);
                }
            }
            Cause::Unsure(candidates) => self.unsure(candidates, pattern, &job.results),
            Cause::NoFault => self.row(Kind::NoFault, [0, 0, pattern, 0]),
        }
        for (of, minutes) in
            job.repair.iter().zip(&job.repair_minutes).chain(job.test_minutes.iter().map(|(t, m)| (t, m)))
        {
            self.amount(Kind::Minutes, of, *minutes);
        }
        for (of, price) in job.repair.iter().zip(&job.parts_cost) {
            self.amount(Kind::Price, of, *price);
        }
    }

    /// The table.
    #[must_use]
    pub fn finish(self) -> Counts {
        let mut out = Counts::default();
        let name = |w: u32| if w == 0 { String::new() } else { self.names[w as usize - 1].clone() };
        for ((kind, [group, subject, object, level]), n) in self.rows {
            out.add(
                Key { kind, group: name(group), subject: name(subject), object: name(object), level: name(level) },
                n,
            );
        }
        out
    }

    fn unsure(&mut self, candidates: &[(String, f64)], pattern: u32, results: &[(String, String)]) {
        let (told, with_results) = (candidates_as_word(candidates), results_as_word(results));
        let mut key = [0, self.word(&told), pattern, 0];
        let room = self.unsure_patterns < MOST_PATTERNS;
        if room || self.words.contains_key(&with_results) {
            key[3] = self.word(&with_results);
        }
        if !room && !self.rows.contains_key(&(Kind::Unsure, key)) {
            key[3] = 0;
            if !self.rows.contains_key(&(Kind::Unsure, key)) && self.unsure_patterns >= 2 * MOST_PATTERNS {
                key[1] = 0;
            }
        }
        if !self.rows.contains_key(&(Kind::Unsure, key)) {
            self.unsure_patterns += 1;
        }
        self.row(Kind::Unsure, key);
    }

    fn amount(&mut self, kind: Kind, of: &str, amount: f64) {
        if let Some(bin) = Histogram::bin(amount) {
            let of = self.word(of);
            let bin = match self.bins.get(&bin) {
                Some(word) => *word,
                None => {
                    let word = self.word(&bin.to_string());
                    self.bins.insert(bin, word);
                    word
                }
            };
            self.row(kind, [0, of, 0, bin]);
        }
    }

    /// The words of a job's groups: shops see the same cars again and again.
    fn groups(&mut self, job: &ClosedJob) -> Vec<u32> {
        let mut car = String::with_capacity(96);
        for part in [&job.make, &job.model, &job.engine, &job.shop] {
            // What is not said differs from what is empty.
            car.push_str(part.as_deref().unwrap_or("\u{1}"));
            car.push('\0');
        }
        car.push_str(job.vehicle.age.map_or("", age_band));
        if let Some(known) = self.groups.get(&car) {
            return known.clone();
        }
        let words: Vec<u32> = job.groups().iter().map(|(by, value)| self.word(&format!("{by}:{value}"))).collect();
        if self.groups.len() < MOST_CARS {
            self.groups.insert(car, words.clone());
        }
        words
    }

    fn row(&mut self, kind: Kind, key: [u32; 4]) {
        *self.rows.entry((kind, key)).or_default() += 1.0;
    }

    fn word(&mut self, word: &str) -> u32 {
        if word.is_empty() {
            return 0;
        }
        if let Some(w) = self.words.get(word) {
            return *w;
        }
        self.names.push(word.to_owned());
        let number = u32::try_from(self.names.len()).unwrap_or(u32::MAX);
        self.words.insert(word.to_owned(), number);
        number
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn job(day: i8, cause: Cause) -> ClosedJob {
        let mut job = ClosedJob::on(jiff::civil::date(2024, 3, day));
        job.codes = vec!["P0442".into()];
        job.make = Some("Orlo".into());
        job.repair = Some("filler-cap/replace".into());
        job.repair_minutes = Some(10.0);
        job.cause = cause;
        job
    }

    fn counted(jobs: &[ClosedJob]) -> Counts {
        let mut counter = Counter::default();
        jobs.iter().for_each(|j| counter.add(j));
        counter.finish()
    }

    #[test]
    fn counts_of_two_shops_add_up_to_the_counts_of_all_jobs() {
        let a = [job(1, Cause::Found("filler-cap/loose".into())), job(2, Cause::NoFault)];
        let b = [job(3, Cause::Found("filler-cap/loose".into())), job(4, Cause::Unsure(vec![("a/b".into(), 0.5)]))];
        let mut merged = counted(&a);
        merged.merge(&counted(&b));
        let all = counted(&[a, b].concat());
        assert_eq!(merged, all);
        assert_eq!(all.jobs(), 4.0);
        assert_eq!(Counts::from_json(&all.to_json().unwrap()).unwrap(), all);
    }

    #[test]
    fn damaged_counts_are_refused() {
        for bad in [
            "",
            "{}",
            r#"{"schema":"faultodds.counts/9","rows":[]}"#,
            r#"{"schema":"faultodds.counts/1","rows":[["cause","","a","b","",-1]]}"#,
        ] {
            assert!(Counts::from_json(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn patterns_of_unsure_jobs_stay_few() {
        let mut counter = Counter::default();
        for i in 0..30_000 {
            let mut j = job(1, Cause::Unsure(vec![]));
            j.results = vec![("smoke:cap".into(), format!("level {i}"))];
            counter.add(&j);
        }
        assert!(counter.rows.len() < MOST_PATTERNS + 100 && counter.words.len() < MOST_PATTERNS + 100);
        let counts = counter.finish();
        assert_eq!(counts.jobs(), 30_000.0);
    }
}
