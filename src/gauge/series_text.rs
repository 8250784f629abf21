//! Written points with their times become a series: units shared out, times rising, nothing mixed. Where the text is cut is in `reading_text`.

use crate::error::{GaugeError, shorten};
use crate::number_text::{parse_number, split_number, split_reference};
use crate::quantity::{Quantity, Reference};
use crate::reading::{Point, Reading, Series};
use crate::units::{Kind, Unit};

/// Gives every point the unit, refuses what is not a series.
pub(crate) fn series(text: &str, written: &[(f64, &str)], kind: Kind) -> Result<Reading, GaugeError> {
    if written.len() < 2 {
        return Err(GaugeError::unclear(text, "a series has at least two points"));
    }
    let mut numbers = Vec::new();
    let mut units: Vec<(Unit, Reference)> = Vec::new();
    for (seconds, token) in written {
        let (number, rest) = split_number(token);
        if number.contains(',') && text.contains(", ") {
            return Err(GaugeError::unclear(
                text,
                "commas part the points here, so decimals need a point: `12.1, 10.3`",
            ));
        }
        let (value, step) = parse_number(number, text)?;
        let (rest, reference) =
            if kind == Kind::Pressure { split_reference(rest) } else { (rest.trim().to_string(), Reference::Unstated) };
        let own = if rest.is_empty() { None } else { Some((Unit::find(&rest, kind)?, reference)) };
        units.extend(own);
        numbers.push((*seconds, value, step, own));
    }
    let Some(&(unit, reference)) = units.last() else {
        let unit = kind.example().split_once(' ').map_or("", |(_, unit)| unit);
        return Err(GaugeError::NoUnit { text: shorten(text), example: format!("14 -> 8 {unit} in 2 min") });
    };
    if units.len() < numbers.len() && units.iter().any(|other| *other != (unit, reference)) {
        return Err(GaugeError::unclear(
            text,
            "two units are written and some points have none; give every point its unit",
        ));
    }
    if units.iter().any(|other| other.1 != reference) {
        return Err(GaugeError::unclear(
            text,
            "the points count from different zeros; write all of them gauge, vacuum or absolute",
        ));
    }
    let mut points: Vec<Point> = Vec::new();
    let mut finest = f64::INFINITY;
    for (seconds, value, step, own) in numbers {
        let written_in = own.map_or(unit, |own| own.0);
        let quantity = Quantity { value, unit: written_in, reference, step }.checked()?.in_unit(unit)?;
        if points.last().is_some_and(|last| seconds <= last.seconds) {
            return Err(GaugeError::nonsense(format!("`{}`: the times must rise from point to point", shorten(text))));
        }
        finest = finest.min(quantity.step);
        points.push(Point { seconds, value: quantity.value });
    }
    Ok(Reading::Series(Series { points, unit, reference, step: finest }))
}
