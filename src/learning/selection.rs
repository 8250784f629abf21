//! How likely is a suspect to set each code, learned from cars that all had some code? Cars on which it set nothing
//! never came in, so the counts are cut off; this undoes the cut. Knows levels only, not codes.

use super::pooling::ln_rising;
use super::unseen::{Rate, STATED, Unseen};
use inference::Rng;
use inference::gamma::Sampler;

/// What one monitor does when one suspect alone is present: pseudo-counts and jobs.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    /// P(level | suspect), lowest level ("none") first; adds up to 1.
    pub levels: Vec<f64>,
    /// How many jobs those numbers are worth.
    pub weight: f64,
    /// Jobs of the suspect at each level; the first number is ignored.
    pub jobs: Vec<f64>,
}

/// What was learned of one monitor: distribution of P(level | suspect) by draws, and its means.
#[derive(Clone, Debug, PartialEq)]
pub struct Learned {
    /// Mean of P(level | suspect), lowest first.
    pub mean: Vec<f64>,
}

/// Learned numbers of all monitors of one suspect.
#[derive(Clone, Debug, PartialEq)]
pub struct Sets {
    /// One for each monitor.
    pub monitors: Vec<Learned>,
    /// Mean of P(some code | suspect).
    pub reach: f64,
    /// Draws: for each, the levels of each monitor, and P(some code | suspect).
    pub draws: Vec<(Vec<Vec<f64>>, f64)>,
}

/// Sweeps before the first draw is kept.
const WARM_UP: usize = 60;

/// P(some code | suspect) when its monitors work independently: 1 - prod P(none).
#[must_use]
pub fn reach(none: impl Iterator<Item = f64>) -> f64 {
    1.0 - none.product::<f64>()
}

/// Learns the levels of every monitor of a suspect from `n` jobs of it, each of which had some code.
///
/// With a = P(not none) and q = P(level | not none), the Dirichlet prior makes a and q independent. Jobs at a level
/// speak of q alone: conjugate. The a of the monitors have the likelihood
///
/// ```text
/// prod a_m^(n_m) (1 - a_m)^(n - n_m) / (1 - prod (1 - a_m))^n
/// ```
///
/// (truncated Bernoulli). With one monitor it is constant: such jobs say nothing about how often the suspect sets no
/// code, and a keeps its shipped distribution. With several, the means need no draws (`means`), and a is
/// drawn by slice sampling on the log odds (R. Neal, "Slice sampling", Annals of Statistics 31, 2003). Assumes that monitors are independent given the suspect.
#[must_use]
pub fn learn(monitors: &[Told], n: f64, draws: usize, seed: u64, stream: u64) -> Sets {
    let mut sampler = Sampler::new(Rng::new(seed, stream));
    let mut rng = Rng::new(seed ^ 0x5e7, stream);
    let alpha: Vec<Vec<f64>> = monitors.iter().map(|m| m.levels.iter().map(|p| p * m.weight).collect()).collect();
    let hits: Vec<f64> = monitors.iter().map(|m| m.jobs.iter().skip(1).sum::<f64>().min(n)).collect();
    let shape: Vec<(f64, f64)> = alpha.iter().map(|a| (a[1..].iter().sum::<f64>().max(1e-9), a[0].max(1e-9))).collect();
    let mut ln_odds: Vec<f64> = shape.iter().map(|(a, b)| (a / b).ln()).collect();
    let informed = monitors.len() > 1 && n > 0.0;
    let mut out = Vec::with_capacity(draws);
    let mut set = vec![0.0; monitors.len()];
    for sweep in 0..draws + if informed { WARM_UP } else { 0 } {
        for m in 0..monitors.len() {
            if informed {
                // P(no code of the other monitors) stays while this one moves.
                let others: f64 = ln_odds.iter().enumerate().filter(|(k, _)| *k != m).map(|(_, t)| none(*t)).product();
                let ln_density = |t: f64| {
                    let (ln_a, ln_b) = (-softplus(-t), -softplus(t));
                    let cut = 1.0 - others * none(t);
                    (shape[m].0 + hits[m]) * ln_a + (shape[m].1 + n - hits[m]) * ln_b - n * cut.max(1e-300).ln()
                };
                ln_odds[m] = slice(&mut rng, ln_odds[m], ln_density);
                set[m] = 1.0 - none(ln_odds[m]);
            } else {
                let mut two = [0.0; 2];
                sampler.dirichlet_once(&[shape[m].0, shape[m].1], &mut two);
                set[m] = two[0];
            }
        }
        if informed && sweep < WARM_UP {
            continue;
        }
        let levels: Vec<Vec<f64>> = (0..monitors.len())
            .map(|m| {
                let shapes: Vec<f64> = alpha[m][1..].iter().zip(&monitors[m].jobs[1..]).map(|(a, n)| a + n).collect();
                let mut q = vec![0.0; shapes.len()];
                sampler.dirichlet_once(&shapes, &mut q);
                std::iter::once(1.0 - set[m]).chain(q.iter().map(|q| q * set[m])).collect()
            })
            .collect();
        let some = reach(levels.iter().map(|l| l[0]));
        out.push((levels, some));
    }
    Sets { draws: out, ..means(monitors, n) }
}

