//! Laws of the gauge that hold for every input: inverses, monotonicity, smoothness, and that no text makes it panic.

use faultodds::gauge;
use gauge::answer_leak::{Setting, hole_from_decay};
use gauge::atmosphere::Surroundings;
use gauge::decay::{Law, hole_m, left_after_pa};
use gauge::orifice::{flow_m3_s, hole_from_flow_m};
use gauge::space::VapourSpace;
use gauge::units::LITRE_VOLUME;
use gauge::{Distribution, Kind, Observed, Quantity, Side, Unit, likelihoods, parse_quantity, parse_reading};
use proptest::prelude::*;

const KINDS: [Kind; 14] = [
    Kind::Pressure,
    Kind::Flow,
    Kind::Resistance,
    Kind::Voltage,
    Kind::Current,
    Kind::Power,
    Kind::Temperature,
    Kind::Warming,
    Kind::Time,
    Kind::Length,
    Kind::Height,
    Kind::Volume,
    Kind::Mass,
    Kind::Share,
];

fn sides() -> impl Strategy<Value = Side> {
    prop_oneof![Just(Side::Pressure), Just(Side::Vacuum)]
}

fn kinds() -> impl Strategy<Value = Kind> {
    (0..KINDS.len()).prop_map(|i| KINDS[i])
}

fn distributions() -> impl Strategy<Value = Distribution> {
    prop_oneof![
        (-20.0..20.0f64, 0.05..10.0f64).prop_map(|(mean, sd)| Distribution::Normal { mean, sd }),
        (0.05..20.0f64, 1.1..20.0f64).prop_map(|(median, spread)| Distribution::LogNormal { median, spread }),
        (0.05..20.0f64).prop_map(|mean| Distribution::Exponential { mean }),
        (-20.0..20.0f64, 0.1..30.0f64).prop_map(|(low, width)| Distribution::Uniform { low, high: low + width }),
    ]
}

/// Log of the ratio of the two levels: what the posterior depends on.
fn ln_ratio(levels: &[Distribution; 2], observed: Observed, resolution: f64) -> f64 {
    likelihoods(levels, observed, resolution).map_or(f64::NAN, |found| (found[0] / found[1]).ln())
}

