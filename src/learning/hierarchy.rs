//! Numbers of one family are alike, families of one kind, kinds of one shop: what does each say of one multiplier, and what do
//! all of them say together? Sums over a grid, exact. Knows nothing of what the multiplier is of.

use std::f64::consts::LN_2;

/// Multipliers that are weighed. A sixteenth: the base counts for next to nothing; 32: it is all but right.
pub const TIMES: [f64; 10] = [0.0625, 0.125, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0];

/// Where in [`Each`] the base is right.
pub const RIGHT: usize = TIMES.len();

/// One number for each of [`TIMES`] and, last, for a base that is right, which is an endless multiplier.
pub type Each = [f64; RIGHT + 1];

/// Scale of the prior on ln of the multiplier of a shop that differs, e^-|ln times| / scale: judgement, e² to 1 against an
/// octave. The shipped weights say how far shops lie from the base, so they are what is expected of a shop that does differ.
const SHOP: f64 = 0.5 * LN_2;

/// The same of a kind around its shop and of a family around its kind: e⁴ to 1 against an octave. Tails that fall no faster let
/// the kind that clearly stands apart go its own way.
const BELOW: f64 = 0.25 * LN_2;

/// Probability that the base is right for a kind though the shop differs, or for a family though its kind does: judgement.
/// What fails where, and with which codes, comes from the same cars.
const RIGHT_ALL_THE_SAME: f64 = 0.02;

/// ln of the prior on the multiplier around another one.
fn ln_around(times: f64, scale: f64) -> [f64; RIGHT] {
    let ln = TIMES.map(|t| -(t / times).ln().abs() / scale);
    let all = ln_sum(&ln);
    ln.map(|x| x - all)
}

/// ln P(what is below has each multiplier | what is above has this one).
fn ln_below(above: usize) -> Each {
    let mut out = [f64::NEG_INFINITY; RIGHT + 1];
    if above == RIGHT {
        out[RIGHT] = 0.0;
        return out;
    }
    out[RIGHT] = RIGHT_ALL_THE_SAME.ln();
    let prior = ln_around(TIMES[above], BELOW);
    out.iter_mut().zip(prior).for_each(|(o, p)| *o = p + (-RIGHT_ALL_THE_SAME).ln_1p());
    out
}

/// ln of the sum of e^x.
fn ln_sum(ln: &[f64]) -> f64 {
    let most = ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    most + ln.iter().map(|x| (x - most).exp()).sum::<f64>().ln()
}

/// ln P(jobs | each multiplier of what is above), from that given each multiplier of what is below it.
#[must_use]
pub fn told_above(ln: &Each) -> Each {
    std::array::from_fn(|above| {
        let prior = ln_below(above);
        ln_sum(&std::array::from_fn::<_, { RIGHT + 1 }, _>(|k| prior[k] + ln[k]))
    })
}

/// P(each multiplier | all jobs) of what is below, from that of what is above and ln P(its own jobs | each multiplier).
#[must_use]
pub fn believed_below(ln: &Each, above: &Each) -> Each {
    let (told, mut out) = (told_above(ln), [0.0; RIGHT + 1]);
    for (j, believed) in above.iter().enumerate().filter(|(_, p)| **p > 0.0) {
        let prior = ln_below(j);
        out.iter_mut().enumerate().for_each(|(k, o)| *o += believed * (prior[k] + ln[k] - told[j]).exp());
    }
    out
}

/// ln of the odds that the shop differs from the base, even before any job, and P(each multiplier | it differs).
///
/// The odds are a ratio of likelihoods, P(jobs | some multipliers) averaged over the prior and over P(jobs | base). Where the base
/// is right their mean over all jobs that could have come is 1, so odds of k to 1 come up at most once in k shops (Markov's
/// inequality), however many numbers, families and kinds there are: the question is one.
#[must_use]
pub fn differs(ln: &Each) -> (f64, Each) {
    let prior = ln_around(1.0, SHOP);
    let with: [f64; RIGHT] = std::array::from_fn(|k| prior[k] + ln[k]);
    let all = ln_sum(&with);
    (all - ln[RIGHT], std::array::from_fn(|k| with.get(k).map_or(0.0, |x| (x - all).exp())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn each() -> impl Strategy<Value = Each> {
        prop::array::uniform10(-9.0..9.0)
            .prop_map(|x: [f64; RIGHT]| std::array::from_fn(|k| x.get(k).copied().unwrap_or(0.0)))
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]
        /// Two families of one kind, by going through every combination of multipliers.
        #[test]
        fn passing_up_and_down_is_summing_over_all(a in each(), b in each()) {
            let kind: Each = std::array::from_fn(|k| told_above(&a)[k] + told_above(&b)[k]);
            let (odds, shop) = differs(&told_above(&kind));
            let believed = believed_below(&a, &believed_below(&kind, &shop));
            let (prior, below): (_, Vec<Each>) = (ln_around(1.0, SHOP), (0..=RIGHT).map(ln_below).collect());
            let (mut sum, mut of_a) = (0.0, [0.0; RIGHT + 1]);
            for (to_kind, prior) in below.iter().zip(prior) {
                for (to_family, of_kind) in below.iter().zip(to_kind) {
                    for (i, (to_a, a)) in to_family.iter().zip(a).enumerate() {
                        for (to_b, b) in to_family.iter().zip(b) {
                            let p = (prior + of_kind + to_a + to_b + a + b).exp();
                            sum += p;
                            of_a[i] += p;
                        }
                    }
                }
            }
            prop_assert!((odds - sum.ln()).abs() < 1e-9);
            for (x, y) in believed.iter().zip(of_a) {
                prop_assert!((x - y / sum).abs() < 1e-9);
            }
        }

        /// Nothing said leaves even odds, whatever is not said by how many.
        #[test]
        fn silence_is_even(n in 1_usize..9) {
            let told = told_above(&[0.0; RIGHT + 1]).map(|x| x * n as f64);
            prop_assert!(differs(&told_above(&told)).0.abs() < 1e-9);
        }

        /// However strongly a shop differs, the sums stay finite.
        #[test]
        fn thousands_of_nats_are_numbers(x in -9_000.0_f64..9_000.0) {
            let ln: Each = std::array::from_fn(|k| if k == RIGHT { 0.0 } else { x * (k as f64 - 3.0) });
            let (odds, shop) = differs(&told_above(&ln));
            let sum: f64 = believed_below(&ln, &shop).iter().sum();
            prop_assert!(odds.is_finite() && (sum - 1.0).abs() < 1e-6, "{odds} {sum}");
        }
    }
}
