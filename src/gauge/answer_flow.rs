//! The hole behind a steady flow at a pressure, as a smoke machine or a cap tester shows it. Knows no volumes.

use crate::answer::{Answer, Basis, Figure, corners};
use crate::error::GaugeError;
use crate::limits::{over_ceiling, test_cautions};
use crate::orifice::{CD_RANGE, CD_USUAL, expansibility, hole_from_flow_m};
use crate::quantity::{Quantity, Side};
use crate::reading::Reading;
use crate::setting::Setting;
use crate::units::{CC_MIN, INCH_LENGTH, Kind, L_MIN, MILLIMETRE};

const FORMULA: &str = "steady flow through a hole, Q = Cd A sqrt(2 dp / rho)";
const SOURCE: &str = "Bernoulli with discharge coefficient 0.56 to 0.84 (Unwin, Encyclopædia Britannica 11th ed.); isentropic expansion and choking under vacuum";

/// The hole that passes this flow at this pressure. `> 5 L/min` gives a least size, `< 60 cc/min` a most.
///
/// # Errors
/// When the pressure is zero, the flow is not a flow, or an input cannot be.
pub fn hole_from_flow(flow: &Reading, pressure: Quantity, setting: &Setting) -> Result<Answer, GaugeError> {
    let (flow_m3_s, step, open_low, open_high) = match flow {
        Reading::Exact(q) => (q.must_be(Kind::Flow)?.si(), q.step_si(), false, false),
        Reading::Above(q) => (q.must_be(Kind::Flow)?.si(), 0.0, false, true),
        Reading::Below(q) => (q.must_be(Kind::Flow)?.si(), 0.0, true, false),
        Reading::OffScale => {
            return Err(GaugeError::Missing("off which scale? write what the meter ends at, `> 10 L/min`".into()));
        }
        Reading::Series(_) | Reading::Held { .. } => {
            return Err(GaugeError::Missing("a flow is one number, as `0.6 L/min`".into()));
        }
    };
    let air_pa = setting.surroundings.air_pa;
    let (side, pa) = pressure.from_air(setting.side, air_pa)?;
    if pa <= 0.0 {
        return Err(GaugeError::nonsense("a flow without a pressure difference says nothing about a hole"));
    }
    let (rho_low, rho, rho_high) = setting.densities(side);
    let half_pa = setting.resolution_pa(pressure.step_si())?.min(pa) / 2.0;
    let size = |flow: f64, cd: f64, pa: f64, rho: f64| {
        // Under vacuum the air expands on its way in; under the small pressures used here it does not.
        let e = if side == Side::Vacuum { expansibility(1.0 - pa.min(air_pa) / air_pa) } else { 1.0 };
        hole_from_flow_m(flow.max(0.0), cd, pa, rho, e).unwrap_or(f64::NAN)
    };
    let value = size(flow_m3_s, CD_USUAL, pa, rho);
    let ranges =
        [(flow_m3_s - step / 2.0, flow_m3_s + step / 2.0), CD_RANGE, (pa - half_pa, pa + half_pa), (rho_low, rho_high)];
    let (low, high) = corners(&ranges, |x| size(x[0], x[1], x[2], x[3]));
    let mut figure = Figure::from_si("hole", INCH_LENGTH, value, Some((low, high)));
    figure.high = figure.high.filter(|_| !open_high);
    figure.low = figure.low.filter(|_| !open_low);
    let mut answer = Answer::new("hole-from-flow", figure, FORMULA, SOURCE, Basis::Published)?;
    answer.headline = match (open_low, open_high) {
        (_, true) => format!("larger than one round hole of {}", answer.value.words()),
        (true, _) => format!("smaller than one round hole of {}", answer.value.words()),
        _ => format!("as much as one round hole of {}", answer.value.words()),
    };
    let unit = if flow_m3_s < 1e-3 / 60.0 { CC_MIN } else { L_MIN };
    answer.also = vec![answer.value.in_unit(MILLIMETRE), Figure::from_si("flow", unit, flow_m3_s, None)];
    answer.taken = vec![flow.to_string(), pressure.to_string(), setting.air_words()];
    answer.range_because = vec![
        "shape of the hole's edge: discharge coefficient 0.56 to 0.84, usually 0.61".into(),
        "last places written of flow and pressure, or the resolution stated".into(),
    ];
    if rho_high > rho {
        answer
            .range_because
            .push("gas in the hole: nitrogen to saturated petrol vapour, 0.97 to 1.5 times air's density".into());
    }
    answer.warnings.extend(over_ceiling(setting.subject, side, pa));
    answer.warnings.push("the flow is taken at the air pressure outside; a meter calibrated for standard conditions or another gas differs by some per cent".into());
    if setting.subject.has_fuel() {
        answer.warnings.push(
            "warming fuel makes vapour that flows out too, and cooling draws flow in: read when the flow is steady"
                .into(),
        );
    }
    answer.cautions = test_cautions(side);
    answer.classify();
    Ok(answer)
}
