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

/// Fractions of jobs that each category gets of the unsure ones, at the fixed point where
/// share_c = (alpha_c + expected jobs_c) / total.
///
/// `alpha` holds pseudo-counts and the jobs that are sure. The posterior mean is used in place of the mode, as in
/// variational treatments of small counts, since with pseudo-counts below 1 the mode lies at 0.
#[must_use]
pub fn fractions(alpha: &[f64], unsure: &[Unsure]) -> Vec<f64> {
    let total: f64 = alpha.iter().sum::<f64>() + unsure.iter().map(|u| u.jobs).sum::<f64>();
    let expected = |shares: &[f64]| {
        let mut jobs = vec![0.0; alpha.len()];
        let mut parts = Vec::new();
        for u in unsure {
            u.responsibilities(shares, &mut parts);
            for ((c, _), r) in u.likelihood.iter().zip(&parts) {
                jobs[*c] += u.jobs * r;
            }
        }
        jobs
    };
    let sure: f64 = alpha.iter().sum();
    let start = alpha.iter().map(|a| a / sure).collect();
    let (shares, _) =
        repeat(start, 1e-9, 500, |shares| expected(shares).iter().zip(alpha).map(|(n, a)| (n + a) / total).collect());
    expected(&shares)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unsure_jobs_of_one_possible_cause_count_in_full() {
        let u = [Unsure { jobs: 7.0, likelihood: vec![(1, 0.2)] }];
        let n = fractions(&[3.0, 1.0], &u);
        assert!((n[1] - 7.0).abs() < 1e-12 && n[0] == 0.0);
    }

    #[test]
    fn jobs_that_say_nothing_leave_the_shares_alone() {
        let u = [Unsure { jobs: 100.0, likelihood: vec![(0, 0.5), (1, 0.5)] }];
        let n = fractions(&[30.0, 10.0], &u);
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
        let n = fractions(&[1e-6, 1e-6], &u);
        assert!((n[0] / 1000.0 - 0.5).abs() < 1e-5, "{n:?}");
    }
}
