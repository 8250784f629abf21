//! The number speaks for itself: seen through the posterior, a reading has no threshold. Moving it across what a test
//! calls pass moves the probabilities smoothly, and so does moving it across anything else.

use faultodds::evidence::{Epoch, History, Outcome};
use faultodds::inference::posterior;
use faultodds::knowledge::base::{Base, Vehicle};
use faultodds::network::{Network, build::build};
use faultodds::shipped;
use proptest::prelude::*;
use std::sync::OnceLock;

/// A reading, how its number is written, the span that is swept, and a suspect that it moves.
struct Swept {
    code: &'static str,
    reading: &'static str,
    text: fn(f64) -> String,
    span: (f64, f64),
    /// Where the words of the test part normal from abnormal.
    bounds: &'static [f64],
    suspect: &'static str,
}

const SWEPT: [Swept; 7] = [
    Swept {
        code: "P0442",
        reading: "purge-valve-hold:hold",
        text: |x| format!("20 -> {} inHg in 4 min", 20.0 - x),
        span: (0.0, 19.0),
        bounds: &[1.0],
        suspect: "purge-valve/leaks",
    },
    Swept {
        code: "P0455",
        reading: "pressure-hold:decay",
        text: |x| format!("14 -> {} inH2O in 2 min", 14.0 - x),
        span: (0.0, 13.8),
        bounds: &[1.5, 10.0],
        suspect: "filler-cap/wrong-cap",
    },
    Swept {
        code: "P0442",
        reading: "pressure-hold:decay",
        text: |x| format!("{x} inH2O"),
        span: (0.0, 13.8),
        bounds: &[1.5, 10.0],
        suspect: "filler-cap/seal-worn",
    },
    Swept {
        code: "P0444",
        reading: "purge-coil-ohms:coil",
        text: |x| format!("{x} ohm"),
        span: (0.5, 200.0),
        bounds: &[12.0, 18.0, 36.0, 60.0],
        suspect: "purge-valve/coil-open",
    },
    Swept {
        code: "P0441",
        reading: "idle-vacuum:vacuum",
        text: |x| format!("{x} inHg at 5000 ft"),
        span: (0.5, 22.0),
        bounds: &[12.5, 16.5],
        suspect: "purge-valve/stuck-shut",
    },
    Swept {
        code: "P0457",
        reading: "cap-leak-test:hold",
        text: |x| format!("{x} cc/min"),
        span: (0.0, 900.0),
        bounds: &[60.0],
        suspect: "filler-cap/seal-worn",
    },
    Swept {
        code: "P0452",
        reading: "tank-pressure-wiring:supply",
        text: |x| format!("{x} V"),
        span: (0.0, 16.0),
        bounds: &[4.7, 4.8, 5.2, 5.3, 15.0],
        suspect: "tank-pressure-circuit/signal-low",
    },
];

struct Shop {
    base: Base,
    network: Network,
}

fn shop() -> &'static Shop {
    static SHOP: OnceLock<Shop> = OnceLock::new();
    SHOP.get_or_init(|| {
        let base = shipped::base().unwrap();
        let network = build(&base, &Vehicle::default());
        Shop { base, network }
    })
}

/// P(suspect | code, outcome).
fn after(swept: &Swept, outcome: &str) -> f64 {
    let shop = shop();
    let outcome: Outcome = outcome.parse().unwrap();
    let present = Epoch {
        codes: vec![swept.code.to_owned()],
        codes_complete: true,
        results: vec![(swept.reading.to_owned(), outcome)],
        ..Epoch::default()
    };
    let told = History::visit(Vec::new(), present).tell(&shop.base, &shop.network).unwrap();
    let suspect = shop.network.suspect(swept.suspect).unwrap();
    posterior(&shop.network, &told.evidence).unwrap().now[suspect]
}

fn resolution(swept: &Swept) -> f64 {
    let (_, reading) = shop().base.reading(swept.reading).unwrap();
    reading.measure.as_ref().unwrap().resolution
}

