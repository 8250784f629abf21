//! Expectation maximisation: what do jobs say whose cause is not sure? The driver and the mixture of categories; where the likelihoods come from
//! is decided in `fit`.

/// Repeats the step until no number moves by more than the tolerance, at most `most` times.
///
/// A step is expectation and maximisation in one (A. Dempster, N. Laird, D. Rubin, "Maximum likelihood from
/// incomplete data via the EM algorithm", Journal of the Royal Statistical Society B 39, 1977). Returns the numbers
/// and how many steps were made.
pub fn repeat(
    start: Vec<f64>,
    tolerance: f64,
    most: usize,
    mut step: impl FnMut(&[f64]) -> Vec<f64>,
) -> (Vec<f64>, usize) {
    let mut now = start;
    for made in 1..=most {
        let next = step(&now);
        let moved = now.iter().zip(&next).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        now = next;
        if moved <= tolerance {
            return (now, made);
        }
    }
    (now, most)
}

/// Jobs that look alike and whose cause is not sure.
#[derive(Clone, Debug, PartialEq)]
pub struct Unsure {
    /// How many.
    pub jobs: f64,
    /// Category, and P(what was seen | category) up to a common factor; none twice.
    pub likelihood: Vec<(usize, f64)>,
}

impl Unsure {
    /// P(category | what was seen) for each of the likelihoods, given shares; all zero when none is possible.
    pub fn responsibilities(&self, shares: &[f64], out: &mut Vec<f64>) {
        out.clear();
        out.extend(self.likelihood.iter().map(|(c, l)| shares[*c] * l));
        let sum: f64 = out.iter().sum();
        if sum > 0.0 {
            out.iter_mut().for_each(|x| *x /= sum);
        }
    }
}

