//! How can a suspect live through the repairs: absent, ended by one of them, or present to the end? Knows the
//! repairs, not the observations.

use super::RepairEvent;

/// The life variants of all suspects, flattened; those of suspect `i` are `start[i]..start[i + 1]`.
///
/// The first variant of a suspect is "absent", the last is "present to the end", and those between are "present
/// until repair k", in order of k.
#[derive(Clone, Debug)]
pub(crate) struct Lives {
    pub start: Vec<usize>,
    /// Number of epochs in which the variant is present; it is present in epochs below this one.
    pub epochs: Vec<usize>,
    /// P(variant | suspect present at the start); meaningless for "absent".
    pub share: Vec<f64>,
}

impl Lives {
    /// Lists the variants. A variant ended by repair k has the share (1 - fails_k) times the `fails` of the
    /// earlier repairs of the same suspect.
    pub fn new(suspects: usize, repairs: &[RepairEvent]) -> Self {
        let mut lives = Self {
            start: Vec::with_capacity(suspects + 1),
            epochs: Vec::with_capacity(2 * suspects),
            share: Vec::with_capacity(2 * suspects),
        };
        lives.start.push(0);
        for suspect in 0..suspects {
            lives.push(0, 0.0);
            let mut left = 1.0;
            for (k, repair) in repairs.iter().enumerate().filter(|(_, r)| r.suspects.contains(&suspect)) {
                lives.push(k + 1, left * (1.0 - repair.fails));
                left *= repair.fails;
            }
            lives.push(repairs.len() + 1, left);
            lives.start.push(lives.epochs.len());
        }
        lives
    }

    fn push(&mut self, epochs: usize, share: f64) {
        self.epochs.push(epochs);
        self.share.push(share);
    }

    /// Variants of one suspect.
    pub fn of(&self, suspect: usize) -> std::ops::Range<usize> {
        self.start[suspect]..self.start[suspect + 1]
    }

    /// The variant "present to the end", that is, present now.
    pub fn survivor(&self, suspect: usize) -> usize {
        self.start[suspect + 1] - 1
    }

    /// Whether the variant is present in this epoch.
    pub fn present(&self, variant: usize, epoch: usize) -> bool {
        self.epochs[variant] > epoch
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_add_up_to_one() {
        let repair = |s: &[usize], fails| RepairEvent { suspects: s.to_vec(), fails };
        let lives = Lives::new(3, &[repair(&[1], 0.1), repair(&[0], 0.5), repair(&[1], 0.25)]);
        assert_eq!(lives.start, [0, 3, 7, 9]);
        assert_eq!(lives.epochs, [0, 2, 4, 0, 1, 3, 4, 0, 4]);
        for s in 0..3 {
            assert!((lives.of(s).map(|v| lives.share[v]).sum::<f64>() - 1.0).abs() < 1e-15);
        }
        assert_eq!(lives.share[lives.survivor(1)], 0.1 * 0.25);
    }
}
