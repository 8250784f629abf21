//! How can a suspect live through the repairs: absent, ended by one of them, brought about again, present to the end; and
//! at which grade? Knows the repairs, not the observations.

use super::causes::{Causes, Presence};
use super::lanes::Real;
use super::{InferenceError, RepairEvent};
use network::Network;

/// Repairs of one victim that may each bring it back; more would make too many lives.
const MOST_RETURNS: usize = 6;

/// The variants of all suspects, flattened; those of suspect `i` are `start[i]..start[i + 1]`. A variant is a life and,
/// for graded suspects, a grade. The first variant of a suspect is "absent".
#[derive(Clone, Debug)]
pub(crate) struct Lives {
    pub start: Vec<usize>,
    /// The epochs in which the variant is present.
    pub presence: Vec<Presence>,
    /// Which life of its suspect a variant has, 0 being "absent".
    pub life: Vec<usize>,
    /// Its grade; 0 where there are none.
    pub grade: Vec<usize>,
    /// P(life | present at the start) for suspects that nothing brings about, 1 for victims and for "absent".
    pub share: Vec<f64>,
    /// The presence of every life, flattened like the variants.
    pub lives: Vec<Presence>,
    pub lives_start: Vec<usize>,
    /// The present.
    pub last: usize,
}

impl Lives {
    /// Lists the variants. A life ended by repair k has the share (1 - fails_k) times the `fails` of the earlier repairs
    /// of the same suspect. A victim's life is any pattern of coming and going: how likely it is depends on its causes.
    pub fn new(network: &Network, repairs: &[RepairEvent], causes: &Causes) -> Result<Self, InferenceError> {
        let last = repairs.len();
        if last >= Presence::BITS as usize {
            return Err(InferenceError::TooManyRepairs { repairs: last, limit: Presence::BITS as usize - 1 });
        }
        let mut lives = Self {
            start: vec![0],
            presence: Vec::with_capacity(2 * network.suspects.len()),
            life: Vec::new(),
            grade: Vec::new(),
            share: Vec::new(),
            lives: Vec::new(),
            lives_start: vec![0],
            last,
        };
        for (suspect, s) in network.suspects.iter().enumerate() {
            let touching = |r: &(usize, &RepairEvent)| r.1.suspects.contains(&suspect);
            let touching: Vec<(usize, f64)> =
                repairs.iter().enumerate().filter(touching).map(|(k, r)| (k, r.fails)).collect();
            let own = if causes.of(suspect).is_empty() {
                ending(&touching, last)
            } else {
                if touching.len() > MOST_RETURNS {
                    return Err(InferenceError::TooManyRepairs { repairs: touching.len(), limit: MOST_RETURNS });
                }
                patterns(&touching, last)
            };
            for (life, (presence, share)) in own.into_iter().enumerate() {
                lives.lives.push(presence);
                for grade in 0..if life == 0 { 1 } else { s.grades.len().max(1) } {
                    lives.presence.push(presence);
                    lives.life.push(life);
                    lives.grade.push(grade);
                    lives.share.push(share);
                }
            }
            lives.start.push(lives.presence.len());
            lives.lives_start.push(lives.lives.len());
        }
        Ok(lives)
    }

    /// Variants of one suspect.
    pub fn of(&self, suspect: usize) -> std::ops::Range<usize> {
        self.start[suspect]..self.start[suspect + 1]
    }

    /// The lives of one suspect, "absent" first.
    pub fn lives_of(&self, suspect: usize) -> &[Presence] {
        &self.lives[self.lives_start[suspect]..self.lives_start[suspect + 1]]
    }

    /// Whether the variant is present in this epoch.
    pub fn present(&self, variant: usize, epoch: usize) -> bool {
        self.presence[variant] >> epoch & 1 == 1
    }

    /// Whether the variant is present now.
    pub fn now(&self, variant: usize) -> bool {
        self.present(variant, self.last)
    }

    /// Sum of `of` over the variants of a suspect that are present now, and over those that are not.
    pub fn split<T: Real>(&self, suspect: usize, of: &[T]) -> (T, T) {
        self.of(suspect).fold((T::default(), T::default()), |(now, not), v| {
            if self.now(v) { (now + of[v], not) } else { (now, not + of[v]) }
        })
    }
}

/// The epochs below this one.
fn until(epochs: usize) -> Presence {
    if epochs >= Presence::BITS as usize { Presence::MAX } else { (1 << epochs) - 1 }
}

/// Absent, ended by each repair, present to the end.
fn ending(touching: &[(usize, f64)], last: usize) -> Vec<(Presence, f64)> {
    let mut own = vec![(0, 1.0)];
    let mut left = 1.0;
    for &(k, fails) in touching {
        own.push((until(k + 1), left * (1.0 - fails)));
        left *= fails;
    }
    own.push((until(last + 1), left));
    own
}

/// Every pattern of being there or not between repairs that touch the suspect, never there first.
fn patterns(touching: &[(usize, f64)], last: usize) -> Vec<(Presence, f64)> {
    let mut bounds: Vec<usize> = std::iter::once(0).chain(touching.iter().map(|(k, _)| k + 1)).collect();
    bounds.push(last + 1);
    let spans: Vec<Presence> = bounds.windows(2).map(|b| until(b[1]) & !until(b[0])).collect();
    (0..1_usize << spans.len())
        .map(|set| {
            let there = spans.iter().enumerate().filter(|(i, _)| set >> i & 1 == 1);
            (there.fold(0, |all, (_, span)| all | span), 1.0)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use network::{Bring, Suspect};

    #[test]
    fn shares_add_up_to_one() {
        let repair = |s: &[usize], fails| RepairEvent::new(s.to_vec(), fails);
        let suspects = (0..3).map(|i| Suspect::plain(format!("s{i}"), 0.1, 1.0)).collect();
        let network = Network { suspects, ..Network::default() };
        let repairs = [repair(&[1], 0.1), repair(&[0], 0.5), repair(&[1], 0.25)];
        let lives = Lives::new(&network, &repairs, &Causes::new(&network).unwrap()).unwrap();
        assert_eq!(lives.start, [0, 3, 7, 9]);
        assert_eq!(lives.presence, [0, 0b11, 0b1111, 0, 0b1, 0b111, 0b1111, 0, 0b1111]);
        for s in 0..3 {
            assert!((lives.of(s).skip(1).map(|v| lives.share[v]).sum::<f64>() - 1.0).abs() < 1e-15);
        }
        assert_eq!(lives.share[6], 0.1 * 0.25);
    }

    #[test]
    fn a_victim_may_come_back() {
        let suspects = (0..2).map(|i| Suspect::plain(format!("s{i}"), 0.1, 1.0)).collect();
        let brings = vec![Bring { cause: 0, victim: 1, p: 0.5, weight: 1.0, later: false }];
        let network = Network { suspects, brings, ..Network::default() };
        let repairs = [RepairEvent::new(vec![1], 0.1)];
        let lives = Lives::new(&network, &repairs, &Causes::new(&network).unwrap()).unwrap();
        assert_eq!(lives.lives_of(0), [0, 0b11]);
        assert_eq!(lives.lives_of(1), [0, 0b01, 0b10, 0b11]);
    }
}