/// The slopes on both sides of a number agree, and a small step moves the probability by little.
fn smooth_at(swept: &Swept, x: f64) -> Result<(), TestCaseError> {
    let r = resolution(swept);
    let slope = |from: f64, h: f64| (after(swept, &(swept.text)(from + h)) - after(swept, &(swept.text)(from))) / h;
    let h = 1e-3 * r;
    let (before, behind) = (slope(x - h, h), slope(x, h));
    // Over one step of the gauge the slope may turn as a whole; over a thousandth of it, by no more than a hundredth.
    let scale = before.abs().max(behind.abs()).max(slope(x - r.min(x), r).abs());
    prop_assert!(
        (before - behind).abs() <= 0.02 * scale + 1e-6 / r,
        "{} at {x}: slope {before} before, {behind} behind",
        swept.reading
    );
    prop_assert!((behind * h).abs() < 0.01, "{} jumps at {x}", swept.reading);
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn the_posterior_is_smooth_in_the_reading(which in 0..SWEPT.len(), at in 0.002..1.0f64) {
        let swept = &SWEPT[which];
        smooth_at(swept, swept.span.0 + at * (swept.span.1 - swept.span.0))?;
    }
}

#[test]
fn nothing_jumps_where_the_words_part_pass_from_fail() {
    for swept in &SWEPT {
        for bound in swept.bounds {
            let steps = 0.5 * resolution(swept);
            for at in [bound - steps, *bound, bound + steps] {
                smooth_at(swept, at).unwrap();
            }
        }
    }
}

#[test]
fn pass_and_fail_remain_as_coarse_readings() {
    let hold = &SWEPT[0];
    let (pass, fail) = (after(hold, "pass"), after(hold, "fail"));
    let (tight, leaking) = (after(hold, "20 -> 19.9 inHg in 4 min"), after(hold, "20 -> 8 inHg in 4 min"));
    assert!(pass < 0.2 * fail, "{pass} {fail}");
    // A number that is plainly normal or plainly abnormal says nearly what the word says.
    assert!(tight < 2.0 * pass + 0.01, "{tight} {pass}");
    assert!(leaking > 0.9 * fail, "{leaking} {fail}");
}

#[test]
fn a_small_hole_and_a_large_one_part_the_suspects() {
    let large = Swept { code: "P0442", ..SWEPT[1] };
    let small = &SWEPT[2];
    let odds = |outcome: &str| after(&large, outcome) / after(small, outcome);
    // What 0.020 in leaves of 14 inH2O in two minutes at 50 L, and a needle that is down in half a minute.
    let (wisp, gone) = (odds("14 -> 6.3 inH2O in 2 min"), odds("14 -> 0 inH2O in 30 s"));
    // The code has told most of the size already, and a number speaks of normal and abnormal, not yet of each size.
    assert!(gone > 1.5 * wisp, "wrong cap against worn seal: {gone} when gone, {wisp} when slow");
    // Without a cap no pressure comes to be: whoever saw any has a cap, and whoever saw none may have none.
    let missing = Swept { code: "P0455", suspect: "filler-cap/missing", ..SWEPT[1] };
    let (never, gone) = (after(&missing, "will not build"), after(&missing, "14 -> 0 inH2O in 30 s"));
    assert!(never > 10.0 * gone, "missing cap: {never} when pressure never builds, {gone} when it goes");
}

#[test]
fn repeats_are_not_independent() {
    let hold = &SWEPT[0];
    let once = after(hold, "20 -> 18 inHg in 4 min");
    let thrice = after(hold, "20 -> 18 inHg in 4 min and 20 -> 18 inHg in 4 min and 20 -> 18 inHg in 4 min");
    assert!((once - thrice).abs() < 1e-12);
}

/// A needle that has not moved is the best reading there is, and as good as one that moved by less than can be seen.
#[test]
fn a_hold_without_any_drop_is_taken() {
    for (swept, still, moved) in [
        (&SWEPT[0], "20 -> 20 inHg in 4 min", "20 -> 19.99999 inHg in 4 min"),
        (&SWEPT[1], "14 -> 14 inH2O in 2 min", "14 -> 13.99999 inH2O in 2 min"),
    ] {
        let (a, b) = (after(swept, still), after(swept, moved));
        assert!((a - b).abs() < 1e-4 * b, "{a} {b}");
    }
}
