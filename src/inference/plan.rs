//! What does the evidence do to which suspect? The structure of one inference, without any probability, so that
//! it can be used again with other numbers. The order of work is in `layout`.

use std::collections::BTreeMap;

use super::grouping::Grouping;
use super::layout::Layout;
use super::lives::Lives;
use super::order::order;
use super::{Evidence, InferenceError, Observation};
use crate::network::Network;

/// How an observation enters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Role {
    /// No suspect can raise it to another group: a factor for every suspect that touches it.
    Fold,
    /// Exactly one suspect can raise it: a factor for each life variant of that suspect.
    Private(usize),
    /// Several suspects can raise it: a digit of the table.
    Digit(usize),
}

/// One observation, prepared.
#[derive(Clone, Debug)]
pub(crate) struct Reading {
    /// Index into the observations of the evidence.
    pub observation: usize,
    pub finding: usize,
    pub epoch: usize,
    pub grouping: Grouping,
    pub role: Role,
    /// Where its group probabilities start: first the background, then each link, `grouping.len()` apiece.
    pub at: usize,
    /// Where its links start and end in [`Plan::rising`] and [`Plan::linked`].
    pub links_at: usize,
    pub links_end: usize,
}

/// The effect of a suspect on one digit.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Op {
    pub digit: usize,
    pub epoch: usize,
    /// Where the group probabilities of the link start.
    pub at: usize,
}

/// The structure of one inference.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    pub lives: Lives,
    /// Sorted by finding, then epoch, so that the order in which observations are listed changes nothing.
    pub readings: Vec<Reading>,
    /// Total number of group probabilities.
    pub groups_len: usize,
    /// Whether each link of each reading can raise it beyond its lowest group.
    pub rising: Vec<bool>,
    /// The suspect of each link of each reading, parallel to `rising`.
    pub linked: Vec<usize>,
    /// The reading behind each digit.
    pub digits: Vec<usize>,
    /// Effects of all suspects; those of suspect `i` are `op_start[i]..op_start[i + 1]`, by epoch.
    pub ops: Vec<Op>,
    pub op_start: Vec<usize>,
    /// How many of its suspect's effects a life variant has: always the first ones, since it lives from the start.
    pub reach: Vec<usize>,
    /// Whether a suspect can raise an observation of more than one group.
    pub relevant: Vec<bool>,
    pub layout: Layout,
}

impl Plan {
    /// Checks the evidence and prepares it.
    pub fn new(network: &Network, evidence: &Evidence) -> Result<Self, InferenceError> {
        let n = network.suspects.len();
        check_repairs(n, evidence)?;
        let mut latest = BTreeMap::new();
        for (index, observation) in evidence.observations.iter().enumerate() {
            let grouping = checked_grouping(network, evidence, index)?;
            latest.insert((observation.finding, observation.epoch), (index, grouping));
        }
        let mut plan = Self {
            lives: Lives::new(n, &evidence.repairs),
            readings: Vec::with_capacity(latest.len()),
            groups_len: 0,
            rising: Vec::new(),
            linked: Vec::new(),
            digits: Vec::new(),
            ops: Vec::new(),
            op_start: Vec::with_capacity(n + 1),
            reach: Vec::new(),
            relevant: vec![false; n],
            layout: Layout::default(),
        };
        let mut touching: Vec<Vec<Op>> = vec![Vec::new(); n];
        for ((finding, epoch), (observation, grouping)) in latest {
            plan.add(network, observation, (finding, epoch), grouping, &mut touching);
        }
        plan.op_start.push(0);
        for (suspect, mut ops) in touching.into_iter().enumerate() {
            ops.sort_by_key(|op| (op.epoch, op.digit));
            let epochs = plan.lives.of(suspect).map(|v| plan.lives.epochs[v]);
            plan.reach.extend(epochs.map(|lived| ops.iter().take_while(|op| op.epoch < lived).count()));
            plan.ops.extend(ops);
            plan.op_start.push(plan.ops.len());
        }
        let entangled: Vec<usize> = (0..n).filter(|&s| !plan.is_free(s)).collect();
        plan.layout = plan.lay_out(&entangled, &[])?;
        Ok(plan)
    }

