//! One vehicle's evidence made ready, so that the same question with other priors or one more observation is
//! cheap. Holds buffers; the mathematics is in `sweep`.

use super::conflict::conflict;
use super::numbers::Numbers;
use super::plan::Plan;
use super::scaled::Scaled;
use super::sweep::{Sweep, Work};
use super::{Evidence, InferenceError, Observation, Posterior};
use network::{Grade, Network};

/// A network with evidence, ready to be asked.
#[derive(Clone, Debug)]
pub struct Prepared<'n> {
    pub(crate) network: &'n Network,
    pub(crate) evidence: Evidence,
    pub(crate) plan: Plan,
    pub(crate) numbers: Numbers,
    pub(crate) sweep: Sweep,
    /// P(life variant | evidence) of the last run.
    pub(crate) variants: Vec<f64>,
    /// P(evidence) of the last run, while nothing has changed since.
    pub(crate) ran: Option<Scaled>,
}

impl<'n> Prepared<'n> {
    /// Checks the evidence, groups levels, chooses the order of the suspects and the places of the digits.
    pub fn new(network: &'n Network, evidence: &Evidence) -> Result<Self, InferenceError> {
        for (index, s) in network.suspects.iter().enumerate() {
            check_probability(index, s.prior)?;
        }
        let plan = Plan::new(network, evidence)?;
        let numbers = Numbers::from_network(&plan, network);
        let (sweep, variants) = (Sweep::default(), Vec::new());
        Ok(Self { network, evidence: evidence.clone(), plan, numbers, sweep, variants, ran: None })
    }

    /// The exact posterior with the network's own priors, or those of [`Self::set_priors`].
    pub fn posterior(&mut self) -> Result<Posterior, InferenceError> {
        let z = self.run()?;
        Ok(self.report(z))
    }

    /// Replaces the prior of every suspect for the runs that follow.
    ///
    /// # Errors
    /// When there is not one probability per suspect.
    pub fn set_priors(&mut self, priors: &[f64]) -> Result<(), InferenceError> {
        let suspects = self.network.suspects.len();
        if priors.len() != suspects {
            return Err(InferenceError::UnknownSuspect { suspect: priors.len().min(suspects) });
        }
        for (index, &p) in priors.iter().enumerate() {
            check_probability(index, p)?;
        }
        self.numbers.priors.copy_from_slice(priors);
        self.numbers.weigh(&self.plan, None);
        self.ran = None;
        Ok(())
    }

    /// The same question with one more observation; it replaces an observation of the same finding and epoch.
    /// Priors set with [`Self::set_priors`] are kept.
    pub fn with(&self, observation: Observation) -> Result<Self, InferenceError> {
        let mut evidence = self.evidence.clone();
        evidence.observations.push(observation);
        let plan = Plan::new(self.network, &evidence)?;
        let mut numbers = Numbers::from_network(&plan, self.network);
        numbers.priors.copy_from_slice(&self.numbers.priors);
        numbers.weigh(&plan, None);
        let (sweep, variants) = (Sweep::default(), Vec::new());
        Ok(Self { network: self.network, evidence, plan, numbers, sweep, variants, ran: None })
    }

    /// Runs both passes and leaves the marginals in `variants`.
    pub(crate) fn run(&mut self) -> Result<Scaled, InferenceError> {
        if let Some(z) = self.ran {
            return Ok(z);
        }
        let work = Work { plan: &self.plan, layout: &self.plan.layout, numbers: &self.numbers };
        let z = self.sweep.marginals(work, &mut self.variants);
        if z.is_zero() {
            return Err(conflict(self.network, &self.evidence, &self.numbers.priors));
        }
        self.ran = Some(z);
        Ok(z)
    }

    /// P(evidence) with the current weights, without marginals.
    pub(crate) fn evidence_now(&mut self) -> Scaled {
        let work = Work { plan: &self.plan, layout: &self.plan.layout, numbers: &self.numbers };
        self.sweep.evidence(work)
    }

    /// P(suspect absent now | evidence) of the last run, added up from its parts rather than from one minus.
    pub(crate) fn not_now(&self, suspect: usize) -> f64 {
        self.plan.lives.split(suspect, &self.variants).1
    }

    /// P(suspect present now | evidence) of the last run.
    pub(crate) fn now(&self, suspect: usize) -> f64 {
        self.plan.lives.split(suspect, &self.variants).0
    }

    /// P(suspect present now at this grade | evidence) of the last run.
    pub(crate) fn now_at(&self, suspect: usize, grade: usize) -> f64 {
        let lives = &self.plan.lives;
        lives.of(suspect).filter(|&v| lives.now(v) && lives.grade[v] == grade).map(|v| self.variants[v]).sum()
    }

    /// P(grade | suspect present now, evidence) of the last run; empty where it has none.
    fn grades(&self, suspect: usize) -> Vec<f64> {
        let grades = &self.network.suspects[suspect].grades;
        let now = self.now(suspect);
        let at = |(grade, own): (usize, &Grade)| {
            if now > 0.0 { self.now_at(suspect, grade) / now } else { own.share }
        };
        grades.iter().enumerate().map(at).collect()
    }

    fn report(&self, z: Scaled) -> Posterior {
        let suspects = 0..self.network.suspects.len();
        let lives = &self.plan.lives;
        let at_start = |s| lives.of(s).filter(|&v| lives.present(v, 0)).map(|v| self.variants[v]).sum();
        Posterior {
            ln_evidence: z.ln(),
            now: suspects.clone().map(|s| self.now(s)).collect(),
            at_start: suspects.clone().map(at_start).collect(),
            grades: suspects.map(|s| self.grades(s)).collect(),
            frontier: self.plan.layout.widest,
        }
    }
}

pub(crate) fn check_probability(index: usize, value: f64) -> Result<(), InferenceError> {
    let ok = (0.0..=1.0).contains(&value);
    if ok { Ok(()) } else { Err(InferenceError::BadNumber { what: "prior of suspect", index, value }) }
}
