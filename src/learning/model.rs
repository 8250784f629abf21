//! The base as learning needs it: each suspect with the monitors and readings that it touches. Pure.

use super::readings::Qualities;
use super::selection::{self, Learned, Sets};
use knowledge::base::{Base, NOT_LISTED_PREFIX, Vehicle};
use network::build::build;
use network::{FindingKind, Network};
use std::collections::{BTreeMap, HashMap};

/// What one suspect alone does to one monitor.
#[derive(Clone, Debug, PartialEq)]
pub struct Link {
    /// Index into [`Model::monitors`].
    pub monitor: usize,
    /// P(level | suspect), lowest first.
    pub levels: Vec<f64>,
    /// Jobs those are worth.
    pub weight: f64,
    /// Whether the base holds them as numbers of their own, which learning can move; false where they follow from the size
    /// of an opening.
    pub own: bool,
}

/// A suspect.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspect {
    /// Id.
    pub id: String,
    /// Family of its part.
    pub family: String,
    /// Prevalence over all cars, whatever their equipment.
    pub prior: f64,
    /// Prevalence as the base holds it, among cars that have the part.
    pub in_base: f64,
    /// Faults found that the prevalence is worth.
    pub worth: f64,
    /// Monitors that it can move.
    pub monitors: Vec<Link>,
}

impl Suspect {
    /// P(some code | this suspect alone).
    #[must_use]
    pub fn reach(&self) -> f64 {
        selection::reach(self.monitors.iter().map(|l| l.levels[0]))
    }

    /// Its numbers as shipped, without draws.
    #[must_use]
    pub fn as_shipped(&self) -> Sets {
        let monitors = self.monitors.iter().map(|l| Learned { mean: l.levels.clone() }).collect();
        Sets { monitors, reach: self.reach(), draws: Vec::new() }
    }
}

/// A monitor.
#[derive(Clone, Debug, PartialEq)]
pub struct Monitor {
    /// Names of the levels, lowest first.
    pub levels: Vec<String>,
    /// P(level | no suspect).
    pub leak: Vec<f64>,
}

/// P(code | suspect) as a file of the base states it.
fn stated(base: &Base, suspect: &str, code: &str) -> Option<f64> {
    match suspect.strip_prefix(NOT_LISTED_PREFIX) {
        Some(monitor) => Some(base.monitor(monitor)?.not_listed.sets.iter().find(|(c, _)| c == code)?.1.get()),
        None => Some(base.code(code)?.sets.iter().find(|l| l.suspect == suspect)?.p.first()?.get()),
    }
}

/// Family of a suspect: that of its part, or of the monitor whose cause is not listed.
fn family(base: &Base, suspect: &str) -> String {
    let part = base.suspect(suspect).map(|(part, _)| part.family.clone());
    let monitor = suspect.strip_prefix(NOT_LISTED_PREFIX).and_then(|m| base.monitor(m)).map(|m| m.family.clone());
    part.or(monitor).unwrap_or_default()
}

/// No prevalence is worth less than this fraction of a fault.
const LEAST_WORTH: f64 = 0.05;

/// The base as learning needs it. Suspects that set no code are left out: jobs that come in by codes say nothing of them.
#[derive(Clone, Debug)]
pub struct Model {
    /// Suspects.
    pub suspects: Vec<Suspect>,
    /// Monitors.
    pub monitors: Vec<Monitor>,
    /// The network they come from, for readings.
    pub network: Network,
    index: HashMap<String, usize>,
    of_code: HashMap<String, (usize, usize)>,
    /// Index of each suspect in the network.
    in_network: Vec<usize>,
    /// Families of the readings' tests, by reading.
    tests: HashMap<String, String>,
}

impl Model {
    /// The model of a base.
    #[must_use]
    pub fn new(base: &Base) -> Self {
        let network = build(base, &Vehicle::default());
        let mut monitors = Vec::new();
        let mut of_code = HashMap::new();
        let mut links: Vec<Vec<Link>> = vec![Vec::new(); network.suspects.len()];
        for f in network.findings.iter().filter(|f| f.kind == FindingKind::Monitor) {
            for (level, code) in f.levels.iter().enumerate().skip(1) {
                of_code.insert(code.clone(), (monitors.len(), level));
            }
            for l in f.links.iter().filter(|l| l.levels.iter().skip(1).any(|p| *p > 0.0)) {
                let own = f.levels.iter().zip(&l.levels).skip(1).all(|(code, p)| {
                    *p <= 0.0
                        || stated(base, &network.suspects[l.suspect].id, code).is_some_and(|s| (s - p).abs() < 1e-9 * p)
                });
                let link = Link { monitor: monitors.len(), levels: l.levels.clone(), weight: l.weight, own };
                links[l.suspect].push(link);
            }
            monitors.push(Monitor { levels: f.levels.clone(), leak: f.leak.clone() });
        }
        let (mut suspects, mut in_network) = (Vec::new(), Vec::new());
        for (i, (s, monitors)) in network.suspects.iter().zip(links).enumerate() {
            if monitors.is_empty() {
                continue;
            }
            let in_base = base.suspect(&s.id).map_or(s.prior, |(_, found)| found.prior.get());
            suspects.push(Suspect {
                id: s.id.clone(),
                family: family(base, &s.id),
                prior: s.prior,
                in_base,
                worth: (s.weight * s.prior).max(LEAST_WORTH),
                monitors,
            });
            in_network.push(i);
        }
        let index = suspects.iter().enumerate().map(|(i, s)| (s.id.clone(), i)).collect();
        let tests =
            base.tests.iter().flat_map(|t| t.readings.iter().map(|r| (r.id.clone(), t.family.clone()))).collect();
        Self { suspects, monitors, network, index, of_code, in_network, tests }
    }

