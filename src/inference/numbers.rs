//! The probabilities of one inference, laid out as its plan wants them. Values come from the network or from a
//! draw (`sample`); which observation does what is the plan's business.

use super::grouping::max_with;
use super::plan::{Plan, Reading, Role};
use super::scaled::{Scaled, exponent_of, pow2};
use crate::network::Network;

/// Numbers that go with a [`Plan`].
#[derive(Clone, Debug, Default)]
pub(crate) struct Numbers {
    /// P(suspect).
    pub priors: Vec<f64>,
    /// P(group | background alone) and P(group | suspect alone); see [`Reading::at`].
    pub groups: Vec<f64>,
    /// Running sums of `groups`, filled for links only.
    pub cumulative: Vec<f64>,
    /// Weight of each life variant after everything that folds, largest of each suspect in [1, 2) unless it is free.
    pub weights: Vec<f64>,
    /// Factor common to everything: folded backgrounds, powers of two, suspects that are free.
    pub scale: Scaled,
}

impl Numbers {
    /// Takes priors and group probabilities from the network and computes the weights.
    pub fn from_network(plan: &Plan, network: &Network) -> Self {
        let mut numbers = Self::default();
        numbers.take_priors(network);
        numbers.take_groups(plan, network);
        numbers.weigh(plan, None);
        numbers
    }

    /// Takes the priors from the network.
    pub fn take_priors(&mut self, network: &Network) {
        self.priors.clear();
        self.priors.extend(network.suspects.iter().map(|s| s.prior));
    }

    fn take_groups(&mut self, plan: &Plan, network: &Network) {
        self.groups.resize(plan.groups_len, 0.0);
        for r in &plan.readings {
            let (n, finding) = (r.grouping.len(), &network.findings[r.finding]);
            let all = std::iter::once(&finding.leak).chain(finding.links.iter().map(|l| &l.levels));
            let end = r.at + n * (finding.links.len() + 1);
            for (levels, out) in all.zip(self.groups[r.at..end].chunks_exact_mut(n)) {
                r.grouping.sum_into(levels, out);
            }
        }
    }

    /// Computes running sums, weights and scale from priors and group probabilities, leaving out one folded
    /// reading if asked to. `links` of a reading are looked up in the plan, not in the network.
    pub fn weigh(&mut self, plan: &Plan, skip: Option<usize>) {
        self.cumulative.resize(plan.groups_len, 0.0);
        self.scale = Scaled::ONE;
        self.weights.clear();
        for (suspect, &p) in self.priors.iter().enumerate() {
            let variants = plan.lives.of(suspect);
            self.weights.push(1.0 - p);
            self.weights.extend(plan.lives.share[variants].iter().skip(1).map(|share| p * share));
        }
        for (index, reading) in plan.readings.iter().enumerate() {
            if skip != Some(index) {
                self.scale.exponent += reading.grouping.exponent;
                self.fold(plan, reading);
            }
        }
        for suspect in 0..self.priors.len() {
            let range = plan.lives.of(suspect);
            if plan.is_free(suspect) {
                self.scale.times(self.weights[range].iter().sum());
            } else {
                self.rescale(range);
            }
        }
    }

    fn fold(&mut self, plan: &Plan, r: &Reading) {
        let n = r.grouping.len();
        let leak = r.at..r.at + n;
        if r.role == Role::Fold {
            let of_leak = expected(&self.groups[leak.clone()], &r.grouping.likelihood);
            self.scale.times(of_leak);
        }
        for (k, &suspect) in plan.linked(r).iter().enumerate() {
            let at = r.at + (k + 1) * n;
            if !plan.rising[r.links_at + k] {
                // Impossible levels are missing from the groups, so the sum may be below one.
                let possible = self.groups[at..at + n].iter().sum();
                self.scale_variants(plan, suspect, r.epoch, 1.0, possible);
            } else if let Role::Digit(_) = r.role {
                let mut sum = 0.0;
                for g in at..at + n {
                    sum += self.groups[g];
                    self.cumulative[g] = sum;
                }
            } else {
                let mut dist = self.groups[leak.clone()].to_vec();
                let alone = expected(&dist, &r.grouping.likelihood);
                max_with(&mut dist, &self.groups[at..at + n]);
                let both = expected(&dist, &r.grouping.likelihood);
                self.scale_variants(plan, suspect, r.epoch, alone, both);
            }
        }
    }

    /// Multiplies the variants of a suspect by one factor if absent in this epoch, by another if present.
    fn scale_variants(&mut self, plan: &Plan, suspect: usize, epoch: usize, absent: f64, present: f64) {
        let range = plan.lives.of(suspect);
        let mut largest = 0.0_f64;
        for v in range.clone() {
            self.weights[v] *= if plan.lives.present(v, epoch) { present } else { absent };
            largest = largest.max(self.weights[v]);
        }
        if largest < 1e-100 {
            self.rescale(range);
        }
    }

    /// Divides the variants' weights by a power of two so that the largest is in [1, 2).
    fn rescale(&mut self, range: std::ops::Range<usize>) {
        let largest = self.weights[range.clone()].iter().copied().fold(0.0, f64::max);
        let e = exponent_of(largest);
        if e != 0 {
            for w in &mut self.weights[range] {
                *w *= pow2(-e);
            }
            self.scale.exponent += e;
        }
    }
}

/// `sum of p × likelihood`.
pub(crate) fn expected(p: &[f64], likelihood: &[f64]) -> f64 {
    p.iter().zip(likelihood).map(|(p, l)| p * l).sum()
}
