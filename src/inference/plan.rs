//! What does the evidence do to which suspect? The structure of one inference, without any probability, so that
//! it can be used again with other numbers. The order of work is in `layout`.

use std::collections::BTreeMap;

use super::causes::Causes;
use super::grouping::Grouping;
use super::layout::{CELL_LIMIT, Layout};
use super::lives::Lives;
use super::mask::Mask;
use super::order::order;
use super::{Evidence, InferenceError, Observation};
use network::Network;

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
    /// Where its group probabilities start: first the background, then each link's rows ([`Plan::rows`]),
    /// `grouping.len()` apiece.
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
    /// Whether each grade has probabilities of its own, one after the other.
    pub graded: bool,
}

/// One effect of a variant: the place of the effect among those of its suspect, and the probabilities of its grade.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Act {
    pub op: usize,
    pub at: usize,
}

/// What a digit of the table stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Digit {
    /// The groups of this reading.
    Reading(usize),
    /// The lives of this suspect, which brings others about.
    Live(usize),
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
    /// Where the rows of each link start, parallel to `rising`: one row, or one for each grade.
    pub rows: Vec<usize>,
    /// Number of rows of each link, parallel to `rising`.
    pub row_count: Vec<usize>,
    /// What each digit stands for.
    pub digits: Vec<Digit>,
    /// Effects of all suspects; those of suspect `i` are `op_start[i]..op_start[i + 1]`, by epoch.
    pub ops: Vec<Op>,
    pub op_start: Vec<usize>,
    /// Effects of all variants; those of variant `v` are `act_start[v]..act_start[v + 1]`.
    acts: Vec<Act>,
    act_start: Vec<usize>,
    /// The first variant of the same suspect that does the same to the table: variants with the same one add up.
    pub like: Vec<usize>,
    pub causes: Causes,
    /// The live digits of each suspect that has to do with any.
    masks: Vec<Option<Mask>>,
    /// Total number of mask factors.
    pub masks_len: usize,
    /// Whether a suspect can raise an observation of more than one group, or is tied to one that can.
    pub relevant: Vec<bool>,
    pub layout: Layout,
    /// The repairs, where lives depend on them one by one.
    pub repairs: Vec<super::RepairEvent>,
    /// Ones, as many as any suspect has lives.
    ones: Vec<f64>,
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
        let causes = Causes::new(network)?;
        let mut plan = Self {
            lives: Lives::new(network, &evidence.repairs, &causes)?,
            readings: Vec::with_capacity(latest.len()),
            groups_len: 0,
            rising: Vec::new(),
            linked: Vec::new(),
            rows: Vec::new(),
            row_count: Vec::new(),
            digits: Vec::new(),
            ops: Vec::new(),
            op_start: Vec::with_capacity(n + 1),
            acts: Vec::new(),
            act_start: vec![0],
            like: Vec::new(),
            causes,
            masks: vec![None; n],
            masks_len: 0,
            relevant: vec![false; n],
            layout: Layout::default(),
            repairs: if network.brings.is_empty() { Vec::new() } else { evidence.repairs.clone() },
            ones: Vec::new(),
        };
        let mut touching: Vec<Vec<Op>> = vec![Vec::new(); n];
        for ((finding, epoch), (observation, grouping)) in latest {
            plan.add(network, observation, (finding, epoch), grouping, &mut touching);
        }
        plan.op_start.push(0);
        for (suspect, mut ops) in touching.into_iter().enumerate() {
            ops.sort_by_key(|op| (op.epoch, op.digit));
            plan.add_acts(suspect, &ops);
            plan.ops.extend(ops);
            plan.op_start.push(plan.ops.len());
        }
        plan.tie(network);
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
        self.groups_len += groups;
        for l in links {
            self.rising.push(groups > 1 && (raises(&l.levels) || l.by_grade.iter().any(|g| raises(g))));
            self.linked.push(l.suspect);
            self.rows.push(self.groups_len);
            self.row_count.push(l.by_grade.len().max(1));
            self.groups_len += l.by_grade.len().max(1) * groups;
        }
        let rising = links.iter().enumerate().filter(|(k, _)| self.rising[links_at + k]);
        let role = match rising.clone().count() {
            0 => Role::Fold,
            1 => rising.clone().next().map_or(Role::Fold, |(_, l)| Role::Private(l.suspect)),
            _ => Role::Digit(self.digits.len()),
        };
        for (k, link) in rising {
            self.relevant[link.suspect] = true;
            if let Role::Digit(digit) = role {
                let graded = !link.by_grade.is_empty();
                touching[link.suspect].push(Op { digit, epoch, at: self.rows[links_at + k], graded });
            }
        }
        if role == Role::Digit(self.digits.len()) {
            self.digits.push(Digit::Reading(self.readings.len()));
        }
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

    /// Lists what each variant of the suspect does to the table.
    fn add_acts(&mut self, suspect: usize, ops: &[Op]) {
        let variants = self.lives.of(suspect);
        let tied = self.causes.tied(suspect);
        for v in variants.clone() {
            for (op, o) in ops.iter().enumerate().filter(|(_, o)| self.lives.present(v, o.epoch)) {
                let Digit::Reading(reading) = self.digits[o.digit] else { continue };
                let own = if o.graded { self.lives.grade[v] * self.readings[reading].grouping.len() } else { 0 };
                self.acts.push(Act { op, at: o.at + own });
            }
            self.act_start.push(self.acts.len());
            let same =
                |w: &usize| self.acts_of(*w) == self.acts_of(v) && (!tied || self.lives.life[*w] == self.lives.life[v]);
            let like = (variants.start..=v).find(same).unwrap_or(v);
            self.like.push(like);
        }
    }

    /// Opens a live digit for every suspect that brings others about, and says who looks at which.
    fn tie(&mut self, network: &Network) {
        let n = network.suspects.len();
        let most = (0..n).map(|s| self.lives.lives_of(s).len()).max().unwrap_or(0);
        self.ones = vec![1.0; most];
        if network.brings.is_empty() {
            return;
        }
        let mut live = vec![0; n];
        for s in (0..n).filter(|&s| self.causes.is_cause(s)) {
            live[s] = self.digits.len();
            self.digits.push(Digit::Live(s));
        }
        let mut relevant = vec![false; n];
        (0..n).filter(|&s| self.relevant[s]).for_each(|s| relevant[self.causes.component(s)] = true);
        for s in (0..n).filter(|&s| self.causes.tied(s)) {
            self.relevant[s] |= relevant[self.causes.component(s)];
            let own = self.causes.is_cause(s);
            let mut looked_at: Vec<usize> = if own { vec![s] } else { Vec::new() };
            looked_at.extend(self.causes.of(s).iter().map(|&b| network.brings[b].cause));
            // One cause may bring the same victim about in two ways; its lives count once.
            let mut seen = Vec::new();
            looked_at.retain(|c| {
                !seen.contains(c) && {
                    seen.push(*c);
                    true
                }
            });
            let states: Vec<usize> = looked_at.iter().map(|&c| self.lives.lives_of(c).len()).collect();
            let classes: usize = states.iter().product();
            let digits = looked_at.iter().map(|&c| live[c]).collect();
            self.masks[s] = Some(Mask { digits, states, own, at: self.masks_len, classes });
            self.masks_len += classes * self.lives.lives_of(s).len();
        }
    }

    /// The live digits that the suspect looks at, where it has to do with any.
    pub fn mask(&self, suspect: usize) -> Option<&Mask> {
        self.masks[suspect].as_ref()
    }

    /// What the variant does to the table.
    pub fn acts_of(&self, variant: usize) -> &[Act] {
        &self.acts[self.act_start[variant]..self.act_start[variant + 1]]
    }

    /// The digits that a suspect has to do with: those it can raise, in the order of its effects, then the live ones.
    pub fn digits_of(&self, suspect: usize) -> impl Iterator<Item = usize> + '_ {
        let live = self.masks[suspect].iter().flat_map(|m| m.digits.iter().copied());
        self.ops_of(suspect).iter().map(|o| o.digit).chain(live)
    }

    /// The reading behind a digit; nothing for a live one.
    pub fn reading_of(&self, digit: usize) -> Option<&Reading> {
        match self.digits[digit] {
            Digit::Reading(r) => Some(&self.readings[r]),
            Digit::Live(_) => None,
        }
    }

    /// So many ones.
    pub fn ones(&self, n: usize) -> &[f64] {
        &self.ones[..n]
    }

    /// Suspects that touch a reading, in the order of its finding's links.
    pub fn linked(&self, reading: &Reading) -> &[usize] {
        &self.linked[reading.links_at..reading.links_end]
    }

    /// Number of groups of a digit.
    pub fn digit_groups(&self, digit: usize) -> usize {
        match self.digits[digit] {
            Digit::Reading(r) => self.readings[r].grouping.len(),
            Digit::Live(s) => self.lives.lives_of(s).len(),
        }
    }

    /// Effects of one suspect on digits.
    pub fn ops_of(&self, suspect: usize) -> &[Op] {
        &self.ops[self.op_start[suspect]..self.op_start[suspect + 1]]
    }

    /// Whether the suspect touches no digit, and so is independent of all others given the evidence.
    pub fn is_free(&self, suspect: usize) -> bool {
        self.op_start[suspect] == self.op_start[suspect + 1] && self.masks[suspect].is_none()
    }

    /// Chooses the order of these suspects and places the digits for it; suspects that touch no digit come last.
    pub fn lay_out(&self, suspects: &[usize], free: &[usize]) -> Result<Layout, InferenceError> {
        let groups: Vec<usize> = (0..self.digits.len()).map(|d| self.digit_groups(d)).collect();
        let items: Vec<Vec<usize>> = suspects.iter().map(|&s| self.digits_of(s).collect()).collect();
        let entangled = order(&groups, &items).into_iter().map(|i| (suspects[i], items[i].as_slice()));
        let none: &[usize] = &[];
        let ordered: Vec<(usize, &[usize])> = entangled.chain(free.iter().map(|&s| (s, none))).collect();
        Layout::new(&groups, &ordered).map_err(|wide| {
            let readings = wide.digits.iter().filter_map(|&d| self.reading_of(d));
            let mut findings: Vec<usize> = readings.map(|r| r.finding).collect();
            findings.sort_unstable();
            findings.dedup();
            InferenceError::TooWide { cells: wide.cells, limit: CELL_LIMIT, findings }
        })
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
