//! A number as the outcome of a reading: what was written, what it is in the test's own terms, and how probable it is
//! at each level. Decides nothing about suspects.

use super::error::EvidenceError;
use gauge::atmosphere::{SEA_LEVEL_PA, Surroundings};
use gauge::digits::tidy;
use gauge::electric::coil_ohm_at;
use gauge::evidence::{Measure as Asked, Measured, observe};
use gauge::likelihood::combine_repeats;
use gauge::{GaugeError, Kind, Observed, Quantity, Reading as Written, Side, Unit};
use gauge::{likelihoods, parse_quantity, parse_reading};
use knowledge::base::{Adjust, Measure, Quantity as What, Reading};

/// Where the scale ends when a meter only shows that a resistance is beyond it, in ohm: the range on which coils and
/// senders are measured. Judgement.
const OHM_SCALE_END: f64 = 1000.0;

/// A number in the terms of its test.
#[derive(Clone, Debug, PartialEq)]
pub struct Number {
    /// As a person wrote it.
    pub said: String,
    /// In the unit of the test, in words: `a drop of 0.7 inHg`.
    pub taken: String,
    /// What was assumed or done on the way.
    pub notes: Vec<String>,
    /// P(this number | level), one per level, none of them 0.
    pub likelihood: Vec<f64>,
}

/// Reads the text as the number that the reading asks for; nothing when the reading asks for none.
///
/// Several numbers (`34, 35, 33 ohm`, `20 -> 19 inHg in 4 min and 20 -> 19.2 inHg in 4 min`) share the error of their
/// gauge, so they count as one reading of their mean, not as independent ones.
///
/// # Errors
/// A text that cannot be read, lacks its unit, or says what cannot be.
pub fn number(text: &str, reading: &Reading) -> Option<Result<Number, EvidenceError>> {
    let measure = reading.measure.as_ref()?;
    let read = measured(text.trim(), measure);
    Some(read.map_err(|error| EvidenceError::Number { reading: reading.id.clone(), error }))
}

fn measured(text: &str, measure: &Measure) -> Result<Number, GaugeError> {
    let asked = asked(measure)?;
    let mut notes = Vec::new();
    let mut seen = Vec::new();
    for piece in pieces(text, asked.unit.kind(), measure.quantity.is_drop()) {
        let one = one(&piece, measure, &asked, &mut notes)?;
        seen.push(bounded(one, measure)?);
    }
    notes.dedup();
    if seen.len() > 1 {
        notes.push(format!("{} readings of one gauge share its error: they count as one, their mean", seen.len()));
    }
    let observed = together(&seen, measure.resolution)?;
    let likelihood = likelihoods(&measure.when, observed, measure.resolution)?;
    Ok(Number { said: text.to_owned(), taken: in_words(observed, measure), notes, likelihood })
}

/// The measure of the base in the gauge's terms.
fn asked(measure: &Measure) -> Result<Asked, GaugeError> {
    let unit = Unit::find(&measure.unit, kind_of(measure.quantity))?;
    let drop = |side| match (measure.start, measure.over_s) {
        (Some(start), Some(seconds)) => Ok(Measured::Drop { side, start_pa: unit.to_si(start), seconds }),
        // `kb check` refuses such a base.
        _ => Err(GaugeError::Missing("the test does not say from where and over what time its drop is read".into())),
    };
    let measured = match measure.quantity {
        What::PressureDrop => drop(Side::Pressure)?,
        What::VacuumDrop => drop(Side::Vacuum)?,
        What::Vacuum => Measured::FromAir(Some(Side::Vacuum)),
        What::Pressure => Measured::FromAir(Some(Side::Pressure)),
        _ => Measured::Value,
    };
    Ok(Asked { measured, unit, resolution: measure.resolution })
}

/// What the unit of a quantity measures.
#[must_use]
pub fn kind_of(quantity: What) -> Kind {
    match quantity {
        What::Pressure | What::Vacuum | What::PressureDrop | What::VacuumDrop => Kind::Pressure,
        What::Flow => Kind::Flow,
        What::Resistance => Kind::Resistance,
        What::Voltage | What::VoltageDrop => Kind::Voltage,
        What::Current => Kind::Current,
        What::Percent => Kind::Share,
        What::Mass => Kind::Mass,
        What::Time => Kind::Time,
        What::Temperature => Kind::Temperature,
        What::Length => Kind::Length,
        What::Volume => Kind::Volume,
    }
}

/// Whoever left out the unit is shown the one of this very reading.
fn with_its_own_unit(error: GaugeError, measure: &Measure) -> GaugeError {
    match error {
        GaugeError::NoUnit { text, .. } if text.parse::<f64>().is_ok() => {
            let example = format!("{text} {}", measure.unit);
            GaugeError::NoUnit { text, example }
        }
        other => other,
    }
}