/// ln P(jobs | numbers as uncertain as their weights say) less ln P(jobs | exactly the shipped numbers), of `n` jobs each of which
/// had some code. Levels given that there is one: Dirichlet-multinomial against multinomial. Whether there is one: `Unseen`.
#[must_use]
pub fn ln_ratio(monitors: &[Told], n: f64) -> f64 {
    if n <= 0.0 {
        return 0.0;
    }
    let mut ln = 0.0;
    for m in monitors.iter().filter(|m| m.weight < STATED) {
        let some: f64 = m.levels[1..].iter().sum();
        for (p, jobs) in m.levels[1..].iter().zip(&m.jobs[1..]).filter(|(_, jobs)| **jobs > 0.0) {
            let p = p.max(1e-12);
            ln += ln_rising(p * m.weight, *jobs) - jobs * (p / some).ln();
        }
        ln -= ln_rising(some * m.weight, m.jobs[1..].iter().sum());
    }
    let rates = rates(monitors, n);
    if rates.len() > 1 { ln + Unseen::of(&rates, n).ln_ratio(&rates) } else { ln }
}

/// Whether each monitor showed a level.
fn rates(monitors: &[Told], n: f64) -> Vec<Rate> {
    let one = |m: &Told| Rate {
        a: (1.0 - m.levels[0]).clamp(1e-9, 1.0 - 1e-9),
        weight: m.weight,
        hits: m.jobs[1..].iter().sum::<f64>().min(n),
    };
    monitors.iter().map(one).collect()
}

/// Means of the levels of every monitor of a suspect after `n` jobs of it; no draws.
#[must_use]
pub fn means(monitors: &[Told], n: f64) -> Sets {
    let rates = rates(monitors, n);
    let unseen = (rates.len() > 1 && n > 0.0).then(|| Unseen::of(&rates, n));
    let one = |(m, rate): (&Told, &Rate)| {
        let a = unseen.as_ref().map_or(1.0 - m.levels[0], |u| u.mean(rate));
        let shapes: Vec<f64> = m.levels[1..].iter().zip(&m.jobs[1..]).map(|(p, n)| p * m.weight + n).collect();
        let total: f64 = shapes.iter().sum();
        let some = shapes.iter().map(|s| if total > 0.0 { a * s / total } else { 0.0 });
        Learned { mean: std::iter::once(1.0 - a).chain(some).collect() }
    };
    let monitors: Vec<Learned> = monitors.iter().zip(&rates).map(one).collect();
    let reach = reach(monitors.iter().map(|m| m.mean[0]));
    Sets { monitors, reach, draws: Vec::new() }
}

/// ln(1 + e^t) without overflow.
fn softplus(t: f64) -> f64 {
    t.max(0.0) + (-t.abs()).exp().ln_1p()
}

/// P(none) at these log odds of setting a code.
fn none(t: f64) -> f64 {
    1.0 / (1.0 + t.exp())
}

/// One draw by slice sampling with stepping out and shrinking (Neal 2003, figures 3 and 5).
fn slice(rng: &mut Rng, at: f64, ln_density: impl Fn(f64) -> f64) -> f64 {
    let height = ln_density(at) + rng.unit().ln();
    let width = 1.0;
    let mut low = at - width * rng.unit();
    let mut high = low + width;
    for _ in 0..60 {
        if ln_density(low) <= height {
            break;
        }
        low -= width;
    }
    for _ in 0..60 {
        if ln_density(high) <= height {
            break;
        }
        high += width;
    }
    for _ in 0..200 {
        let next = low + (high - low) * rng.unit();
        if ln_density(next) > height {
            return next;
        }
        if next < at { low = next } else { high = next }
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mean_and_sd(values: &[f64]) -> (f64, f64) {
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        (mean, (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n).sqrt())
    }

    #[test]
    fn one_monitor_teaches_the_mix_of_codes_and_not_how_often_there_is_none() {
        let told = Told { levels: vec![0.6, 0.2, 0.2], weight: 15.0, jobs: vec![0.0, 900.0, 100.0] };
        let sets = learn(&[told], 1000.0, 4000, 1, 1);
        assert!((sets.reach - 0.4).abs() < 1e-12);
        assert!((sets.monitors[0].mean[1] / 0.4 - 0.9).abs() < 0.01);
        let (mean, sd) = mean_and_sd(&sets.draws.iter().map(|d| d.1).collect::<Vec<_>>());
        // Beta(6, 9): sd sqrt(0.24 / 16) = 0.1225.
        assert!((mean - 0.4).abs() < 0.01 && (sd - 0.1225).abs() < 0.008, "{mean} {sd}");
    }

    #[test]
    fn two_monitors_tell_how_often_neither_speaks() {
        // True 0.5 and 0.2, independent: of 10,000 cars 5,000 + 2,000 - 1,000 = 6,000 come in (as in counting fish by
        // marking and catching again).
        let one = Told { levels: vec![0.8, 0.2], weight: 4.0, jobs: vec![0.0, 5000.0] };
        let two = Told { levels: vec![0.5, 0.5], weight: 4.0, jobs: vec![0.0, 2000.0] };
        let sets = learn(&[one, two], 6000.0, 3000, 1, 2);
        assert!((1.0 - sets.monitors[0].mean[0] - 0.5).abs() < 0.02, "{sets:.3?}", sets = sets.monitors);
        assert!((1.0 - sets.monitors[1].mean[0] - 0.2).abs() < 0.02);
    }
}
