//! The rules for tests and their readings, taken alone.

use super::codes::links;
use super::desk::Desk;
use super::openings;
use super::shared::{acts, cautions, steps};
use crate::base::{
    Adjust, Basis, CarAnswer, CarRule, CarWindow, Distribution, DistributionShape, Measure, Quantity, Reading,
    SuspectLink, Test,
};
use crate::fields::Num;
use crate::number::{Minutes, Money, Probability, Weight};
use crate::problem::ProblemCode;
use crate::raw::{RawCarAnswer, RawDistribution, RawMeasure, RawReading, RawTest};
use crate::yaml::{Place, Spanned, place};

/// A test.
pub(super) fn test(desk: &mut Desk, raw: &Spanned<RawTest>) -> Option<Test> {
    let id = desk.id.clone();
    desk.remember("test", &id, place(raw));
    let r = &raw.value;
    let name = desk.text(r.name.as_ref());
    let also = desk.texts(r.also.as_ref());
    let why = desk.text(r.why.as_ref());
    let tools = desk.refers("tool", r.tools.as_ref());
    let setups = desk.refers("setup", r.setups.as_ref());
    let minutes = desk.minutes(r.minutes.as_ref());
    let consumables = desk.money(r.consumables.as_ref());
    let requires = desk.refers("equipment option", r.requires.as_ref());
    let acts = acts(desk, r.acts.as_ref());
    let cautions = cautions(desk, &id, r.cautions.as_ref());
    let basis = desk.basis(r.basis.as_ref());
    let weight = desk.weight(r.weight.as_ref());
    let steps = steps(desk, &id, r.steps.as_ref());
    if let Some(list) = r.steps.as_ref().filter(|l| l.value.is_empty()) {
        let message = "a test without steps cannot be done".to_owned();
        desk.here(ProblemCode::EmptyText, place(list), 1, message, None);
    }
    // What is missing was told; a stand-in lets the rest be told in the same run.
    let basis = basis.unwrap_or(Basis::Judgement);
    let weight = weight.or_else(|| Weight::new(1.0).ok())?;
    let mut readings: Vec<Reading> = Vec::new();
    for one in r.readings.as_ref().map_or(&[][..], |l| &l.value[..]) {
        let Some(read) = reading(desk, one, &id, weight, &basis) else { continue };
        if readings.iter().any(|o| o.id == read.id) {
            desk.doubled(&read.id, place(one));
        } else {
            readings.push(read);
        }
    }
    Some(Test {
        id,
        family: desk.family.clone(),
        name: name.unwrap_or_default(),
        also,
        why: why.unwrap_or_default(),
        tools,
        setups,
        minutes: minutes.or_else(|| Minutes::new(0.0).ok())?,
        consumables: consumables.or_else(|| Money::new(0.0).ok())?,
        requires,
        own_check: r.own_check.as_ref().is_some_and(|f| f.value),
        repeats_monitors: r.repeats_monitors.as_ref().is_some_and(|f| f.value),
        acts,
        cautions,
        basis,
        weight,
        steps,
        readings,
    })
}

