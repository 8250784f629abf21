//! Which suspects bring which others about: who is cause and victim of whom, and how likely a victim's life is, given the
//! lives of its causes. Knows no observation.
//!
//! P(victim present | causes) = 1 - (1 - p) × product over present causes of (1 - c): a noisy-OR in which the victim's own
//! prior is the background. A victim that is renewed while a cause is still there falls again with the same chance, unless it
//! does so only later than the job lasts (`Bring::later`, unless the repair was made long ago).

use super::lanes::Real;
use super::{InferenceError, RepairEvent};
use network::Network;

/// Epochs as bits: no job has as many repairs.
pub(crate) type Presence = u128;

/// Causes and victims.
#[derive(Clone, Debug, Default)]
pub(crate) struct Causes {
    /// For each suspect, the indices into [`Network::brings`] of what brings it about; empty without any.
    of: Vec<Vec<usize>>,
    /// Whether the suspect brings others about.
    causes: Vec<bool>,
    /// The lowest suspect of the component that each suspect belongs to.
    component: Vec<usize>,
}

impl Causes {
    /// # Errors
    /// A circle, or a suspect that does not exist.
    pub fn new(network: &Network) -> Result<Self, InferenceError> {
        let n = network.suspects.len();
        if network.brings.is_empty() {
            return Ok(Self::default());
        }
        let mut it = Self { of: vec![Vec::new(); n], causes: vec![false; n], component: (0..n).collect() };
        for (index, b) in network.brings.iter().enumerate() {
            if let Some(suspect) = [b.cause, b.victim].into_iter().find(|&s| s >= n) {
                return Err(InferenceError::UnknownSuspect { suspect });
            }
            if !(0.0..=1.0).contains(&b.p) {
                return Err(InferenceError::BadNumber { what: "chance of bringing about", index, value: b.p });
            }
            it.of[b.victim].push(index);
            it.causes[b.cause] = true;
            let (a, b) = (it.component[b.cause], it.component[b.victim]);
            let (low, high) = (a.min(b), a.max(b));
            it.component.iter_mut().filter(|c| **c == high).for_each(|c| *c = low);
        }
        it.refuse_circles(network)?;
        Ok(it)
    }

    /// Takes away, again and again, whoever has no cause left; what stays goes round in a circle.
    fn refuse_circles(&self, network: &Network) -> Result<(), InferenceError> {
        let mut left: Vec<usize> = (0..self.of.len()).filter(|&s| self.tied(s)).collect();
        loop {
            let rootless = |s: &usize| self.of[*s].iter().any(|&b| left.contains(&network.brings[b].cause));
            let next: Vec<usize> = left.iter().copied().filter(rootless).collect();
            if next.is_empty() {
                return Ok(());
            }
            if next.len() == left.len() {
                return Err(InferenceError::Circle { suspects: next });
            }
            left = next;
        }
    }

    /// What brings the suspect about, as indices into [`Network::brings`].
    pub fn of(&self, suspect: usize) -> &[usize] {
        self.of.get(suspect).map_or(&[], Vec::as_slice)
    }

    /// Whether the suspect brings others about.
    pub fn is_cause(&self, suspect: usize) -> bool {
        self.causes.get(suspect).copied().unwrap_or(false)
    }

    /// Whether the suspect is a cause or a victim.
    pub fn tied(&self, suspect: usize) -> bool {
        self.is_cause(suspect) || !self.of(suspect).is_empty()
    }

    /// The component of the suspect: the same number for all that are tied together.
    pub fn component(&self, suspect: usize) -> usize {
        self.component.get(suspect).copied().unwrap_or(suspect)
    }
}

/// One cause of a victim with its life, and its chance of bringing it about.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Acting<T> {
    pub presence: Presence,
    pub p: T,
    pub later: bool,
}

/// P(this life | own prior, the causes' lives). Every factor is non-negative, and P(there) is added up rather than taken
/// from one.
pub(crate) fn life_probability<T: Real>(
    suspect: usize,
    life: Presence,
    prior: T,
    causes: &[Acting<T>],
    repairs: &[RepairEvent],
) -> T {
    let one = T::of(1.0);
    let brought = |epoch: usize, all: bool, own: T| {
        causes
            .iter()
            .filter(|c| c.presence >> epoch & 1 == 1 && (all || !c.later))
            .fold((own, one - own), |(there, not), c| (there + not * c.p, not * (one - c.p)))
    };
    let (there, not) = brought(0, true, prior);
    let mut before = life & 1 == 1;
    let mut probability = if before { there } else { not };
    for (k, repair) in repairs.iter().enumerate() {
        let now = life >> (k + 1) & 1 == 1;
        if !repair.suspects.contains(&suspect) {
            if now != before {
                return T::default();
            }
            continue;
        }
        let stays = if before { repair.fails } else { 0.0 };
        let (there, not) = brought(k + 1, repair.long_ago, T::of(stays));
        probability *= if now { there } else { not };
        before = now;
    }
    probability
}