/// Jobs that each category gets of the unsure ones, at the fixed point between shares and expected jobs. `update`
/// gives the shares for expected jobs of the unsure ones.
///
/// With posterior means in `update`, as here, this is the variational form of the algorithm: with pseudo-counts below
/// 1 the most probable share would lie at 0.
#[must_use]
pub fn fractions(categories: usize, unsure: &[Unsure], update: impl Fn(&[f64]) -> Vec<f64>) -> Vec<f64> {
    let expected = |shares: &[f64]| {
        let mut jobs = vec![0.0; categories];
        let mut parts = Vec::new();
        for u in unsure {
            u.responsibilities(shares, &mut parts);
            for ((c, _), r) in u.likelihood.iter().zip(&parts) {
                jobs[*c] += u.jobs * r;
            }
        }
        jobs
    };
    if unsure.is_empty() {
        return vec![0.0; categories];
    }
    let start = update(&vec![0.0; categories]);
    let (shares, _) = repeat(start, 1e-8, 300, |shares| update(&expected(shares)));
    expected(&shares)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Dirichlet shares.
    fn of(alpha: &[f64], unsure: &[Unsure]) -> Vec<f64> {
        let update = |more: &[f64]| -> Vec<f64> {
            let total: f64 = alpha.iter().chain(more).sum();
            alpha.iter().zip(more).map(|(a, n)| (a + n) / total).collect()
        };
        fractions(alpha.len(), unsure, update)
    }

    #[test]
    fn unsure_jobs_of_one_possible_cause_count_in_full() {
        let u = [Unsure { jobs: 7.0, likelihood: vec![(1, 0.2)] }];
        let n = of(&[3.0, 1.0], &u);
        assert!((n[1] - 7.0).abs() < 1e-12 && n[0] == 0.0);
    }

    #[test]
    fn jobs_that_say_nothing_leave_the_shares_alone() {
        let u = [Unsure { jobs: 100.0, likelihood: vec![(0, 0.5), (1, 0.5)] }];
        let n = of(&[30.0, 10.0], &u);
        assert!((n[0] - 75.0).abs() < 1e-5 && (n[1] - 25.0).abs() < 1e-5, "{n:?}");
    }

    #[test]
    fn shares_of_a_mixture_are_found() {
        // Two causes show a sign with 0.9 and 0.2; of 1000 jobs 550 show it: the share x of the first solves
        // 0.9 x + 0.2 (1 - x) = 0.55, x = 0.5.
        let u = [
            Unsure { jobs: 550.0, likelihood: vec![(0, 0.9), (1, 0.2)] },
            Unsure { jobs: 450.0, likelihood: vec![(0, 0.1), (1, 0.8)] },
        ];
        let n = of(&[1e-6, 1e-6], &u);
        assert!((n[0] / 1000.0 - 0.5).abs() < 1e-5, "{n:?}");
    }

    /// Two kinds of signs with three levels each, three causes: shares and P(level | cause) are learned together from
    /// jobs of which only the signs are known.
    #[derive(Clone)]
    struct Numbers {
        shares: Vec<f64>,
        /// By cause, sign and level.
        signs: Vec<Vec<Vec<f64>>>,
    }

    const CAUSES: usize = 3;
    const SIGNS: usize = 2;
    const LEVELS: usize = 3;

    fn under(now: &Numbers, shown: &[([usize; SIGNS], f64)]) -> Vec<Unsure> {
        let p = |c: usize, at: &[usize; SIGNS]| (0..SIGNS).map(|s| now.signs[c][s][at[s]]).product::<f64>();
        shown
            .iter()
            .map(|(at, jobs)| Unsure { jobs: *jobs, likelihood: (0..CAUSES).map(|c| (c, p(c, at))).collect() })
            .collect()
    }

    /// ln of the likelihood of the jobs, and of the Dirichlet priors: with pseudo-counts a the mean (a + n) / sum is
    /// the most probable value under a prior of a + 1, so that sum of a ln p belongs to it.
    fn objective(now: &Numbers, shown: &[([usize; SIGNS], f64)], pseudo: f64) -> f64 {
        let jobs: f64 = under(now, shown)
            .iter()
            .map(|u| u.jobs * u.likelihood.iter().map(|(c, l)| now.shares[*c] * l).sum::<f64>().ln())
            .sum();
        let prior: f64 = now.shares.iter().chain(now.signs.iter().flatten().flatten()).map(|p| pseudo * p.ln()).sum();
        jobs + prior
    }

    fn step(now: &Numbers, shown: &[([usize; SIGNS], f64)], pseudo: f64) -> Numbers {
        let mut next = Numbers { shares: vec![pseudo; CAUSES], signs: vec![vec![vec![pseudo; LEVELS]; SIGNS]; CAUSES] };
        let mut parts = Vec::new();
        for (u, (at, _)) in under(now, shown).iter().zip(shown) {
            u.responsibilities(&now.shares, &mut parts);
            for (c, part) in parts.iter().enumerate() {
                next.shares[c] += u.jobs * part;
                (0..SIGNS).for_each(|s| next.signs[c][s][at[s]] += u.jobs * part);
            }
        }
        let normalise = |p: &mut Vec<f64>| {
            let sum: f64 = p.iter().sum();
            p.iter_mut().for_each(|p| *p /= sum);
        };
        normalise(&mut next.shares);
        next.signs.iter_mut().flatten().for_each(normalise);
        next
    }

    proptest! {
        /// Dempster, Laird and Rubin 1977, theorem 1: no step lowers the likelihood.
        #[test]
        fn no_step_lowers_the_likelihood(
            start in prop::collection::vec(0.05..1.0, CAUSES + CAUSES * SIGNS * LEVELS),
            jobs in prop::collection::vec(0.0..40.0, LEVELS * LEVELS),
            pseudo in prop::sample::select(vec![1e-6, 0.3, 2.0]),
        ) {
            let norm = |p: &[f64]| -> Vec<f64> { p.iter().map(|x| x / p.iter().sum::<f64>()).collect() };
            let sign = |c: usize, s: usize| { let at = CAUSES + (c * SIGNS + s) * LEVELS; norm(&start[at..at + LEVELS]) };
            let mut now = Numbers {
                shares: norm(&start[..CAUSES]),
                signs: (0..CAUSES).map(|c| (0..SIGNS).map(|s| sign(c, s)).collect()).collect(),
            };
            let shown: Vec<([usize; SIGNS], f64)> =
                jobs.iter().enumerate().map(|(i, n)| ([i / LEVELS, i % LEVELS], *n)).collect();
            for _ in 0..30 {
                let next = step(&now, &shown, pseudo);
                let (before, after) = (objective(&now, &shown, pseudo), objective(&next, &shown, pseudo));
                prop_assert!(after >= before - 1e-9 * before.abs().max(1.0), "{before} {after}");
                now = next;
            }
        }
    }
}