fn reading(desk: &mut Desk, raw: &Spanned<RawReading>, test: &str, weight: Weight, basis: &Basis) -> Option<Reading> {
    let r = &raw.value;
    let name_in_test = r.id.as_ref()?;
    if !desk.check_word_id(&name_in_test.value, place(name_in_test), "a reading's id is a word or a few") {
        return None;
    }
    let id = format!("{test}:{}", name_in_test.value);
    desk.remember("reading", &id, place(name_in_test));
    let mut levels = desk.texts(r.levels.as_ref());
    if r.levels.is_none() {
        levels = vec!["normal".to_owned(), "abnormal".to_owned()];
    } else if levels.len() < 2 {
        let at = r.levels.as_ref().map(place).unwrap_or_default();
        let message = "levels are at least two, normal first".to_owned();
        desk.here(ProblemCode::LevelCount, at, 1, message, None);
        return None;
    }
    let abnormal_levels = levels.len() - 1;
    let name = desk.text(r.name.as_ref());
    let normal = desk.text(r.normal.as_ref());
    let abnormal = desk.text(r.abnormal.as_ref());
    let between = desk.text(r.between.as_ref());
    let false_alarm = desk.probabilities(r.false_alarm.as_ref(), abnormal_levels);
    let detects = links(desk, r.detects.as_ref(), abnormal_levels, weight, basis);
    let measure = match r.measure.as_ref() {
        Some(m) => Some(measure(desk, m, levels.len())?),
        None => None,
    };
    let car = r.car.as_ref().and_then(|c| car_answer(desk, c));
    let cures = desk.reference("repair", r.cures.as_ref());
    let senses = r.senses.as_ref().and_then(|s| openings::senses(desk, s, abnormal_levels));
    let shows = desk.texts(r.shows.as_ref());
    if let Some(alarm) = &false_alarm {
        weak_links(desk, r, &id, alarm, &detects);
    }
    let (normal, abnormal) = (normal.unwrap_or_default(), abnormal.unwrap_or_default());
    let figure = |text: &str| text.chars().any(|c| c.is_ascii_digit());
    if measure.is_some() && !figure(&normal) && !figure(&abnormal) {
        let at = r.normal.as_ref().map(place).unwrap_or_default();
        let message = format!("`{id}` is a number, and neither text says which number is good or bad");
        desk.here(ProblemCode::NoFigure, at, 1, message, Some("put the limit with its unit into `normal`".to_owned()));
    }
    let no_alarm = || Probability::new(0.5 / (abnormal_levels as f64)).ok().map(|p| vec![p; abnormal_levels]);
    Some(Reading {
        id,
        name: name.unwrap_or_default(),
        normal,
        abnormal,
        between,
        levels,
        false_alarm: false_alarm.or_else(no_alarm)?,
        detects,
        cures,
        senses,
        shows,
        measure,
        car,
    })
}

/// A link that is weaker than chance says next to nothing for the suspect, and was probably meant otherwise.
fn weak_links(desk: &mut Desk, raw: &RawReading, reading: &str, alarm: &[Probability], detects: &[SuspectLink]) {
    let sum = |p: &[Probability]| p.iter().map(|p| p.get()).sum::<f64>();
    let chance = sum(alarm);
    for one in raw.detects.as_ref().map_or(&[][..], |d| &d.value[..]) {
        let Some(suspect) = one.value.suspect.as_ref() else { continue };
        let Some(link) = detects.iter().find(|l| l.suspect == suspect.value) else { continue };
        // Where one level is told more often than by chance, the link says something.
        let weak = link.p.iter().zip(alarm).all(|(p, a)| p.get() <= a.get());
        // Sums of the same numbers in another order differ in the last digit.
        if weak && sum(&link.p) < chance - 1e-9 {
            let message = format!(
                "`{reading}` is abnormal with {} by this suspect and with {chance} without any: it would speak for next to nothing",
                sum(&link.p)
            );
            let hint = "raise `p`, lower `false_alarm`, or leave the suspect out of `detects`".to_owned();
            desk.here(ProblemCode::WeakLink, place(suspect), suspect.value.chars().count(), message, Some(hint));
        }
    }
}

/// How the car answers a reading; a window must have room.
fn car_answer(desk: &mut Desk, raw: &Spanned<RawCarAnswer>) -> Option<CarAnswer> {
    let rule = desk.word(raw.value.rule.as_ref(), CarRule::WORDS, CarRule::from_word);
    let mut windows = Vec::new();
    for one in raw.value.windows.as_ref().map_or(&[][..], |w| &w.value[..]) {
        let values = desk.texts(one.value.values.as_ref());
        let low = desk.number(one.value.low.as_ref());
        let high = desk.number(one.value.high.as_ref());
        let (Some(low), Some(high)) = (low, high) else { continue };
        if low < high && !values.is_empty() {
            windows.push(CarWindow { values, low, high });
        } else {
            let message = format!("a window from {low} to {high} holds no value");
            desk.here(ProblemCode::Amount, place(one), 1, message, None);
        }
    }
    Some(CarAnswer { rule: rule?, windows })
}

