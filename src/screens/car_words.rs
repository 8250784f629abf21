//! What a capture holds, in words: numbers, test results, and what was lost or refused.

use super::text::harmless;
use car::{Lost, MonitorTest, Note, Outcome};

/// A number as a person reads it: three digits that count, and no false zeros.
#[must_use]
pub fn number(x: f64) -> String {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and 6")]
    let digits = if x == 0.0 { 0 } else { (2.0 - x.abs().log10().floor()).clamp(0.0, 6.0) as usize };
    let text = format!("{x:.digits$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if matches!(text, "-0" | "") { "0".to_owned() } else { text.to_owned() }
}

/// What a service reads.
#[must_use]
pub fn service_word(service: u8) -> Option<&'static str> {
    Some(match service {
        0x01 => "live values",
        0x02 => "frozen values",
        0x03 => "stored codes",
        0x04 => "clearing",
        0x06 => "test results",
        0x07 => "pending codes",
        0x09 => "about itself",
        0x0A => "permanent codes",
        _ => return None,
    })
}

/// `EVAP, 0.040 in, test 81: 0.35 kPa, at most 0.5: passed`.
#[must_use]
pub fn test_words(test: &MonitorTest) -> String {
    let name = test.name().unwrap_or_else(|| format!("monitor {:02X} (the maker's own)", test.monitor));
    let outcome = match test.outcome() {
        Outcome::Passed => "passed",
        Outcome::Failed => "FAILED",
        Outcome::NotRun => "not run",
    };
    let Some(scale) = test.scale() else {
        let raw = test.raw.map(|b| format!("{:02X}{:02X}", b[0], b[1]));
        let [value, low, high] = raw;
        return format!("{name}, test {:02X}: {value} as sent, limits {low} to {high}: {outcome}", test.test);
    };
    let unit = if scale.unit.is_empty() { String::new() } else { format!(" {}", scale.unit) };
    let value = test.value().map(number).unwrap_or_default();
    let limits = match (test.low(), test.high()) {
        (Some(low), Some(high)) => format!(", {} to {}", number(low), number(high)),
        (Some(low), None) => format!(", at least {}", number(low)),
        (None, Some(high)) => format!(", at most {}", number(high)),
        (None, None) => ", without a limit".to_owned(),
    };
    format!("{name}, test {:02X}: {value}{unit}{limits}: {outcome}", test.test)
}

/// Reasons that a unit gives for refusing (ISO 14229, from memory).
fn reason(reason: u8) -> &'static str {
    match reason {
        0x11 => "it does not have it",
        0x12 => "it does not have this part of it",
        0x13 => "it did not understand the length",
        0x21 => "it was busy",
        0x22 => "not as the car stands now",
        0x31 => "it does not have this value",
        0x33 => "it is locked",
        _ => "with a reason of its own",
    }
}

/// A note as a sentence.
#[must_use]
pub fn note(note: &Note) -> String {
    match note {
        Note::Lost(unit, lost) => format!("an answer of {unit} is lost: {}", lost_words(*lost)),
        Note::Refused(unit, asked, why) => {
            format!("{unit} refuses {}: {} ({why:02X})", service(*asked), reason(*why))
        }
        Note::StillPending(unit, asked) => {
            format!("{unit} asked for patience at {} and never answered", service(*asked))
        }
        Note::Unanswered(asked) => format!("{} was asked for and not answered", service(*asked)),
        Note::Wrong(unit, asked) => {
            format!("an answer of {unit} to {} is not as long as it says and was not taken", service(*asked))
        }
        Note::CodesDiffer(unit, said, listed) => {
            format!("{unit} says it has {said} stored, and lists {listed}: read the codes again")
        }
        Note::NumberNotRead(unit) => format!("{unit} gave the vehicle's identification number; it was not read"),
        Note::OtherBus(bus) => format!("a second bus, {}, was left out: one capture is of one bus", harmless(bus)),
        Note::TooManyUnits => "more control units than a car has; the later ones were left out".to_owned(),
        Note::Unreadable(why) => harmless(why),
    }
}

fn lost_words(lost: Lost) -> String {
    match lost {
        Lost::Order { want, got } => format!("frame {want:X} was to come and {got:X} came"),
        Lost::Overtaken => "another one began before it was whole".to_owned(),
        Lost::Late => "more than a second passed between two frames".to_owned(),
        Lost::Ended => "the capture ends in the middle".to_owned(),
        Lost::NoBeginning => "its first frame is missing".to_owned(),
        Lost::TooLong => "it is longer than any answer of these services".to_owned(),
        Lost::Broken => "a frame is not as long as it says".to_owned(),
    }
}

/// A service as in "did not answer 07 (pending codes)".
#[must_use]
pub fn service(service: u8) -> String {
    service_word(service).map_or_else(|| format!("service {service:02X}"), |w| format!("service {service:02X} ({w})"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_no_false_zeros() {
        for (x, text) in
            [(0.35, "0.35"), (90.196, "90.2"), (0.0, "0"), (-0.25, "-0.25"), (1000.0, "1000"), (0.001, "0.001")]
        {
            assert_eq!(number(x), text);
        }
    }

    #[test]
    fn a_result_of_unknown_scaling_is_shown_as_sent() {
        let test = MonitorTest::of([0xE1, 0x90, 0x7C, 0, 5, 0, 1, 0, 9]);
        assert_eq!(
            test_words(&test),
            "monitor E1 (the maker's own), test 90: 0005 as sent, limits 0001 to 0009: passed"
        );
    }
}