/// One reading out of a text.
fn one(text: &str, measure: &Measure, asked: &Asked, notes: &mut Vec<String>) -> Result<Observed, GaugeError> {
    let kind = asked.unit.kind();
    let (text, under) = match measure.adjust {
        Some(Adjust::SeaLevel | Adjust::CopperAt20C) => split_at(text),
        _ => (text, None),
    };
    let text = ["drop of ", "a drop of ", "lost ", "fell by "]
        .iter()
        .find_map(|word| text.strip_prefix(word))
        .filter(|_| measure.quantity.is_drop())
        .unwrap_or(text);
    let mut written = parse_reading(text, kind).map_err(|e| with_its_own_unit(e, measure))?;
    if written == Written::OffScale && kind == Kind::Resistance {
        notes.push(format!("beyond the meter's scale, taken as more than {} ohm", tidy(OHM_SCALE_END)));
        let end = Unit::find("ohm", kind)?;
        written = Written::Above(Quantity::new(OHM_SCALE_END, end)?);
    }
    match measure.adjust {
        Some(Adjust::SeaLevel) => {
            let surroundings = under.map_or_else(|| Ok(Surroundings::default()), air_at)?;
            let ratio = surroundings.air_pa / SEA_LEVEL_PA;
            notes.push(match under {
                Some(under) => format!("divided by {} for the thinner air at {under}", tidy_ratio(ratio)),
                None => "taken as near sea level; elsewhere write `15 inHg at 5000 ft` or `at 84 kPa`".to_owned(),
            });
            Ok(turned(observe(&written, asked, &surroundings)?, |x| x / ratio))
        }
        Some(Adjust::CopperAt20C) => {
            let Some(under) = under else {
                notes.push("taken as measured at 20 °C; on a hot coil write `34 ohm at 100 C`".to_owned());
                return observe(&written, asked, &Surroundings::default());
            };
            let celsius = parse_quantity(under, Kind::Temperature)?.si() - 273.15;
            let factor = coil_ohm_at(1.0, celsius, 20.0)?;
            let cold = turned(observe(&written, asked, &Surroundings::default())?, |x| x * factor);
            notes.push(format!("brought from {} °C to 20 °C by copper's 0.00393 per °C", tidy(celsius)));
            Ok(cold)
        }
        Some(Adjust::Unsigned) => {
            let free = Asked { measured: Measured::FromAir(None), ..*asked };
            let surroundings = Surroundings::default();
            match observe(&written, &free, &surroundings) {
                // A number without a side is fine where only its size counts.
                Err(GaugeError::Missing(_)) => observe(&written, asked, &surroundings),
                found => found,
            }
        }
        None => {
            carried_note(&written, measure, notes);
            observe(&written, asked, &Surroundings::default())
        }
    }
}

/// `15 inHg at 5000 ft` in two.
fn split_at(text: &str) -> (&str, Option<&str>) {
    text.rsplit_once(" at ").map_or((text, None), |(number, under)| (number.trim(), Some(under.trim())))
}

/// The air at a height or under a barometer.
fn air_at(text: &str) -> Result<Surroundings, GaugeError> {
    match parse_quantity(text, Kind::Height) {
        Ok(height) => Surroundings::from(Some(height), None, None),
        Err(GaugeError::WrongKind { .. }) => {
            Surroundings::from(None, Some(parse_quantity(text, Kind::Pressure)?), None)
        }
        Err(error) => Err(error),
    }
}

fn tidy_ratio(ratio: f64) -> String {
    format!("{ratio:.3}")
}

fn turned(observed: Observed, f: impl Fn(f64) -> f64) -> Observed {
    match observed {
        Observed::Exact(x) => Observed::Exact(f(x)),
        Observed::Above(x) => Observed::Above(f(x)),
        Observed::Below(x) => Observed::Below(f(x)),
    }
}

/// Says how a hold was compared with the one that the test prescribes.
fn carried_note(written: &Written, measure: &Measure, notes: &mut Vec<String>) {
    let (Some(start), Some(seconds)) = (measure.start, measure.over_s) else { return };
    let own = format!("from {} {} over {} s", tidy(start), measure.unit, tidy(seconds));
    let note = match written {
        Written::Exact(_) | Written::Above(_) | Written::Below(_) => format!("taken as the drop {own}"),
        Written::Series(series) => {
            let (first, last) = (series.points.first(), series.points.last());
            let from = first.map_or(0.0, |p| p.value);
            let long = last.map_or(0.0, |p| p.seconds) - first.map_or(0.0, |p| p.seconds);
            let same = series.unit.symbol() == measure.unit && from.total_cmp(&start).is_eq();
            if same && long.total_cmp(&seconds).is_eq() {
                return;
            }
            format!("brought to the test's own hold, {own}, as the same hole would do")
        }
        Written::Held { start: None, seconds: None } => format!("no drop that the gauge shows, {own}"),
        Written::Held { .. } => format!("no drop that the gauge shows, brought to the test's own hold, {own}"),
        Written::OffScale => return,
    };
    notes.push(note);
}