    fn add(
        &mut self,
        network: &Network,
        observation: usize,
        (finding, epoch): (usize, usize),
        grouping: Grouping,
        touching: &mut [Vec<Op>],
    ) {
        let links = &network.findings[finding].links;
        let (at, links_at, groups) = (self.groups_len, self.rising.len(), grouping.len());
        // A link that never leaves the lowest possible group only scales its suspect's present variants.
        let raises = |levels: &[f64]| levels.iter().zip(&grouping.group_of).any(|(&p, &g)| g > 0 && p > 0.0);
        self.rising.extend(links.iter().map(|l| groups > 1 && raises(&l.levels)));
        self.linked.extend(links.iter().map(|l| l.suspect));
        let rising = links.iter().enumerate().filter(|(k, _)| self.rising[links_at + k]);
        let role = match rising.clone().count() {
            0 => Role::Fold,
            1 => rising.clone().next().map_or(Role::Fold, |(_, l)| Role::Private(l.suspect)),
            _ => Role::Digit(self.digits.len()),
        };
        for (k, link) in rising {
            self.relevant[link.suspect] = true;
            if let Role::Digit(digit) = role {
                touching[link.suspect].push(Op { digit, epoch, at: at + (k + 1) * groups });
            }
        }
        if role == Role::Digit(self.digits.len()) {
            self.digits.push(self.readings.len());
        }
        self.groups_len += (links.len() + 1) * groups;
        self.readings.push(Reading {
            observation,
            finding,
            epoch,
            grouping,
            role,
            at,
            links_at,
            links_end: self.linked.len(),
        });
    }

    /// Suspects that touch a reading, in the order of its finding's links.
    pub fn linked(&self, reading: &Reading) -> &[usize] {
        &self.linked[reading.links_at..reading.links_end]
    }

    /// Number of groups of a digit.
    pub fn digit_groups(&self, digit: usize) -> usize {
        self.readings[self.digits[digit]].grouping.len()
    }

    /// Effects of one suspect on digits.
    pub fn ops_of(&self, suspect: usize) -> &[Op] {
        &self.ops[self.op_start[suspect]..self.op_start[suspect + 1]]
    }

    /// Whether the suspect touches no digit, and so is independent of all others given the evidence.
    pub fn is_free(&self, suspect: usize) -> bool {
        self.op_start[suspect] == self.op_start[suspect + 1]
    }

    /// Chooses the order of these suspects and places the digits for it; suspects that touch no digit come last.
    pub fn lay_out(&self, suspects: &[usize], free: &[usize]) -> Result<Layout, InferenceError> {
        let groups: Vec<usize> = (0..self.digits.len()).map(|d| self.digit_groups(d)).collect();
        let items: Vec<Vec<usize>> =
            suspects.iter().map(|&s| self.ops_of(s).iter().map(|o| o.digit).collect()).collect();
        let entangled = order(&groups, &items).into_iter().map(|i| suspects[i]);
        let ordered: Vec<usize> = entangled.chain(free.iter().copied()).collect();
        Layout::new(self, &ordered)
    }
}

fn check_repairs(suspects: usize, evidence: &Evidence) -> Result<(), InferenceError> {
    for (index, repair) in evidence.repairs.iter().enumerate() {
        if let Some(&suspect) = repair.suspects.iter().find(|&&s| s >= suspects) {
            return Err(InferenceError::UnknownSuspect { suspect });
        }
        if !(0.0..=1.0).contains(&repair.fails) {
            return Err(InferenceError::BadNumber { what: "failure chance of repair", index, value: repair.fails });
        }
    }
    Ok(())
}

fn checked_grouping(network: &Network, evidence: &Evidence, observation: usize) -> Result<Grouping, InferenceError> {
    let Observation { finding, epoch, likelihood } = &evidence.observations[observation];
    let found = network.findings.get(*finding);
    let found = found.ok_or(InferenceError::UnknownFinding { observation, finding: *finding })?;
    let last = evidence.repairs.len();
    if *epoch > last {
        return Err(InferenceError::BadEpoch { observation, epoch: *epoch, last });
    }
    let bad = |reason| InferenceError::BadLikelihood { observation, reason };
    if likelihood.len() != found.levels.len() {
        return Err(bad("it must have one number per level"));
    }
    if !likelihood.iter().all(|x| x.is_finite() && *x >= 0.0) {
        return Err(bad("its numbers must be finite and not negative"));
    }
    Grouping::of(likelihood).ok_or_else(|| bad("every level is impossible"))
}