    /// Family of the test that a reading belongs to.
    #[must_use]
    pub fn family_of_reading(&self, reading: &str) -> &str {
        self.tests.get(reading).map_or("", String::as_str)
    }

    /// Index of a suspect.
    #[must_use]
    pub fn suspect(&self, id: &str) -> Option<usize> {
        self.index.get(id).copied()
    }

    /// Faults found that each prevalence is worth.
    #[must_use]
    pub fn worth(&self) -> Vec<f64> {
        self.suspects.iter().map(|s| s.worth).collect()
    }

    /// Monitor and level of each monitor that a pattern of codes speaks of; the highest level counts.
    #[must_use]
    pub fn levels_of(&self, pattern: &str) -> BTreeMap<usize, usize> {
        let mut out = BTreeMap::new();
        for (monitor, level) in pattern.split(' ').filter_map(|code| self.of_code.get(code)) {
            let at = out.entry(*monitor).or_insert(0);
            *at = (*level).max(*at);
        }
        out
    }

    /// The "cause not listed here" of the first of these codes that the base knows.
    #[must_use]
    pub fn not_listed(&self, codes: &[String]) -> Option<&str> {
        let (monitor, _) = codes.iter().find_map(|c| self.of_code.get(c))?;
        self.suspects
            .iter()
            .find(|s| s.id.starts_with(NOT_LISTED_PREFIX) && s.monitors[0].monitor == *monitor)
            .map(|s| s.id.as_str())
    }

    /// P(these codes | suspect alone, some code), the background included.
    #[must_use]
    pub fn codes_given(&self, suspect: usize, sets: &Sets, seen: &BTreeMap<usize, usize>) -> f64 {
        let s = &self.suspects[suspect];
        let mut p = 1.0;
        for (link, learned) in s.monitors.iter().zip(&sets.monitors) {
            if !seen.contains_key(&link.monitor) {
                p *= learned.mean[0];
            }
        }
        for (monitor, level) in seen {
            let leak = &self.monitors[*monitor].leak;
            let own = s.monitors.iter().position(|l| l.monitor == *monitor).map(|m| sets.monitors[m].mean.as_slice());
            p *= higher(leak, own, *level);
        }
        p / sets.reach.max(1e-12)
    }

    /// The readings and levels that a pattern of results speaks of: `reading=level`, parted by bars, or one a line as earlier
    /// versions wrote them.
    #[must_use]
    pub fn results_of(&self, pattern: &str) -> Vec<(usize, usize)> {
        let one = |r: &str| {
            let (reading, level) = r.rsplit_once('=')?;
            let f = self.network.finding(reading)?;
            Some((f, self.network.findings[f].levels.iter().position(|l| l == level)?))
        };
        pattern.split(['|', '\n']).filter_map(one).collect()
    }

    /// P(these results | suspect alone), with the qualities of the tests as learned where they were.
    #[must_use]
    pub(super) fn results_given(&self, suspect: usize, results: &[(usize, usize)], tests: &Qualities) -> f64 {
        let place = self.in_network[suspect];
        let mut p = 1.0;
        for (finding, level) in results {
            let f = &self.network.findings[*finding];
            let own = f.links.iter().find(|l| l.suspect == place).map(|l| l.levels.as_slice());
            let own = tests.alone.get(&(*finding, suspect)).map_or(own, |learned| Some(learned));
            p *= higher(tests.leak.get(finding).unwrap_or(&f.leak), own, *level);
        }
        p
    }

    /// Index of a suspect in the network.
    #[must_use]
    pub fn place_in_network(&self, suspect: usize) -> usize {
        self.in_network[suspect]
    }
}

/// P(the higher of two independent levels is this one); one of them may be missing.
fn higher(leak: &[f64], own: Option<&[f64]>, level: usize) -> f64 {
    let Some(own) = own else { return leak[level] };
    let upto = |p: &[f64], l: usize| -> f64 { p[..=l].iter().sum() };
    // P(max = l) = own_l × P(leak <= l) + leak_l × P(own < l): both terms are positive, nothing cancels.
    own[level] * upto(leak, level) + if level > 0 { leak[level] * upto(own, level - 1) } else { 0.0 }
}
