//! The hole behind a decay of pressure or vacuum, with its range and what could fake it. Time and drop of a known hole are in `answer_hold`.

use crate::answer::{Answer, Basis, Figure, corners};
use crate::decay::{Law, hole_m, mean_leak_m3_s};
use crate::digits::{rough, tidy};
use crate::error::GaugeError;
use crate::fit::{Comparison, Shape, compare};
use crate::limits::{over_ceiling, test_cautions};
use crate::orifice::{CD_RANGE, CD_USUAL};
use crate::quantity::{Quantity, Side};
use crate::reading::Reading;
pub use crate::setting::Setting;
use crate::space::Space;
use crate::units::{CC_MIN, INCH_LENGTH, INH2O, INHG, Kind, MILLIMETRE, Unit};
use crate::warming::{could_fake, slopes_pa_per_k};

pub(crate) const FORMULA: &str = "sealed volume through a hole";
pub(crate) const SOURCE: &str = "Bernoulli with discharge coefficient 0.56 to 0.84 (Unwin, Encyclopædia Britannica 11th ed.), integrated for a closed volume at constant temperature; isentropic and choked flow under vacuum";

/// The needle of a hold as numbers.
struct Needle {
    side: Side,
    points: Vec<(f64, f64)>,
    step_pa: f64,
    unit: Unit,
}

fn needle(reading: &Reading, setting: &Setting) -> Result<Needle, GaugeError> {
    let air = setting.surroundings.air_pa;
    let (side, points, step, unit) = match reading {
        Reading::Series(series) => {
            let (side, points) = series.from_air(setting.side, air)?;
            (side, points, series.unit.step_to_si(series.step), series.unit)
        }
        Reading::Held { start: Some(start), seconds: Some(seconds) } => {
            let (side, pa) = start.from_air(setting.side, air)?;
            (side, vec![(0.0, pa), (*seconds, pa)], start.step_si(), start.unit)
        }
        Reading::Held { .. } => {
            return Err(GaugeError::Missing("held at what, for how long? write `held 20 inHg for 5 min`".into()));
        }
        _ => {
            return Err(GaugeError::Missing(
                "a decay needs start, end and time; write `20 -> 19.3 inHg in 4 min`".into(),
            ));
        }
    };
    if unit.kind() != Kind::Pressure {
        return Err(GaugeError::nonsense(format!("a decay is a pressure or a vacuum, not {}", unit.kind().name())));
    }
    if points.first().is_none_or(|first| first.1 <= 0.0) {
        return Err(GaugeError::nonsense("the hold starts at the air pressure outside: nothing can leak"));
    }
    Ok(Needle { side, points, step_pa: setting.resolution_pa(step)?, unit })
}

/// The hole behind a decay of pressure or vacuum.
///
/// # Errors
/// When the needle rose with nothing to explain it, or an input is missing or cannot be.
pub fn hole_from_decay(reading: &Reading, setting: &Setting) -> Result<Answer, GaugeError> {
    let Needle { side, points, step_pa, unit } = needle(reading, setting)?;
    if step_pa <= 0.0 {
        return Err(GaugeError::Missing("how finely does the gauge read? state its resolution, as `0.2 inHg`".into()));
    }
    let space = setting.space.space()?;
    let (start, end) = (points.first().copied().unwrap_or_default(), points.last().copied().unwrap_or_default());
    let seconds = end.0 - start.0;
    let (rho_low, rho, rho_high) = setting.densities(side);
    let law = setting.law(side, rho);
    let sign = if side == Side::Pressure { 1.0 } else { -1.0 };
    let slopes = slopes_pa_per_k(
        setting.surroundings.air_pa + sign * start.1,
        setting.surroundings.air_k,
        setting.subject.has_fuel(),
    );
    let warming = setting.warming.map_or(Ok(0.0), |w| w.must_be(Kind::Warming).map(Quantity::si))?;
    // Warming lifts pressure and hides a fall of it; it eats vacuum and fakes a fall of that.
    let shift = sign * warming;
    refuse_rise(start.1, end.1, shift, slopes, step_pa, side)?;
    let slope = 0.5 * (slopes.0 + slopes.1);
    let corrected: Vec<(f64, f64)> =
        points.iter().map(|p| (p.0 - start.0, (p.1 - shift * slope * (p.0 - start.0) / seconds).max(0.0))).collect();
    let shape = if points.len() >= 3 { Some(compare(&law, &corrected, step_pa / 2.0)?) } else { None };
    let (from, to) = match &shape {
        Some(found) if found.shape != Shape::Neither => (found.orifice.start_pa, found.orifice.end_pa),
        _ => (start.1, corrected.last().map_or(end.1, |p| p.1)),
    };
    let hole = |law: &Law, volume, cd, from: f64, to: f64, seconds| {
        hole_m(law, volume, cd, from, to.clamp(0.0, from.max(0.0)), seconds).unwrap_or(f64::NAN)
    };
    let value = hole(&law, space.usual_m3, CD_USUAL, from, to, seconds);
    let watch = (0.05 * seconds).min(1.0);
    let half = step_pa / 2.0;
    let ranges = [
        (start.1 - half, start.1 + half),
        (end.1 - half, end.1 + half),
        slopes,
        (space.low_m3, space.high_m3),
        CD_RANGE,
        (rho_low, rho_high),
        (seconds - watch, seconds + watch),
    ];
    let (low, high) = corners(&ranges, |x| hole(&setting.law(side, x[5]), x[3], x[4], x[0], x[1] - shift * x[2], x[6]));
    let ran_out = end.1 <= half;
    let mut figure = Figure::from_si("hole", INCH_LENGTH, value, Some((low.min(value), high.max(value))));
    if ran_out {
        figure.high = None;
    }
    let mut answer = Answer::new("hole-from-decay", figure, FORMULA, SOURCE, Basis::Published)?;
    answer.headline = if value > 0.0 {
        format!("as much as one round hole of {}", answer.value.words())
    } else {
        format!("no leak shown: any hole is smaller than {} in", rough(answer.value.high.unwrap_or(0.0)))
    };
    let drop = start.1 - end.1;
    let leak = mean_leak_m3_s(space.usual_m3, drop + shift * slope, setting.surroundings.air_pa, seconds).max(0.0);
    answer.also = vec![
        answer.value.in_unit(MILLIMETRE),
        Figure::from_si("drop", unit, drop, Some((drop - step_pa, drop + step_pa))),
        Figure::from_si("mean leak at outside pressure", CC_MIN, leak, None),
    ];
    answer.taken =
        vec![reading.to_string(), format!("as {}", side_word(side)), space.words.clone(), setting.air_words()];
    answer.range_because = because(&space, step_pa, setting.resolution.is_some(), side, rho_high > rho);
    if warming.abs() > 0.0 {
        answer.range_because.push(format!(
            "warming of {} K accounts for {} to {} inH2O",
            tidy(warming),
            rough(warming * slopes.0 / 249.089),
            rough(warming * slopes.1 / 249.089)
        ));
    } else {
        answer.warnings.extend(could_fake(drop, side, slopes));
    }
    answer.warnings.extend(over_ceiling(setting.subject, side, start.1));
    answer.warnings.extend(space.warnings);
    if ran_out {
        answer.warnings.push(
            "the needle reached zero before the end: the hole is at least this large; time the fall to half instead"
                .into(),
        );
    }
    answer.warnings.extend(shape.as_ref().map(shape_words));
    answer.shape = shape;
    answer.cautions = test_cautions(side);
    answer.classify();
    Ok(answer)
}

