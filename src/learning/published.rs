//! The mathematics of learning against published figures. Every data set says where it comes from.

use super::em::repeat;
use super::pooling::{Group, moments, most_likely};
use super::proportion::Beta;

/// Rat tumours, 70 historical groups: Gelman et al., *Bayesian Data Analysis*, 3rd ed., table 5.1 (R. Tarone 1982).
/// The data are from memory; that all three figures come out says that they are right.
const TUMOURS: [(u8, u8); 70] = [
    (0, 20),
    (0, 20),
    (0, 20),
    (0, 20),
    (0, 20),
    (0, 20),
    (0, 20),
    (0, 19),
    (0, 19),
    (0, 19),
    (0, 19),
    (0, 18),
    (0, 18),
    (0, 17),
    (1, 20),
    (1, 20),
    (1, 20),
    (1, 20),
    (1, 19),
    (1, 19),
    (1, 18),
    (1, 18),
    (2, 25),
    (2, 24),
    (2, 23),
    (2, 20),
    (2, 20),
    (2, 20),
    (2, 20),
    (2, 20),
    (2, 20),
    (1, 10),
    (5, 49),
    (2, 19),
    (5, 46),
    (3, 27),
    (2, 17),
    (7, 49),
    (7, 47),
    (3, 20),
    (3, 20),
    (2, 13),
    (9, 48),
    (10, 50),
    (4, 20),
    (4, 20),
    (4, 20),
    (4, 20),
    (4, 20),
    (4, 20),
    (4, 20),
    (10, 48),
    (4, 19),
    (4, 19),
    (4, 19),
    (5, 22),
    (11, 46),
    (12, 49),
    (5, 20),
    (5, 20),
    (6, 23),
    (5, 19),
    (6, 22),
    (6, 20),
    (6, 20),
    (6, 20),
    (16, 52),
    (15, 46),
    (15, 47),
    (9, 24),
];

fn tumours() -> Vec<Group> {
    TUMOURS.map(|(y, n)| Group { hits: y.into(), trials: n.into() }).into()
}

#[test]
fn pooling_of_the_rat_tumours_by_moments() {
    // published: table 5.1 and section 5.1, printed 1.4 and 8.6. With divisor n - 1 the data give 1.3561 and 8.6151.
    let (a, b) = moments(&tumours()).unwrap();
    assert!((a - 1.356).abs() < 5e-4 && (b - 8.615).abs() < 5e-4, "{a} {b}");
    // published: the 71st group, 4 of 14, has posterior mean 0.223. The book prints it beside the rounded 1.4 and 8.6,
    // with which it would be 5.4 / 24 = 0.225; it belongs to the unrounded numbers.
    let mean = Beta { a, b }.after(4.0, 10.0).mean();
    assert!((mean - 0.223).abs() < 5e-4, "{mean}");
}

#[test]
fn pooling_of_the_rat_tumours_by_marginal_likelihood() {
    // reference value of the design: 2.3048 and 14.0798, from the same data by independent code (coordinate search in Python).
    let (a, b) = most_likely(&tumours());
    assert!((a - 2.3048).abs() < 1e-3 && (b - 14.0798).abs() < 5e-3, "{a} {b}");
}

#[test]
fn shrinkage_of_the_batting_averages() {
    // published: B. Efron and C. Morris, "Data analysis using Stein's estimator and its generalizations", Journal of
    // the American Statistical Association 70, 1975; shrink factor 0.212, errors 0.0753 and 0.0213. The 18 averages
    // and their season remainders are from memory, rounded to three digits.
    let hits =
        [18.0, 17.0, 16.0, 15.0, 14.0, 14.0, 13.0, 12.0, 11.0, 11.0, 10.0, 10.0, 10.0, 10.0, 10.0, 9.0, 8.0, 7.0];
    let season = [
        0.346, 0.298, 0.276, 0.222, 0.273, 0.270, 0.263, 0.210, 0.269, 0.230, 0.264, 0.256, 0.303, 0.264, 0.226, 0.286,
        0.316, 0.200,
    ];
    let (mean, factor) = james_stein(&hits.map(|h| h / 45.0), 45.0);
    assert!((factor - 0.212).abs() < 5e-4, "{factor}");
    let error = |shrink: f64| -> f64 {
        hits.iter().zip(season).map(|(h, s)| (mean + shrink * (h / 45.0 - mean) - s).powi(2)).sum()
    };
    assert!((error(1.0) - 0.0753).abs() < 3e-4, "{}", error(1.0));
    assert!((error(factor) - 0.0213).abs() < 3e-4, "{}", error(factor));
}

/// Grand mean, and 1 - (k - 3) × variance of one average over the sum of squares.
fn james_stein(averages: &[f64], trials: f64) -> (f64, f64) {
    let k = averages.len() as f64;
    let mean = averages.iter().sum::<f64>() / k;
    let spread: f64 = averages.iter().map(|x| (x - mean).powi(2)).sum();
    (mean, 1.0 - (k - 3.0) * mean * (1.0 - mean) / trials / spread)
}

#[test]
fn conjugate_updating_of_placenta_previa() {
    // published: Gelman et al., section 2.4: 437 girls of 980 births, uniform prior.
    let beta = Beta { a: 1.0, b: 1.0 }.after(437.0, 543.0);
    let (low, high) = beta.interval(0.95);
    assert!((beta.mean() - 0.446).abs() < 5e-4 && (beta.sd() - 0.016).abs() < 5e-4);
    assert!((low - 0.415).abs() < 5e-4 && (high - 0.477).abs() < 5e-4, "{low} {high}");
}

#[test]
fn expectation_maximisation_of_the_linkage_data() {
    // published: Dempster, Laird and Rubin 1977, section 1: cells (1/2 + t/4, (1-t)/4, (1-t)/4, t/4), counts 125, 18,
    // 20, 34, from 0.5. The first cell hides two: expectation 125 (t/4) / (1/2 + t/4).
    let (t, steps) = repeat(vec![0.5], 1e-12, 100, |t| {
        let hidden = 125.0 * 0.25 * t[0] / (0.5 + 0.25 * t[0]);
        vec![(hidden + 34.0) / (hidden + 34.0 + 18.0 + 20.0)]
    });
    assert!((t[0] - 0.626_821_498).abs() < 5e-10, "{t:?}");
    assert!(steps < 30);
}