fn measure(desk: &mut Desk, raw: &Spanned<RawMeasure>, levels: usize) -> Option<Measure> {
    let r = &raw.value;
    let quantity = desk.word(r.quantity.as_ref(), Quantity::WORDS, Quantity::from_word);
    let unit = desk.text(r.unit.as_ref());
    let resolution = desk.number(r.resolution.as_ref());
    let taken = desk.text(r.taken.as_ref());
    let adjust = desk.word(r.adjust.as_ref(), Adjust::WORDS, Adjust::from_word);
    let mut when = Vec::new();
    for one in r.when.as_ref().map_or(&[][..], |w| &w.value[..]) {
        when.extend(distribution(desk, one));
    }
    if let Some(list) = r.when.as_ref().filter(|w| w.value.len() != levels) {
        let message = format!("{} distributions given, {levels} needed: one per level", list.value.len());
        desk.here(ProblemCode::LevelCount, place(list), 1, message, None);
        return None;
    }
    let (quantity, unit, resolution) = (quantity?, unit?, resolution?);
    if !units_of(quantity).contains(&unit.as_str()) {
        let message = format!("`{unit}` does not measure {}", quantity.word());
        let hint = format!("its units are {}", units_of(quantity).join(", "));
        let at = r.unit.as_ref().map(place).unwrap_or_default();
        desk.here(ProblemCode::Unit, at, unit.chars().count(), message, Some(hint));
    }
    if resolution <= 0.0 {
        let at = r.resolution.as_ref().map(place).unwrap_or_default();
        let message = format!("a resolution of {resolution} tells nothing apart; it must be above 0");
        desk.here(ProblemCode::Amount, at, 1, message, None);
        return None;
    }
    let start = of_a_drop(desk, quantity, r.start.as_ref(), "start", place(raw))?;
    let over_s = of_a_drop(desk, quantity, r.over_s.as_ref(), "over_s", place(raw))?;
    if let (Some(adjust), Some(written)) = (adjust.filter(|a| !adjusts(*a, quantity)), r.adjust.as_ref()) {
        let message = format!("`{}` does nothing for {}", adjust.word(), quantity.word());
        let hint = "sea-level goes with vacuum, copper-20c with resistance, unsigned with pressure".to_owned();
        desk.here(ProblemCode::UnknownWord, place(written), adjust.word().len(), message, Some(hint));
    }
    Some(Measure { quantity, unit, resolution, taken, start, over_s, adjust, when })
}

/// A number that every drop has and nothing else; the outer nothing when it is wrong.
#[expect(clippy::option_option, reason = "a number that is rightly absent is not one that is wrong")]
fn of_a_drop(
    desk: &mut Desk,
    quantity: Quantity,
    field: Option<&Spanned<Num>>,
    key: &str,
    measure: Place,
) -> Option<Option<f64>> {
    let number = desk.number(field);
    let at = field.map_or(measure, place);
    let problem = match (quantity.is_drop(), field) {
        (true, None) => format!("a {} needs `{key}`, so that other holds can be compared with it", quantity.word()),
        (false, Some(_)) => format!("`{key}` belongs to a drop, not to a {}", quantity.word()),
        _ if number.is_some_and(|n| n <= 0.0) => format!("`{key}` must be above 0"),
        _ => return if field.is_some() { number.map(Some) } else { Some(None) },
    };
    desk.here(ProblemCode::Amount, at, 1, problem, None);
    None
}

fn adjusts(adjust: Adjust, quantity: Quantity) -> bool {
    match adjust {
        Adjust::SeaLevel => quantity == Quantity::Vacuum,
        Adjust::CopperAt20C => quantity == Quantity::Resistance,
        Adjust::Unsigned => quantity == Quantity::Pressure,
    }
}

