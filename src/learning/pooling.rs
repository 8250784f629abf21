//! How alike are the groups (makes, models, ages)? Partial pooling with its strength estimated from the data
//! (empirical Bayes). Knows counts only, not what the groups are.

use statrs::function::gamma::{digamma, ln_gamma};

/// Hits among trials in one group.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Group {
    /// Hits.
    pub hits: f64,
    /// Trials, at least as many.
    pub trials: f64,
}

/// Alpha and beta of the Beta distribution that the groups' own shares come from, by the moments of the raw shares:
/// mean m and variance v (divisor n - 1) give alpha + beta = m (1 - m) / v - 1 (Gelman et al., *Bayesian Data
/// Analysis*, 3rd ed., section 5.1). Nothing when the shares vary less than a single Beta variable can.
#[must_use]
pub fn moments(groups: &[Group]) -> Option<(f64, f64)> {
    let shares: Vec<f64> = groups.iter().filter(|g| g.trials > 0.0).map(|g| g.hits / g.trials).collect();
    let n = shares.len() as f64;
    let mean = shares.iter().sum::<f64>() / n;
    let variance = shares.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let strength = mean * (1.0 - mean) / variance - 1.0;
    (strength > 0.0 && strength.is_finite()).then_some((mean * strength, (1.0 - mean) * strength))
}

/// ln P(hits | alpha, beta) over all groups, without the binomial coefficients: beta-binomial.
#[must_use]
pub fn ln_beta_binomial(groups: &[Group], alpha: f64, beta: f64) -> f64 {
    let ln_beta = |a: f64, b: f64| ln_gamma(a) + ln_gamma(b) - ln_gamma(a + b);
    groups.iter().map(|g| ln_beta(alpha + g.hits, beta + g.trials - g.hits) - ln_beta(alpha, beta)).sum()
}

/// Alpha and beta of highest marginal likelihood, by the fixed point of T. Minka ("Estimating a Dirichlet
/// distribution", 2000, section 3) from the moments or, failing those, from strength 10.
#[must_use]
pub fn most_likely(groups: &[Group]) -> (f64, f64) {
    let (hits, trials) = groups.iter().fold((0.0, 0.0), |(h, n), g| (h + g.hits, n + g.trials));
    let mean = (hits + 0.5) / (trials + 1.0);
    let (mut a, mut b) = moments(groups).unwrap_or((10.0 * mean, 10.0 * (1.0 - mean)));
    for _ in 0..100_000 {
        let strength = a + b;
        let (mut of_a, mut of_b, mut of_all) = (0.0, 0.0, 0.0);
        for g in groups {
            of_a += digamma(g.hits + a) - digamma(a);
            of_b += digamma(g.trials - g.hits + b) - digamma(b);
            of_all += digamma(g.trials + strength) - digamma(strength);
        }
        let (next_a, next_b) = (a * of_a / of_all, b * of_b / of_all);
        let still = (next_a / a - 1.0).abs() + (next_b / b - 1.0).abs() < 1e-11;
        (a, b) = (next_a, next_b);
        // Groups that differ less than chance alone drive the strength to infinity: one pool.
        if still || a + b > STRONGEST {
            break;
        }
    }
    (a, b)
}

/// Strength beyond which groups count as one pool.
pub const STRONGEST: f64 = 1e6;

/// How strongly groups of several categories are pooled towards common shares.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strength {
    /// How many jobs the common shares are worth to a group; [`STRONGEST`] means one pool.
    pub jobs: f64,
    /// ln of the likelihood ratio between this strength and one pool: what the data say for telling groups apart.
    pub ln_ratio: f64,
}