/// Refuses an end above the start unless a stated change of temperature explains it.
fn refuse_rise(start: f64, end: f64, shift: f64, slopes: (f64, f64), step: f64, side: Side) -> Result<(), GaugeError> {
    if end <= start {
        return Ok(());
    }
    let (what, change) = if side == Side::Pressure { ("pressure", "warmed") } else { ("vacuum", "cooled") };
    if shift <= 0.0 {
        return Err(GaugeError::nonsense(format!(
            "the {what} at the end is above that at the start, which no leak does; if the gas {change} during the hold, state by how much, else read again"
        )));
    }
    if end - start > shift * slopes.1 + step {
        return Err(GaugeError::nonsense(format!(
            "the {what} rose by more than {} K explain ({} inH2O); read again",
            tidy(shift),
            rough(shift * slopes.1 / 249.089)
        )));
    }
    Ok(())
}

fn shape_words(found: &Comparison) -> String {
    let rms = |pa: f64| format!("{} inH2O", rough(pa / 249.089));
    let both = format!(
        "typical miss {} as a hole, {} as a long narrow path",
        rms(found.orifice.rms_pa),
        rms(found.laminar.rms_pa)
    );
    match found.shape {
        Shape::Orifice => format!("the points fall like a hole with a clean edge ({both})"),
        Shape::Laminar => format!(
            "the points fall like a long narrow path, a crack or a weeping seal ({both}): the hole size is only its equivalent"
        ),
        Shape::CannotTell => {
            format!("these points cannot tell a hole from a long narrow path ({both}); a longer hold would")
        }
        Shape::Neither => format!(
            "the points follow neither a hole nor a narrow path ({both}): temperature, evaporating fuel or a leak that opens and shuts; repeat"
        ),
    }
}

pub(crate) fn side_word(side: Side) -> &'static str {
    if side == Side::Pressure { "pressure above the air outside" } else { "vacuum below the air outside" }
}

pub(crate) fn because(space: &Space, step_pa: f64, stated: bool, side: Side, heavy: bool) -> Vec<String> {
    let step = if side == Side::Vacuum && step_pa > 300.0 {
        format!("{} inHg", rough(INHG.from_si(step_pa)))
    } else {
        format!("{} inH2O", rough(INH2O.from_si(step_pa)))
    };
    let gauge = if stated { "gauge resolution" } else { "last place written, taken as gauge resolution:" };
    let mut reasons = vec![
        "shape of the hole's edge: discharge coefficient 0.56 to 0.84, usually 0.61".to_string(),
        space.words.clone(),
    ];
    if step_pa > 0.0 {
        reasons.push(format!("{gauge} {step}"));
    }
    if heavy {
        reasons.push("gas in the hole: nitrogen to saturated petrol vapour, 0.97 to 1.5 times air's density".into());
    }
    reasons
}