/// The units in which the base writes a quantity.
#[must_use]
pub fn units_of(quantity: Quantity) -> &'static [&'static str] {
    const PRESSURES: &[&str] = &["inHg", "inH2O", "kPa", "psi", "mbar", "mmHg"];
    match quantity {
        Quantity::Pressure | Quantity::Vacuum | Quantity::PressureDrop | Quantity::VacuumDrop => PRESSURES,
        Quantity::Flow => &["L/min", "cc/min"],
        Quantity::Resistance => &["ohm", "kohm"],
        Quantity::Voltage | Quantity::VoltageDrop => &["V", "mV"],
        Quantity::Current => &["A", "mA"],
        Quantity::Percent => &["%"],
        Quantity::Mass => &["g", "kg"],
        Quantity::Time => &["s", "min"],
        Quantity::Temperature => &["C", "F"],
        Quantity::Length => &["mm", "in"],
        Quantity::Volume => &["L", "gal"],
    }
}

fn distribution(desk: &mut Desk, raw: &Spanned<RawDistribution>) -> Option<Distribution> {
    let r = &raw.value;
    let shape = desk.word(r.shape.as_ref(), DistributionShape::WORDS, DistributionShape::from_word)?;
    let at = place(raw);
    let needed = |desk: &mut Desk, field: Option<&Spanned<Num>>, key: &str| {
        if field.is_none() {
            let message = format!("a {} distribution needs `{key}`", shape.word());
            desk.here(ProblemCode::Distribution, at, 1, message, None);
        }
        desk.number(field)
    };
    let made = match shape {
        DistributionShape::Normal => {
            let (mean, sd) = (needed(desk, r.mean.as_ref(), "mean"), needed(desk, r.sd.as_ref(), "sd"));
            (Distribution::Normal { mean: mean?, sd: sd? }, sd? > 0.0, "`sd` must be above 0")
        }
        DistributionShape::LogNormal => {
            let median = needed(desk, r.median.as_ref(), "median");
            let spread = needed(desk, r.spread.as_ref(), "spread");
            let good = median? > 0.0 && spread? > 1.0;
            (
                Distribution::LogNormal { median: median?, spread: spread? },
                good,
                "`median` above 0 and `spread` above 1",
            )
        }
        DistributionShape::Exponential => {
            let mean = needed(desk, r.mean.as_ref(), "mean");
            (Distribution::Exponential { mean: mean? }, mean? > 0.0, "`mean` must be above 0")
        }
        DistributionShape::Uniform => {
            let (low, high) = (needed(desk, r.low.as_ref(), "low"), needed(desk, r.high.as_ref(), "high"));
            (Distribution::Uniform { low: low?, high: high? }, low? < high?, "`low` must be below `high`")
        }
    };
    let (distribution, good, rule) = made;
    if !good {
        desk.here(ProblemCode::Distribution, at, 1, rule.to_owned(), None);
    }
    good.then_some(distribution)
}

#[cfg(test)]
mod rules {
    use crate::check;
    use crate::files::{Files, Folder, InMemory};
    use std::path::Path;

    /// The problems of the shipped base after one change to one file.
    fn after(path: &str, from: &str, to: &str) -> Vec<String> {
        let (mut files, _) = Folder(Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../../kb"))).read();
        let file = files.iter_mut().find(|f| f.path == path).unwrap();
        assert!(file.text.contains(from), "{path} no longer holds {from}");
        file.text = file.text.replace(from, to);
        check(&InMemory(files)).problems.iter().map(|p| format!("{} {}", p.code.word(), p.message)).collect()
    }

    #[test]
    fn a_drop_has_a_start_and_a_time_and_nothing_else_does() {
        let hold = "evap/tests/pressure-hold.yaml";
        for (from, to, told) in [
            ("      start: 14\n", "", "kb-amount a pressure-drop needs `start`"),
            ("      over_s: 120\n", "      over_s: 0\n", "kb-amount `over_s` must be above 0"),
            ("quantity: pressure-drop", "quantity: pressure", "kb-amount `start` belongs to a drop"),
            (
                "      start: 14\n",
                "      start: 14\n      adjust: copper-20c\n",
                "kb-unknown-word `copper-20c` does nothing",
            ),
        ] {
            let problems = after(hold, from, to);
            assert!(problems.iter().any(|p| p.starts_with(told)), "{told}: {problems:?}");
        }
    }
}