/// A drop ends at the air outside: what lost all there was lost at least that.
fn bounded(observed: Observed, measure: &Measure) -> Result<Observed, GaugeError> {
    let Some(start) = measure.start else { return Ok(observed) };
    let (Observed::Exact(x) | Observed::Above(x) | Observed::Below(x)) = observed;
    if x < -1e-9 * start {
        return Err(GaugeError::Nonsense("a drop below zero is a rise, which no leak does".into()));
    }
    if x > start * (1.0 + 1e-9) {
        let (unit, start, x) = (&measure.unit, tidy(start), tidy(x));
        return Err(GaugeError::Nonsense(format!(
            "a drop of {x} {unit} is more than the {start} {unit} it starts from"
        )));
    }
    let all = matches!(observed, Observed::Exact(_)) && x >= start * (1.0 - 1e-9);
    // A needle that has not moved comes out of the conversion of units as a rise by rounding.
    Ok(if all { Observed::Above(x) } else { turned(observed, |x| x.max(0.0)) })
}

/// The texts of the single readings: `34, 35 ohm` is two, of which the first borrows the unit.
fn pieces(text: &str, kind: Kind, drop: bool) -> Vec<String> {
    let separators: &[&str] = if drop { &[" and ", "; "] } else { &[" and ", "; ", ", "] };
    let mut list = vec![text.trim().to_owned()];
    for separator in separators {
        let parted: Vec<String> = list
            .iter()
            .flat_map(|t| t.split(separator))
            .map(|t| t.trim().to_owned())
            .filter(|t| !t.is_empty())
            .collect();
        // The points of one hold may be parted by semicolons too; they are no readings by themselves.
        if !drop || parted.iter().all(|t| parse_reading(t, kind).is_ok()) {
            list = parted;
        }
    }
    let last = list.last().cloned().unwrap_or_default();
    let unit = last.trim_start_matches(|c: char| c.is_ascii_digit() || "<>=≤≥+-., ".contains(c));
    for piece in &mut list {
        if !piece.chars().any(|c| c.is_alphabetic() || "%°\"".contains(c)) {
            *piece = format!("{piece} {unit}");
        }
    }
    list
}

/// The one reading that several count as.
///
/// Exact ones count as their mean. Limits that agree count as the narrowest. A limit beside exact readings adds
/// nothing where it agrees with their mean.
fn together(seen: &[Observed], resolution: f64) -> Result<Observed, GaugeError> {
    let pick = |f: fn(&Observed) -> Option<f64>| -> Vec<f64> { seen.iter().filter_map(f).collect() };
    let exact = pick(|o| if let Observed::Exact(x) = o { Some(*x) } else { None });
    let above = pick(|o| if let Observed::Above(x) = o { Some(*x) } else { None });
    let below = pick(|o| if let Observed::Below(x) = o { Some(*x) } else { None });
    let least = above.iter().copied().max_by(f64::total_cmp);
    let most = below.iter().copied().min_by(f64::total_cmp);
    let against = || Err(GaugeError::Nonsense("these readings contradict each other: take it once more".into()));
    match (combine_repeats(&exact), least, most) {
        (Some(x), least, most) => {
            let low = least.is_some_and(|l| x < l - resolution);
            let high = most.is_some_and(|m| x > m + resolution);
            if low || high { against() } else { Ok(Observed::Exact(x)) }
        }
        (None, Some(least), None) => Ok(Observed::Above(least)),
        (None, None, Some(most)) => Ok(Observed::Below(most)),
        (None, Some(_), Some(_)) => against(),
        (None, None, None) => Err(GaugeError::Missing("there is no number in it".into())),
    }
}

fn in_words(observed: Observed, measure: &Measure) -> String {
    let (word, x) = match observed {
        Observed::Exact(x) => ("", x),
        Observed::Above(x) => ("more than ", x),
        Observed::Below(x) => ("less than ", x),
    };
    // What is at the stop has lost all there was.
    let all = measure.start.is_some_and(|start| matches!(observed, Observed::Above(_)) && x >= start * (1.0 - 1e-9));
    let number = format!("{} {}", shown(x), measure.unit);
    match (measure.quantity.is_drop(), all) {
        (true, true) => format!("a drop of all {number}"),
        (true, false) => format!("a drop of {word}{number}"),
        (false, _) => format!("{word}{number}"),
    }
}

/// Four digits: finer than any gauge of these tests.
fn shown(x: f64) -> String {
    let size = if x == 0.0 { 0.0 } else { x.abs().log10().floor() };
    let unit = 10f64.powf(size - 3.0);
    tidy((x / unit).round() * unit)
}

#[cfg(test)]
mod tests;
