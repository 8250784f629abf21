//! What a known hole does to a sealed hold: the time a fall takes, the drop in a time. The way back is in `answer_leak`.

use crate::answer::{Answer, Basis, Figure, corners};
use crate::answer_leak::{FORMULA, SOURCE, because, side_word};
use crate::decay::{left_after_pa, seconds_to_fall};
use crate::error::GaugeError;
use crate::limits::{over_ceiling, test_cautions};
use crate::orifice::{CD_RANGE, CD_USUAL};
use crate::quantity::{Quantity, Side};
use crate::setting::Setting;
use crate::space::Space;
use crate::units::{KPA, Kind, MINUTE, SECOND};
use crate::warming::{could_fake, slopes_pa_per_k};

/// How long a system whose only leak is this hole takes to fall from one level to another: a better one holds longer.
///
/// # Errors
/// When the levels do not fall, lie on different sides, or an input cannot be.
pub fn hold_time(hole: Quantity, from: Quantity, to: Quantity, setting: &Setting) -> Result<Answer, GaugeError> {
    let diameter = hole.above_zero(Kind::Length, "the hole")?;
    let (side, from_pa) = from.from_air(setting.side, setting.surroundings.air_pa)?;
    let (_, to_pa) = to.from_air(Some(side), setting.surroundings.air_pa)?;
    if to_pa >= from_pa {
        return Err(GaugeError::nonsense(format!("the level must fall: {to} is not below {from}")));
    }
    let space = setting.space.space()?;
    let (rho_low, rho, rho_high) = setting.densities(side);
    let time = |rho, volume, cd| seconds_to_fall(&setting.law(side, rho), volume, cd, diameter, from_pa, to_pa);
    let range = corners(&[(rho_low, rho_high), (space.low_m3, space.high_m3), CD_RANGE], |x| time(x[0], x[1], x[2]));
    let seconds = time(rho, space.usual_m3, CD_USUAL);
    let unit = if seconds < 180.0 { SECOND } else { MINUTE };
    let mut answer = Answer::new(
        "hold-time",
        Figure::from_si("time", unit, seconds, Some(range)),
        FORMULA,
        SOURCE,
        Basis::Published,
    )?;
    answer.headline = format!(
        "with a hole of {hole} it falls from {from} to {to} in {}; a system without so large a leak holds longer",
        answer.value.words()
    );
    let slopes = slopes_pa_per_k(setting.surroundings.air_pa, setting.surroundings.air_k, setting.subject.has_fuel());
    answer.warnings.extend(could_fake(from_pa - to_pa, side, slopes));
    finish(&mut answer, &space, setting, side, from_pa, rho_high > rho);
    Ok(answer)
}

/// The drop that a hole makes in a given time.
///
/// # Errors
/// When an input is missing or cannot be.
pub fn drop_through_hole(
    hole: Quantity,
    from: Quantity,
    time: Quantity,
    setting: &Setting,
) -> Result<Answer, GaugeError> {
    let diameter = hole.above_zero(Kind::Length, "the hole")?;
    let seconds = time.above_zero(Kind::Time, "the time")?;
    let (side, from_pa) = from.from_air(setting.side, setting.surroundings.air_pa)?;
    if from_pa <= 0.0 {
        return Err(GaugeError::nonsense("the hold starts at the air pressure outside: nothing can leak"));
    }
    let space = setting.space.space()?;
    let (rho_low, rho, rho_high) = setting.densities(side);
    let drop =
        |rho, volume, cd| from_pa - left_after_pa(&setting.law(side, rho), volume, cd, diameter, from_pa, seconds);
    let range = corners(&[(rho_low, rho_high), (space.low_m3, space.high_m3), CD_RANGE], |x| drop(x[0], x[1], x[2]));
    let usual = drop(rho, space.usual_m3, CD_USUAL);
    let mut answer = Answer::new(
        "drop-through-hole",
        Figure::from_si("drop", from.unit, usual, Some(range)),
        FORMULA,
        SOURCE,
        Basis::Published,
    )?;
    answer.headline = format!("a hole of {hole} makes {from} fall by {} in {time}", answer.value.words());
    answer.also = vec![
        Figure::from_si("left", from.unit, from_pa - usual, Some((from_pa - range.1, from_pa - range.0))),
        answer.value.in_unit(KPA),
    ];
    let slopes = slopes_pa_per_k(setting.surroundings.air_pa, setting.surroundings.air_k, setting.subject.has_fuel());
    answer.warnings.extend(could_fake(usual, side, slopes));
    finish(&mut answer, &space, setting, side, from_pa, rho_high > rho);
    Ok(answer)
}

fn finish(answer: &mut Answer, space: &Space, setting: &Setting, side: Side, from_pa: f64, heavy: bool) {
    answer.taken = vec![format!("as {}", side_word(side)), space.words.clone(), setting.air_words()];
    answer.range_because = because(space, 0.0, true, side, heavy);
    answer.warnings.extend(over_ceiling(setting.subject, side, from_pa));
    answer.warnings.extend(space.warnings.clone());
    answer.cautions = test_cautions(side);
}