/// Strength of highest marginal likelihood of Dirichlet-multinomial groups around common shares.
///
/// Each group holds (category, jobs), sparse. The likelihood is
/// prod over groups of Γ(K) / Γ(K + n) × prod over categories of Γ(K m_c + n_c) / Γ(K m_c), searched over ln K.
/// The common shares are taken as known, so the strength is a little too high when there are few groups. Where a coarse look finds
/// less than half of `least` for telling them apart they are one pool, and the strength is not looked for any further.
#[must_use]
pub fn strength(groups: &[Vec<(usize, f64)>], shares: &[f64], least: f64) -> Strength {
    let value = |ln_k: f64| ln_dirichlet_multinomial(groups, shares, ln_k.exp());
    // Golden section on ln K: the likelihood is unimodal in all but contrived cases, and a coarse scan picks the
    // right hill in those.
    let (lowest, highest) = (0.5_f64.ln(), STRONGEST.ln());
    let steps = 30;
    let at = |i: usize| lowest + (highest - lowest) * i as f64 / steps as f64;
    let coarse: Vec<f64> = (0..=steps).map(|i| value(at(i))).collect();
    let best = (0..=steps).max_by(|&i, &j| coarse[i].total_cmp(&coarse[j]).then(i.cmp(&j))).unwrap_or(steps);
    if coarse[best] - coarse[steps] < 0.5 * least {
        return Strength { jobs: STRONGEST, ln_ratio: 0.0 };
    }
    let (mut low, mut high) = (at(best.saturating_sub(1)), at((best + 1).min(steps)));
    let golden = 0.5 * (5.0_f64.sqrt() - 1.0);
    while high - low > 1e-6 {
        let (x, y) = (high - golden * (high - low), low + golden * (high - low));
        if value(x) < value(y) { low = x } else { high = y }
    }
    let jobs = (0.5 * (low + high)).exp();
    let ln_ratio = (value(jobs.ln()) - value(highest)).max(0.0);
    Strength { jobs: if jobs > 0.99 * STRONGEST { STRONGEST } else { jobs }, ln_ratio }
}

fn ln_dirichlet_multinomial(groups: &[Vec<(usize, f64)>], shares: &[f64], k: f64) -> f64 {
    let mut sum = 0.0;
    for group in groups {
        let n: f64 = group.iter().map(|(_, n)| n).sum();
        sum -= ln_rising(k, n);
        for &(c, n) in group {
            sum += ln_rising((k * shares[c]).max(1e-12), n);
        }
    }
    sum
}

/// ln of Γ(x + n) / Γ(x), without cancellation where n is small against x.
pub(super) fn ln_rising(x: f64, n: f64) -> f64 {
    if n.fract() == 0.0 && n <= 64.0 {
        let mut i = 0.0;
        let mut sum = 0.0;
        while i < n {
            sum += (x + i).ln();
            i += 1.0;
        }
        return sum;
    }
    ln_gamma(x + n) - ln_gamma(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn alike_groups_become_one_pool() {
        let groups: Vec<_> = (0..30).map(|_| vec![(0, 30.0), (1, 70.0)]).collect();
        let s = strength(&groups, &[0.3, 0.7], 0.0);
        assert!(s.jobs >= STRONGEST && s.ln_ratio < 1e-3, "{s:?}");
    }

    #[test]
    fn unlike_groups_are_told_apart() {
        let groups: Vec<_> =
            (0..30).map(|i| if i % 2 == 0 { vec![(0, 80.0), (1, 20.0)] } else { vec![(0, 20.0), (1, 80.0)] }).collect();
        let s = strength(&groups, &[0.5, 0.5], 0.0);
        // Beta(a, a) with standard deviation 0.3 about: 1 / (4 (2a + 1)) = 0.09, K = 2a = 1.8.
        assert!(s.jobs < 6.0 && s.ln_ratio > 100.0, "{s:?}");
    }

    #[test]
    fn strength_of_two_categories_is_that_of_the_beta_binomial() {
        let groups: Vec<Group> = [(3.0, 20.0), (9.0, 21.0), (1.0, 33.0), (14.0, 30.0), (5.0, 12.0)]
            .map(|(hits, trials)| Group { hits, trials })
            .into();
        let (a, b) = most_likely(&groups);
        let sparse: Vec<_> = groups.iter().map(|g| vec![(0, g.hits), (1, g.trials - g.hits)]).collect();
        let s = strength(&sparse, &[a / (a + b), b / (a + b)], 0.0);
        assert!((s.jobs / (a + b) - 1.0).abs() < 1e-4, "{s:?} {a} {b}");
    }
}
