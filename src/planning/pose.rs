//! From a base, a vehicle's evidence and a shop to the decision problem.

use super::Shop;
use super::problem::{Backing, MOST, Problem, ReadingModel, RepairStep, Return, TestStep, bits};
use super::split::{Complaint, needed};
use super::universe::{Truth, Universe};
use inference::{Evidence, InferenceError, Posterior, Prepared, RepairEvent, Scope};
use knowledge::base::Base;
use network::{FindingKind, LIKELY_TO_FIT, Network};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// Why no problem could be posed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// Inference refused.
    #[error(transparent)]
    Inference(#[from] InferenceError),
}

/// What is asked.
#[derive(Clone, Copy, Debug)]
pub struct Question<'a> {
    /// The base.
    pub base: &'a Base,
    /// Its network for the vehicle.
    pub network: &'a Network,
    /// What was observed and done.
    pub evidence: &'a Evidence,
    /// The shop.
    pub shop: &'a Shop,
    /// Tests that were done but told nothing: not offered again before a repair, their setups paid for.
    pub silent: &'a [String],
    /// Worlds below this probability are left out.
    pub min_mass: f64,
    /// At most so many worlds.
    pub max_worlds: usize,
    /// Worlds below this probability do not take part in looking ahead, only in exact expectations.
    pub lean_mass: f64,
}

impl<'a> Question<'a> {
    /// For one answer within milliseconds: worlds down to one in ten thousand.
    #[must_use]
    pub fn quick(base: &'a Base, network: &'a Network, evidence: &'a Evidence, shop: &'a Shop) -> Self {
        Self { base, network, evidence, shop, silent: &[], min_mass: 1e-4, max_worlds: 1_000, lean_mass: 2e-4 }
    }

    /// For a plan whose expectation is to be right: worlds down to one in a million.
    #[must_use]
    pub fn thorough(base: &'a Base, network: &'a Network, evidence: &'a Evidence, shop: &'a Shop) -> Self {
        Self { min_mass: 1e-6, max_worlds: 9_000, ..Self::quick(base, network, evidence, shop) }
    }
}

/// A decision problem with its worlds.
#[derive(Clone, Debug)]
pub struct Posed {
    /// The numbers.
    pub problem: Problem,
    /// Its worlds without the present suspects that do not keep the complaint up: fewer, for looking ahead.
    pub universe: Universe,
    /// Its worlds with them, for exact expectations.
    pub full: Vec<(Truth, f64)>,
    /// Network finding of each reading of the problem.
    pub findings: Vec<usize>,
    /// What makes up the complaint; empty when nothing was found that would have to be repaired.
    pub complaint: Vec<Complaint>,
    /// Probability of the worlds left out. Listed worlds with several suspects stand in for them, so expectations are
    /// off by at most this share of the difference in cost between the two.
    pub missing: f64,
    /// Probability of the worlds that decisions are based on, before it is scaled to 1.
    pub looked_at: f64,
    /// Tests that this vehicle and complaint could use but whose tools are missing, with those tools.
    pub lacking: Vec<(String, Vec<String>)>,
    /// Equipment, as option ids, that would allow further tests that tell something, if this vehicle had it; it is not
    /// known to, and more likely has not.
    pub unasked: BTreeSet<String>,
    /// Suspects, tests or repairs that had to be left out because there are more than fit.
    pub left_out: usize,
}

/// Worlds that take part in looking ahead at most: more would only slow it down, they are rare.
const MOST_LEAN: usize = 160;

