//! What a test must not exceed, and the sentences that say so beside an answer. Stops nobody; the reader decides.

use crate::digits::tidy;
use crate::quantity::Side;

/// Most pressure on a closed vapour system, Pa: 14 inH2O (3.5 kPa, 0.5 psi). Common practice; the vehicle maker's figure comes first.
pub const SYSTEM_PRESSURE_PA: f64 = 14.0 * 249.089;
/// Most vacuum on a closed tank, Pa: taken equal to the pressure limit. Judgement: tanks give way inwards sooner than outwards.
pub const SYSTEM_VACUUM_PA: f64 = 14.0 * 249.089;
/// Most pressure on a cap in its tester, Pa: 30 inH2O, the pressure of the inspection test. US EPA I/M guidance, from memory.
pub const CAP_PRESSURE_PA: f64 = 30.0 * 249.089;
/// Most vacuum on a single valve, Pa: 25 inHg, what hand pumps make. Common practice.
pub const VALVE_VACUUM_PA: f64 = 25.0 * 3386.389;

/// What the gauge is connected to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Subject {
    /// The closed vapour system with its tank.
    #[default]
    System,
    /// A filler cap alone, in its adapter.
    Cap,
    /// A valve alone, off the system.
    Valve,
}

impl Subject {
    /// Whether fuel stands in the volume under test.
    #[must_use]
    pub fn has_fuel(self) -> bool {
        self == Self::System
    }

    /// The ceiling in Pa on one side.
    #[must_use]
    pub fn ceiling_pa(self, side: Side) -> f64 {
        match (self, side) {
            (Self::System, Side::Pressure) => SYSTEM_PRESSURE_PA,
            (Self::System, Side::Vacuum) => SYSTEM_VACUUM_PA,
            (Self::Cap, _) | (Self::Valve, Side::Pressure) => CAP_PRESSURE_PA,
            (Self::Valve, Side::Vacuum) => VALVE_VACUUM_PA,
        }
    }
}

/// Always shown where pressure meets the vapour system.
pub const NEVER_SHOP_AIR: &str = "use nitrogen or the smoke machine's regulated inert supply, never shop air: air brings the vapour into the range that explodes, and a shop line bursts the tank";
/// Always shown where a port is open.
pub const NO_FLAME: &str =
    "no flame, spark, hot work or unfused lamp near an open port; ventilate, earth static, extinguisher at hand";
/// Always shown with electrical load answers.
pub const FUSED_LEAD: &str = "use a fused lead or lamp, away from open vapour ports; a control module's driver may not be loaded beyond its valve";
/// The vehicle's own procedure wins.
pub const MAKER_FIRST: &str = "the vehicle maker's procedure and local rules come before these figures";

/// The warning when a pressure exceeds the ceiling of what it is applied to.
#[must_use]
pub fn over_ceiling(subject: Subject, side: Side, pa: f64) -> Option<String> {
    let ceiling = subject.ceiling_pa(side);
    // A limit gauge read to the last place may show the limit itself a hair high.
    if pa <= ceiling * 1.005 {
        return None;
    }
    let (what, unit, pa_per) = match (subject, side) {
        (Subject::System, _) => ("a closed vapour system", "inH2O", 249.089),
        (Subject::Cap, _) => ("a filler cap", "inH2O", 249.089),
        (Subject::Valve, Side::Pressure) => ("a valve", "inH2O", 249.089),
        (Subject::Valve, Side::Vacuum) => ("a valve", "inHg", 3386.389),
    };
    let word = if side == Side::Pressure { "pressure" } else { "vacuum" };
    let harm = if subject == Subject::System {
        ": it can damage the tank and open relief valves, which then look like leaks"
    } else {
        ""
    };
    Some(format!(
        "{} {unit} is above the most {word} to put on {what}, {} {unit} ({} kPa){harm}",
        tidy(pa / pa_per),
        tidy(ceiling / pa_per),
        tidy(ceiling / 1e3)
    ))
}

/// Cautions that go with a pressure or vacuum test.
#[must_use]
pub fn test_cautions(side: Side) -> Vec<String> {
    let mut cautions = vec![NO_FLAME.to_string()];
    if side == Side::Pressure {
        cautions.insert(0, format!("at most 14 inH2O (3.5 kPa, 0.5 psi) on a closed vapour system; {NEVER_SHOP_AIR}"));
    }
    cautions.push(MAKER_FIRST.to_string());
    cautions
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ceilings_warn_just_above_themselves() {
        assert!(over_ceiling(Subject::System, Side::Pressure, 14.0 * 249.089).is_none());
        assert!(over_ceiling(Subject::System, Side::Pressure, 15.0 * 249.089).is_some_and(|w| w.contains("14 inH2O")));
        assert!(over_ceiling(Subject::Cap, Side::Pressure, 30.0 * 249.089).is_none());
        assert!(over_ceiling(Subject::Valve, Side::Vacuum, 20.0 * 3386.389).is_none());
        assert!(test_cautions(Side::Pressure)[0].contains("never shop air"));
    }
}
