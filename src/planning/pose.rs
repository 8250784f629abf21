//! From a base, a vehicle's evidence and a shop to the decision problem.

use super::offers::{finders, offer_repairs, offer_tests};
use super::problem::{MOST, Problem, Return, bits};
use super::question::Question;
use super::split::{Complaint, needed};
use super::universe::{Truth, Universe};
use inference::{Evidence, InferenceError, Posterior, Prepared, Scope};
use network::{FindingKind, Network};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// Why no problem could be posed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// Inference refused.
    #[error(transparent)]
    Inference(#[from] InferenceError),
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
    /// Tests and repairs that this vehicle and complaint could use but whose tools are missing, with those tools.
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
        setups: {
            let setups = q.base.setups.iter().map(|s| (s.id.clone(), q.shop.setup(s)));
            setups.chain(finders(q)).take(MOST).collect()
        },
        hand_on: q.shop.hand_on(),
        verify: q.shop.retest(),
        aim: q.shop.aim,
        again: Vec::new(),
        paid: 0,
        done: 0,
        repaired: !q.evidence.repairs.is_empty(),
    };
    let (mut lacking, more) = offer_repairs(q, &local, lean.keys().fold(0, |all, t| all | t.need), &mut problem);
    left_out += more;
    problem.again = vec![0; problem.repairs.len()];
    let mut findings = Vec::new();
    let (tests, unasked, more) = offer_tests(q, &local, now, &mut problem, &mut findings);
    lacking.extend(tests);
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