/// Poses the problem.
///
/// # Errors
/// What inference refuses.
pub fn pose(q: &Question<'_>) -> Result<Posed, PlanError> {
    let mut prepared = Prepared::new(q.network, q.evidence)?;
    let found = prepared.worlds(Scope::Relevant, q.max_worlds, q.min_mass)?;
    let posterior = prepared.posterior()?;
    let worlds: Vec<(&[usize], f64)> = found.list.iter().map(|w| (w.suspects.as_slice(), w.probability)).collect();
    let known = with_grades(q.network, &posterior);
    let q = &Question { network: known.as_ref().unwrap_or(q.network), ..*q };
    let split = |complaint: &[Complaint], world: &[usize]| {
        let mut parts = needed(q.network, complaint, world);
        parts.iter_mut().for_each(|(need, _)| with_causes(q.network, world, need));
        parts
    };
    Ok(pose_worlds(q, &worlds, &posterior.now, found.missing, &split))
}

/// The network with every link at the mix of grades that the evidence leaves, where there are grades. What a later reading
/// says of the grade itself is thereby left out of planning; what it says of the suspect is not.
fn with_grades(network: &Network, posterior: &Posterior) -> Option<Network> {
    if network.suspects.iter().all(|s| s.grades.is_empty()) {
        return None;
    }
    let mut known = network.clone();
    for link in known.findings.iter_mut().flat_map(|f| &mut f.links).filter(|l| !l.by_grade.is_empty()) {
        let mix = link.levels_at(&posterior.grades[link.suspect]).into_owned();
        link.levels = mix;
    }
    Some(known)
}

/// A cause left behind brings its victim back: it must go as well.
pub(super) fn with_causes(network: &Network, world: &[usize], need: &mut Vec<usize>) {
    let mut at = 0;
    while let Some(&victim) = need.get(at) {
        for b in network.brings.iter().filter(|b| b.victim == victim && world.contains(&b.cause)) {
            if !need.contains(&b.cause) {
                need.push(b.cause);
            }
        }
        at += 1;
    }
    need.sort_unstable();
}

/// Poses the problem of someone who believes in these single suspects, each alone at fault, whatever the network says
/// of them: for judging beliefs that come from elsewhere. Whoever believes in a suspect takes its repair to end the job.
/// Probabilities below [`Question::min_mass`] are left out.
#[must_use]
pub fn pose_believing(q: &Question<'_>, shares: &[(usize, f64)]) -> Posed {
    let believed: Vec<(usize, f64)> = shares.iter().copied().filter(|s| s.1 >= q.min_mass).collect();
    let mut now = vec![0.0; q.network.suspects.len()];
    shares.iter().for_each(|(s, p)| now[*s] += p);
    let missing = (1.0 - believed.iter().map(|s| s.1).sum::<f64>()).max(0.0);
    let worlds: Vec<(&[usize], f64)> = believed.iter().map(|s| (std::slice::from_ref(&s.0), s.1)).collect();
    pose_worlds(q, &worlds, &now, missing, &|_, world| vec![(world.to_vec(), 1.0)])
}

/// What keeps the complaint up in a world, with probabilities.
type Split<'a> = &'a dyn Fn(&[Complaint], &[usize]) -> Vec<(Vec<usize>, f64)>;

