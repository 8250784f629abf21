//! How lines typed at a question are heard: what is taken, what is refused with the list, what is asked about.

use super::*;

fn at(reading: &str, line: &str) -> Heard {
    let base = shipped::base().unwrap();
    let (test, _) = base.reading(reading).unwrap();
    let question = Question::Reading { test: test.id.clone(), reading: reading.to_owned(), again: false };
    hear(&question, line, &base)
}

fn stored(reading: &str, line: &str) -> Option<String> {
    match at(reading, line) {
        Heard::Answer(Answer::Outcome { outcome, .. }) => Some(outcome),
        _ => None,
    }
}

#[test]
fn a_reading_is_answered_by_number_beginning_word_or_measured_value() {
    let loose = "cap-look-reseat:loose";
    for (line, outcome) in [
        ("1", "pass"),
        ("2.", "fail"),
        ("3", "unclear"),
        ("#2", "fail"),
        ("nor", "pass"),
        ("A", "fail"),
        ("ABNORMAL", "fail"),
        ("u", "unclear"),
        ("ok", "pass"),
        ("bad", "fail"),
        ("2 note strap trapped", "fail"),
    ] {
        assert_eq!(stored(loose, line).as_deref(), Some(outcome), "{line}");
    }
    assert_eq!(
        stored("purge-valve-hold:hold", "20 -> 19.3 inHg in 4 min").as_deref(),
        Some("20 -> 19.3 inHg in 4 min")
    );
}

#[test]
fn yes_and_no_are_no_answers_to_a_reading_and_neither_is_anything_else_that_could_be_mistaken() {
    for line in ["y", "Y", "yes", "n", "N", "no", "NO", "4", "0", "-1", "norml", "abnormla", "1 2", "2 seal", "20"] {
        assert!(matches!(at("cap-look-reseat:loose", line), Heard::Refused(_)), "{line}");
    }
}

#[test]
fn a_bare_number_at_a_gauge_is_asked_about() {
    let base = shipped::base().unwrap();
    let scalar = base
        .tests
        .iter()
        .flat_map(|t| &t.readings)
        .find(|r| r.measure.as_ref().is_some_and(|m| m.over_s.is_none() && m.start.is_none()))
        .unwrap();
    assert!(matches!(at(&scalar.id, "2"), Heard::Doubt(Doubt::ListNumber { .. })));
    assert!(stored(&scalar.id, "#2").is_some());
}

#[test]
fn words_after_a_command_that_takes_none_are_not_lost() {
    for line in ["back 2", "stop here", "close it", "why not"] {
        assert!(matches!(at("cap-look-reseat:loose", line), Heard::Refused(_)), "{line}");
    }
}

#[test]
fn a_repair_takes_yes_with_numbers_and_refuses_what_is_none() {
    let base = shipped::base().unwrap();
    let question = Question::Repair { repair: "filler-cap/reseat".to_owned() };
    let spent = |line: &str| match hear(&question, line, &base) {
        Heard::Answer(Answer::Made(spent)) => Some((spent.minutes, spent.cost)),
        _ => None,
    };
    assert_eq!(spent("y"), Some((None, None)));
    assert_eq!(spent("yes 4 2,50"), Some((Some(4.0), Some(2.5))));
    for line in ["y four", "y 1 2 3", "y -4", "n 4", "1", "ok", "y inf"] {
        assert!(spent(line).is_none() && matches!(hear(&question, line, &base), Heard::Refused(_)), "{line}");
    }
}
