//! Which levels of an observed finding need to be told apart? Those with different likelihood; not where the
//! numbers come from.

use super::lanes::Real;
use super::scaled::{exponent_of, pow2};

/// Levels of one finding, merged as far as one observation allows.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Grouping {
    /// Group of each level, up to the highest possible one. Levels beyond are impossible and have no entry.
    pub group_of: Vec<usize>,
    /// Likelihood of each group, divided by `2^exponent` so that the largest lies in [1, 2).
    pub likelihood: Vec<f64>,
    pub exponent: i64,
}

impl Grouping {
    /// Merges neighbouring levels of equal likelihood and drops the impossible ones at the top.
    ///
    /// Only levels at the top may be dropped: a level of likelihood zero below a possible one can still be
    /// passed by a weaker cause, since the finding shows the highest level that any cause reaches.
    pub fn of(likelihood: &[f64]) -> Option<Self> {
        let top = likelihood.iter().rposition(|&x| x > 0.0)?;
        let exponent = exponent_of(likelihood.iter().copied().fold(0.0, f64::max));
        let mut groups: Vec<f64> = Vec::with_capacity(top + 1);
        let mut group_of = Vec::with_capacity(top + 1);
        let mut last = f64::NAN;
        for &x in &likelihood[..=top] {
            if x != last {
                // The exponent is taken off in two halves because one power may leave the range of f64.
                groups.push(x * pow2(-(exponent / 2)) * pow2(-(exponent - exponent / 2)));
                last = x;
            }
            group_of.push(groups.len() - 1);
        }
        Some(Self { group_of, likelihood: groups, exponent })
    }

    /// Number of groups.
    pub fn len(&self) -> usize {
        self.likelihood.len()
    }

    /// Adds the probabilities of the levels up by group into `out`.
    pub fn sum_into<T: Real>(&self, levels: &[T], out: &mut [T]) {
        out.fill(T::default());
        for (&p, &g) in levels.iter().zip(&self.group_of) {
            out[g] += p;
        }
    }
}

/// Distribution of the higher of two independent levels: `dist` becomes that of max(dist, other).
///
/// `P(max = s) = P(a = s) P(b <= s) + P(a < s) P(b = s)`; no term is negative.
pub(crate) fn max_with<T: Real>(dist: &mut [T], other: &[T]) {
    let (mut below, mut cumulative) = (T::default(), T::default());
    for (d, &o) in dist.iter_mut().zip(other) {
        cumulative += o;
        let old = *d;
        *d = old * cumulative + below * o;
        below += old;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hard_levels_make_one_or_two_groups() {
        let lowest = Grouping::of(&[1.0, 0.0, 0.0]).map(|g| (g.group_of, g.likelihood));
        assert_eq!(lowest, Some((vec![0], vec![1.0])));
        let middle = Grouping::of(&[0.0, 0.0, 1.0, 0.0]).map(|g| (g.group_of, g.likelihood));
        assert_eq!(middle, Some((vec![0, 0, 1], vec![0.0, 1.0])));
        assert_eq!(Grouping::of(&[0.0, 0.0]), None);
    }

    #[test]
    fn equal_neighbours_merge_and_scale_is_kept() {
        let g = Grouping::of(&[0.25, 0.25, 6.0, 0.25]);
        assert_eq!(
            g,
            Some(Grouping { group_of: vec![0, 0, 1, 2], likelihood: vec![0.0625, 1.5, 0.0625], exponent: 2 })
        );
    }

    #[test]
    fn maximum_of_two_dice() {
        let mut d = [0.5, 0.25, 0.25];
        max_with(&mut d, &[0.5, 0.5, 0.0]);
        assert_eq!(d, [0.25, 0.5, 0.25]);
    }
}