fn pose_worlds(q: &Question<'_>, worlds: &[(&[usize], f64)], now: &[f64], mut missing: f64, split: Split<'_>) -> Posed {
    let complaint = complaint(q.network, q.evidence);
    let (suspects, mut left_out) = taking_part(worlds.iter().map(|w| w.0), now);
    let local: HashMap<usize, usize> = suspects.iter().enumerate().map(|(i, s)| (*s, i)).collect();
    let mut full: BTreeMap<Truth, f64> = BTreeMap::new();
    let mut lean: BTreeMap<Truth, f64> = BTreeMap::new();
    for (world, probability) in worlds {
        let Some(present) = as_bits(world, &local) else {
            missing += probability;
            continue;
        };
        let nothing = vec![(world.to_vec(), 1.0)];
        let parts = if complaint.is_empty() { nothing } else { split(&complaint, world) };
        for (need, p) in parts {
            let need = as_bits(&need, &local).unwrap_or(present);
            *full.entry(Truth { present, need }).or_default() += probability * p;
            *lean.entry(Truth { present: need, need }).or_default() += probability * p;
        }
    }
    stand_in(&mut full, missing);
    let mut problem = Problem {
        suspects,
        tests: Vec::new(),
        repairs: Vec::new(),
        readings: Vec::new(),
        returns: returns(q.network, &local),
        setups: q.base.setups.iter().take(MOST).map(|s| (s.id.clone(), q.shop.setup(s))).collect(),
        hand_on: q.shop.hand_on(),
        verify: q.shop.retest(),
        aim: q.shop.aim,
        again: Vec::new(),
        paid: 0,
        done: 0,
        repaired: !q.evidence.repairs.is_empty(),
    };
    left_out += offer_repairs(q, &local, lean.keys().fold(0, |all, t| all | t.need), &mut problem);
    problem.again = vec![0; problem.repairs.len()];
    let mut findings = Vec::new();
    let (lacking, unasked, more) = offer_tests(q, &local, now, &mut problem, &mut findings);
    left_out += more;
    let mut lean: Vec<(Truth, f64)> = lean.into_iter().filter(|w| w.1 >= q.lean_mass).collect();
    lean.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    lean.truncate(MOST_LEAN);
    super::relevance::mark(q, &mut problem, &lean);
    let looked_at = lean.iter().map(|w| w.1).sum();
    let universe = Universe::new(&problem, &lean);
    Posed {
        universe,
        full: full.into_iter().collect(),
        findings,
        complaint,
        missing,
        looked_at,
        lacking,
        unasked,
        left_out,
        problem,
    }
}

/// Lets the listed worlds with the most suspects stand in for those that are missing, which have as many or more and are
/// only rarer: an average over the list alone would be too low, because several faults cost more than one.
fn stand_in(full: &mut BTreeMap<Truth, f64>, missing: f64) {
    let size = |t: &Truth| t.present.count_ones();
    let listed = |least: u32| full.keys().filter(|t| size(t) >= least).count();
    let least = if listed(3) >= ENOUGH { 3 } else { 2 };
    let several: f64 = full.iter().filter(|w| size(w.0) >= least).map(|w| w.1).sum();
    if listed(least) >= ENOUGH && several > 0.0 {
        let times = 1.0 + missing / several;
        full.iter_mut().filter(|w| size(w.0) >= least).for_each(|w| *w.1 *= times);
    }
}

/// So many worlds are enough to stand in for others.
const ENOUGH: usize = 20;

/// The stored codes as last read; without any, the symptoms; and what was found with one's own eyes.
fn complaint(network: &Network, evidence: &Evidence) -> Vec<Complaint> {
    let last = evidence.repairs.len();
    let mut latest: BTreeMap<usize, Complaint> = BTreeMap::new();
    let mut epochs: BTreeMap<usize, usize> = BTreeMap::new();
    for o in &evidence.observations {
        if epochs.get(&o.finding).is_some_and(|e| *e > o.epoch) {
            continue;
        }
        epochs.insert(o.finding, o.epoch);
        latest.remove(&o.finding);
        let level = o.likelihood.iter().rposition(|l| *l > 0.0).unwrap_or(0);
        if level > 0 && o.likelihood[0] == 0.0 {
            latest.insert(o.finding, Complaint { finding: o.finding, level, fresh: o.epoch == last });
        }
    }
    let of = |kind: FindingKind| {
        latest.values().copied().filter(|c| network.findings[c.finding].kind == kind).collect::<Vec<_>>()
    };
    let codes = of(FindingKind::Monitor);
    let mut complaint = if codes.is_empty() { of(FindingKind::Symptom) } else { codes };
    // What was found is put right too, whether or not the complaint comes from it.
    complaint.extend(of(FindingKind::Seen));
    complaint
}

/// The suspects that occur in the worlds, the most probable if there are too many, in the order of the network.
fn taking_part<'w>(worlds: impl Iterator<Item = &'w [usize]>, now: &[f64]) -> (Vec<usize>, usize) {
    let all: BTreeSet<usize> = worlds.flatten().copied().collect();
    let mut all: Vec<usize> = all.into_iter().collect();
    all.sort_by(|a, b| now[*b].total_cmp(&now[*a]).then(a.cmp(b)));
    let left_out = all.len().saturating_sub(MOST);
    all.truncate(MOST);
    all.sort_unstable();
    (all, left_out)
}