/// Slopes on both sides of a point agree the better the closer one looks: the slope is continuous there. A kink would not shrink.
fn is_smooth(f: impl Fn(f64) -> f64, x: f64, r: f64) -> bool {
    let gap = |h: f64| ((f(x + h * r) - 2.0 * f(x) + f(x - h * r)) / h).abs();
    gap(1e-5) <= 0.3 * gap(1e-4) + 1e-3
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_hole_comes_back(side in sides(), volume in 1e-4..0.2f64, d in 1e-5..3e-3f64, start in 200.0..90_000.0f64, share in 0.02..0.98f64, cd in 0.56..0.84f64) {
        let law = Law::of_air(side, &Surroundings::default());
        let seconds = share * volume * law.clock(start) / (cd * gauge::orifice::area_m2(d));
        let end = left_after_pa(&law, volume, cd, d, start, seconds);
        let back = hole_m(&law, volume, cd, start, end, seconds);
        prop_assert!(back.is_ok_and(|back| (back / d - 1.0).abs() < 1e-6));
    }

    #[test]
    fn more_time_leaves_less_and_more_drop_is_more_hole(side in sides(), d in 1e-5..3e-3f64, start in 200.0..90_000.0f64, t in 1.0..500.0f64) {
        let law = Law::of_air(side, &Surroundings::default());
        let left = |t: f64, d: f64| left_after_pa(&law, 0.05, 0.61, d, start, t);
        prop_assert!(left(t * 1.1, d) <= left(t, d) && left(t, d * 1.1) <= left(t, d) && left(t, d) <= start * (1.0 + 1e-12));
        let hole = |end: f64| hole_m(&law, 0.05, 0.61, start, end, t).unwrap_or(f64::NAN);
        prop_assert!(hole(start * 0.5) > hole(start * 0.6));
    }

    #[test]
    fn flow_and_hole_undo_each_other(d in 1e-5..5e-3f64, p in 1.0..30_000.0f64, cd in 0.56..0.84f64, rho in 0.8..2.0f64) {
        let back = hole_from_flow_m(flow_m3_s(cd, d, p, rho), cd, p, rho, 1.0);
        prop_assert!(back.is_ok_and(|back| (back / d - 1.0).abs() < 1e-12));
    }

    #[test]
    fn units_round_trip(kind in kinds(), pick in 0..100usize, value in 0.001..1000.0f64) {
        let units = Unit::all(kind);
        let unit = units[pick % units.len()];
        prop_assert!((unit.from_si(unit.to_si(value)) / value - 1.0).abs() < 1e-9);
        let quantity = Quantity::new(value, unit);
        if let Ok(quantity) = quantity {
            let again = parse_quantity(&format!("{value} {}", unit.symbol()), kind);
            prop_assert!(again.is_ok_and(|q| q.unit == unit && (q.value / quantity.value - 1.0).abs() < 1e-12));
        }
    }

    #[test]
    fn no_text_makes_it_panic(text in "\\PC{0,60}", kind in kinds()) {
        let _ = parse_quantity(&text, kind);
        let _ = parse_reading(&text, kind);
    }

    #[test]
    fn no_likely_text_makes_it_panic(text in "([0-9]{0,3}[.,:]?[0-9]{0,3}|->| to |in|Hg|inH2O|every|held|no drop|>|<|−|→|Ω|\"|;|, | in | for |min|s|e|abs|vac|[ ()İſ]){0,12}", kind in kinds()) {
        let _ = parse_quantity(&text, kind);
        if let Ok(reading) = parse_reading(&text, kind) {
            for side in [None, Some(Side::Pressure), Some(Side::Vacuum)] {
                let _ = hole_from_decay(&reading, &Setting { side, ..Setting::default() });
            }
        }
    }

    #[test]
    fn an_answer_lies_in_its_range(side in sides(), start in 2.0..14.0f64, share in 0.0..1.0f64, t in 1.0..600.0f64, litres in 1.0..100.0f64) {
        let text = format!("{start:.2} -> {:.2} inH2O in {t:.0} s", start * share);
        let volume = Quantity::new(litres, LITRE_VOLUME);
        prop_assume!(volume.is_ok());
        let space = volume.map_or(VapourSpace::Unknown, |volume| VapourSpace::Stated { volume, tank: None });
        let answer = parse_reading(&text, Kind::Pressure).and_then(|r| hole_from_decay(&r, &Setting { side: Some(side), space, ..Setting::default() }));
        prop_assert!(answer.is_ok(), "{text} {answer:?}");
        if let Ok(answer) = answer {
            prop_assert!(answer.value.low.is_some_and(|low| low <= answer.value.value));
            prop_assert!(answer.value.high.is_none_or(|high| high >= answer.value.value));
        }
    }

    /// The posterior depends on the log ratio: its difference quotient, and the change of that, are bounded wherever the reading stands.
    #[test]
    fn nothing_jumps_as_a_reading_moves(a in distributions(), b in distributions(), x in -40.0..60.0f64, r in 0.01..2.0f64) {
        let levels = [a, b];
        for make in [Observed::Exact as fn(f64) -> Observed, Observed::Above, Observed::Below] {
            let at = |x: f64| ln_ratio(&levels, make(x), r);
            let slope = (at(x + 1e-5 * r) - at(x - 1e-5 * r)) / 2e-5;
            // The odd component bounds the log ratio, so its slope per resolution step is bounded too; a jump would give 1e5.
            prop_assert!(slope.abs() < 2e3, "{levels:?} {x} {r}: {slope}");
            prop_assert!(is_smooth(at, x, r), "{levels:?} {x} {r}");
        }
    }
}

/// The edges where a kink could hide: the ends of a uniform, the zero of an exponential, the change of formula at the mean.
#[test]
fn no_kink_at_the_edges() {
    let normal = Distribution::Normal { mean: 1.0, sd: 3.0 };
    for (edged, edges) in [
        (Distribution::Uniform { low: 0.0, high: 2.0 }, [0.0, 2.0, 1.0]),
        (Distribution::Exponential { mean: 2.0 }, [0.0, 2.0, 0.1]),
    ] {
        for r in [1e-4, 0.1, 1.0] {
            for edge in edges {
                for at in [edge - r, edge, edge + r, edge - r / 2.0, edge + r / 2.0] {
                    for make in [Observed::Exact as fn(f64) -> Observed, Observed::Above, Observed::Below] {
                        let f = |x: f64| ln_ratio(&[edged, normal], make(x), r);
                        assert!(is_smooth(f, at, r), "{edged:?} {r} {at}");
                    }
                }
            }
        }
    }
}
