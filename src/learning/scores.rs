//! How good were predictions? Log score, Brier score, top-k, calibration, and intervals on differences. Knows shares
//! and what happened, not where they come from.

use inference::Rng;
use rayon::prelude::*;

/// What one prediction scored.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scored {
    /// -ln of the share given to what happened; lower is better.
    pub log: f64,
    /// Sum over the categories of (share - happened)², between 0 and 2; lower is better (G. Brier, Monthly Weather
    /// Review 78, 1950).
    pub brier: f64,
    /// How many categories had a larger share than what happened, ties counted half.
    pub above: f64,
}

/// Smallest share: what was called impossible and happened costs 34.5, not everything.
const SMALLEST: f64 = 1e-15;

/// Scores shares that add up to 1 against what happened.
#[must_use]
pub fn score(shares: &[f64], happened: usize) -> Scored {
    let p = shares.get(happened).copied().unwrap_or(0.0);
    let squares: f64 = shares.iter().map(|s| s * s).sum();
    let above = shares.iter().enumerate().filter(|(i, s)| **s > p && *i != happened).count();
    let ties = shares.iter().enumerate().filter(|(i, s)| **s == p && *i != happened).count();
    Scored { log: -p.max(SMALLEST).ln(), brier: squares - 2.0 * p + 1.0, above: above as f64 + 0.5 * ties as f64 }
}

impl Scored {
    /// 1 when what happened was among the first `k`, else 0.
    #[must_use]
    pub fn within(&self, k: f64) -> f64 {
        f64::from(u8::from(self.above < k))
    }
}

/// A mean with an interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mean {
    /// The mean.
    pub mean: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Mean {
    /// Whether the interval excludes 0.
    #[must_use]
    pub fn is_clear(&self) -> bool {
        self.low > 0.0 || self.high < 0.0
    }
}

/// Mean of paired differences, job by job, with a central interval by the bootstrap of blocks (H. Künsch, Annals of
/// Statistics 17, 1989): neighbouring jobs are drawn together, since what was learned then is common to them.
///
/// Parallel; each draw has a random stream of its own, so the answer depends on the seed alone. Blocks have about the
/// cube root of n jobs and wrap around at the end.
#[must_use]
pub fn bootstrap(differences: &[f64], draws: usize, seed: u64, level: f64) -> Mean {
    let n = differences.len();
    if n == 0 {
        return Mean { mean: f64::NAN, low: f64::NEG_INFINITY, high: f64::INFINITY };
    }
    let mean = differences.iter().sum::<f64>() / n as f64;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "the cube root of a length")]
    let block = (n as f64).cbrt().round().max(1.0) as usize;
    let mut means: Vec<f64> = (0..draws)
        .into_par_iter()
        .with_min_len(16)
        .map(|k| {
            let mut rng = Rng::new(seed, k as u64);
            let (mut sum, mut taken) = (0.0, 0);
            while taken < n {
                #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a place in the list")]
                let start = (rng.unit() * n as f64) as usize;
                let now = block.min(n - taken);
                sum += (0..now).map(|i| differences[(start + i) % n]).sum::<f64>();
                taken += now;
            }
            sum / n as f64
        })
        .collect();
    means.sort_unstable_by(f64::total_cmp);
    let tail = 0.5 * (1.0 - level);
    Mean { mean, low: quantile(&means, tail), high: quantile(&means, 1.0 - tail) }
}

/// Quantile of sorted numbers, linear between order statistics (R. Hyndman and Y. Fan 1996, definition 7).
#[must_use]
pub fn quantile(sorted: &[f64], share: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else { return f64::NAN };
    let place = share.clamp(0.0, 1.0) * last as f64;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a place in the list")]
    let below = (place as usize).min(last);
    sorted[below] + (place - below as f64) * (sorted[(below + 1).min(last)] - sorted[below])
}

/// One bin of a calibration table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bin {
    /// Mean prediction.
    pub predicted: f64,
    /// Share that happened.
    pub happened: f64,
    /// How many predictions.
    pub count: usize,
}

/// How predictions are put into bins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cut {
    /// Equal widths of probability.
    Even,
    /// About equal numbers of predictions.
    Quantiles,
}