fn as_bits(suspects: &[usize], local: &HashMap<usize, usize>) -> Option<u128> {
    suspects.iter().try_fold(0, |all, s| local.get(s).map(|i| all | 1_u128 << i))
}

/// A victim that falls only in the long run is back within the job less often (judgement).
const LATER: f64 = 0.2;

/// What would bring a fault back that was put right before its cause.
fn returns(network: &Network, local: &HashMap<usize, usize>) -> Vec<Return> {
    let both = network.brings.iter().filter_map(|b| Some((b, *local.get(&b.victim)?, *local.get(&b.cause)?)));
    both.map(|(b, victim, cause)| Return { victim, cause, chance: if b.later { LATER * b.p } else { b.p } }).collect()
}

fn offer_repairs(q: &Question<'_>, local: &HashMap<usize, usize>, needed: u128, problem: &mut Problem) -> usize {
    let place: HashMap<&str, usize> = q.network.suspects.iter().enumerate().map(|(i, s)| (s.id.as_str(), i)).collect();
    let mut left_out = 0;
    for (_, repair) in q.base.repairs() {
        let removes = repair.removes.iter().filter_map(|s| local.get(place.get(s.as_str())?));
        let removes = removes.fold(0_u128, |all, i| all | 1 << i);
        if removes & needed == 0 {
            continue;
        }
        if problem.repairs.len() == MOST {
            left_out += 1;
            continue;
        }
        problem.repairs.push(RepairStep {
            id: repair.id.clone(),
            spend: q.shop.repair(repair) + q.shop.retest(),
            alone: q.shop.repair(repair),
            parts: q.shop.prices.get(&repair.id).copied().unwrap_or(repair.parts_cost.get()),
            vain: q.shop.in_vain(repair),
            backing: Backing::Codes,
            removes,
            fails: repair.fails.get(),
        });
    }
    left_out
}

type Lacking = Vec<(String, Vec<String>)>;