/// Predicted against happened, bin by bin; empty bins are left out. A value on an edge belongs to the lower bin.
#[must_use]
pub fn calibration(predictions: &[(f64, bool)], bins: usize, cut: Cut) -> Vec<Bin> {
    let mut sorted: Vec<f64> = predictions.iter().map(|p| p.0).collect();
    sorted.sort_unstable_by(f64::total_cmp);
    let edges: Vec<f64> = (1..bins)
        .map(|i| match cut {
            Cut::Even => i as f64 / bins as f64,
            Cut::Quantiles => quantile(&sorted, i as f64 / bins as f64),
        })
        .collect();
    let mut sums = vec![(0.0, 0.0, 0_usize); bins];
    for (p, happened) in predictions {
        let bin = &mut sums[edges.partition_point(|e| e < p)];
        bin.0 += p;
        bin.1 += f64::from(u8::from(*happened));
        bin.2 += 1;
    }
    let filled = sums.into_iter().filter(|b| b.2 > 0);
    filled.map(|(p, h, n)| Bin { predicted: p / n as f64, happened: h / n as f64, count: n }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    fn numbers(v: &Value) -> Vec<f64> {
        v.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
    }

    // reference library: scikit-learn 1.9.1, values made by tests/outside/make/scores.py.
    fn reference() -> Value {
        let text = include_str!("../../tests/outside/scores.json");
        serde_json::from_str(text).unwrap()
    }

    #[test]
    fn scores_of_several_classes_equal_the_reference_library() {
        for case in reference()["several_classes"].as_array().unwrap() {
            let truth = numbers(&case["truth"]);
            let rows: Vec<Vec<f64>> = case["shares"].as_array().unwrap().iter().map(numbers).collect();
            let all: Vec<Scored> = rows.iter().zip(&truth).map(|(s, t)| score(s, *t as usize)).collect();
            let mean = |of: &dyn Fn(&Scored) -> f64| all.iter().map(of).sum::<f64>() / all.len() as f64;
            let check = |got: f64, name: &str| {
                let want = case[name].as_f64().unwrap();
                assert!((got - want).abs() <= 1e-12 * want.abs().max(1.0), "{name}: {got} {want}");
            };
            check(mean(&|s| s.log), "log_loss");
            check(mean(&|s| s.brier), "brier");
            check(0.5 * mean(&|s| s.brier), "brier_half");
            check(mean(&|s| s.within(1.0)), "top_1");
            check(mean(&|s| s.within(3.0)), "top_3");
        }
    }

    #[test]
    fn calibration_equals_the_reference_library() {
        for case in reference()["two_classes"].as_array().unwrap() {
            let p = numbers(&case["probability"]);
            let y = numbers(&case["truth"]);
            let all: Vec<Scored> = p.iter().zip(&y).map(|(p, y)| score(&[1.0 - p, *p], *y as usize)).collect();
            let log = all.iter().map(|s| s.log).sum::<f64>() / all.len() as f64;
            let brier = all.iter().map(|s| 0.5 * s.brier).sum::<f64>() / all.len() as f64;
            assert!((log - case["log_loss"].as_f64().unwrap()).abs() < 1e-12);
            assert!((brier - case["brier"].as_f64().unwrap()).abs() < 1e-12);
            let pairs: Vec<(f64, bool)> = p.iter().zip(&y).map(|(p, y)| (*p, *y > 0.5)).collect();
            for c in case["calibration"].as_array().unwrap() {
                let cut = if c["strategy"] == "uniform" { Cut::Even } else { Cut::Quantiles };
                let got = calibration(&pairs, c["bins"].as_u64().unwrap() as usize, cut);
                let (predicted, happened) = (numbers(&c["predicted"]), numbers(&c["happened"]));
                assert_eq!(got.len(), predicted.len());
                for (i, b) in got.iter().enumerate() {
                    assert!((b.predicted - predicted[i]).abs() < 1e-12 && (b.happened - happened[i]).abs() < 1e-12);
                }
            }
        }
    }

    #[test]
    fn the_interval_holds_the_truth_about_as_often_as_it_says() {
        let mut held = 0;
        for world in 0..200_u64 {
            let mut rng = Rng::new(99, world);
            let d: Vec<f64> = (0..120).map(|_| rng.unit() - 0.4).collect();
            let m = bootstrap(&d, 300, 1, 0.9);
            held += usize::from(m.low <= 0.1 && 0.1 <= m.high);
        }
        assert!((165..=195).contains(&held), "{held} of 200");
    }

    #[test]
    fn the_same_seed_gives_the_same_interval() {
        let d: Vec<f64> = (0..50).map(f64::from).collect();
        assert_eq!(bootstrap(&d, 200, 4, 0.9), bootstrap(&d, 200, 4, 0.9));
        assert!(!bootstrap(&[], 200, 4, 0.9).is_clear());
    }
}