fn offer_tests(
    q: &Question<'_>,
    local: &HashMap<usize, usize>,
    now: &[f64],
    problem: &mut Problem,
    findings: &mut Vec<usize>,
) -> (Lacking, BTreeSet<String>, usize) {
    let place: HashMap<&str, usize> = q.network.findings.iter().enumerate().map(|(i, f)| (f.id.as_str(), i)).collect();
    let setup: HashMap<String, usize> = problem.setups.iter().enumerate().map(|(i, s)| (s.0.clone(), i)).collect();
    // Epoch in which each finding was last read.
    let mut read: HashMap<usize, usize> = HashMap::new();
    for o in &q.evidence.observations {
        let at = read.entry(o.finding).or_default();
        *at = o.epoch.max(*at);
    }
    let (mut lacking, mut unasked, mut left_out) = (Vec::new(), BTreeSet::new(), 0);
    for t in &q.base.tests {
        let own: Vec<usize> = t.readings.iter().filter_map(|r| place.get(r.id.as_str()).copied()).collect();
        let setups = t.setups.iter().filter_map(|s| setup.get(s)).fold(0_u128, |all, s| all | 1 << s);
        let silent = q.silent.iter().any(|s| s == &t.id || s.split(':').next() == Some(&t.id));
        if silent || own.iter().any(|f| read.contains_key(f)) {
            problem.paid |= setups;
        }
        let tells = own.iter().any(|f| q.network.findings[*f].links.iter().any(|l| local.contains_key(&l.suspect)));
        if !tells {
            continue;
        }
        if q.network.fit(&t.id, now) < LIKELY_TO_FIT {
            unasked.extend(q.network.unsure.iter().filter(|u| u.test == t.id).flat_map(|u| u.options.iter().cloned()));
            continue;
        }
        let missing = q.shop.missing(t);
        if !missing.is_empty() {
            lacking.push((t.id.clone(), missing.into_iter().map(str::to_owned).collect()));
            continue;
        }
        if problem.tests.len() == MOST {
            left_out += 1;
            continue;
        }
        // What a repair since then has touched may look different now. Readings that were not noted are still
        // open.
        let stands = |f: &usize| {
            let touched = |r: &RepairEvent| {
                r.suspects.iter().any(|s| q.network.findings[*f].links.iter().any(|l| l.suspect == *s))
            };
            read.get(f).is_some_and(|&epoch| !q.evidence.repairs.iter().skip(epoch).any(touched))
        };
        let open: Vec<usize> = own.iter().copied().filter(|f| !stands(f)).collect();
        let found = |f: &usize| {
            let last = q.evidence.observations.iter().rev().find(|o| o.finding == *f);
            stands(f) && last.is_some_and(|o| o.likelihood[0] < 0.5 * o.likelihood.iter().copied().fold(0.0, f64::max))
        };
        // After something was found the rest of the same test is not what comes next.
        if silent || open.is_empty() || own.iter().any(found) {
            problem.done |= 1 << problem.tests.len();
        }
        let readings = if open.is_empty() { &own } else { &open }.iter().map(|&f| {
            findings.push(f);
            problem.readings.push(model(q.network, f, local, now));
            problem.readings.len() - 1
        });
        let readings = readings.collect();
        let looks_at = own.iter().flat_map(|f| &q.network.findings[*f].links).filter_map(|l| local.get(&l.suspect));
        let looks_at = looks_at.fold(0_u128, |all, i| all | 1 << i);
        for (again, repair) in problem.again.iter_mut().zip(&problem.repairs) {
            if repair.removes & looks_at != 0 {
                *again |= 1 << problem.tests.len();
            }
        }
        problem.tests.push(TestStep { id: t.id.clone(), spend: q.shop.test(t), setups, readings });
    }
    (lacking, unasked, left_out)
}

/// Suspects outside the worlds go into the background with their posterior: `prod (1 - q + q P(level <= l))`. That is
/// exact for a single reading where the evidence does not tie them to the worlds, and they are rare where it does.
fn model(network: &Network, finding: usize, local: &HashMap<usize, usize>, now: &[f64]) -> ReadingModel {
    let f = &network.findings[finding];
    let cumulative = |levels: &[f64]| -> Vec<f64> {
        let mut sum = 0.0;
        let mut out: Vec<f64> = levels
            .iter()
            .map(|p| {
                sum += p;
                sum.min(1.0)
            })
            .collect();
        // The highest level bounds everything, whatever rounding made of the sum.
        if let Some(top) = out.last_mut() {
            *top = 1.0;
        }
        out
    };
    let mut background = cumulative(&f.leak);
    let mut links = Vec::new();
    for l in &f.links {
        let cdf = cumulative(&l.levels);
        if let Some(&i) = local.get(&l.suspect) {
            links.push((i, cdf));
        } else {
            let q = now[l.suspect];
            background.iter_mut().zip(&cdf).for_each(|(b, c)| *b *= 1.0 - q + q * c);
        }
    }
    ReadingModel { id: f.id.clone(), background, links }
}

impl Posed {
    /// The universe of the full worlds, for exact expectations.
    #[must_use]
    pub fn full_universe(&self) -> Universe {
        Universe::new(&self.problem, &self.full)
    }

    /// Probability that only handing on can end the job, because no repair removes what keeps the complaint up.
    #[must_use]
    pub fn beyond_repair(&self) -> f64 {
        let removable = self.problem.repairs.iter().fold(0, |all, r| all | r.removes);
        let start = self.universe.start.iter().map(|&(w, p)| (self.universe.worlds[w].need & !removable, p));
        start.filter(|(rest, _)| bits(*rest).next().is_some()).map(|(_, p)| p).sum()
    }
}
