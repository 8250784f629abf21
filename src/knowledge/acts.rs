//! What is done to a car in a step, and what of it can hurt: one table for the rules of `kb check` and for nobody
//! else. Which caution speaks of a hazard stands in the base (`covers`), not here.

use super::base::Hazard;
use crate::words;
use serde::{Deserialize, Serialize};

words! {
    /// Something that is opened, touched, energised, unplugged, lifted, heated, pressurised or started.
    Act {
        /// The filler: cap off, flap pushed open.
        OpenFiller = "open-filler",
        /// The tank, its neck, or a line or valve between tank and canister.
        OpenTankSide = "open-tank-side",
        /// A vapour line or part between canister, fresh air and engine.
        OpenVapourLine = "open-vapour-line",
        /// Work beside a tank, a canister or vapour lines that stay closed.
        NearVapour = "near-vapour",
        /// A sealed tank that stays shut: its pressure is what is looked at.
        WatchSealedTank = "watch-sealed-tank",
        /// A line that holds liquid fuel, or fuel caught, drained or pumped.
        OpenFuelLine = "open-fuel-line",
        /// The cooling system, or a part that coolant flows through.
        OpenCoolant = "open-coolant",
        /// The air-conditioning circuit.
        OpenRefrigerant = "open-refrigerant",
        /// The exhaust, its sensors and pipes, the hot side of exhaust-gas recirculation.
        OpenExhaust = "open-exhaust",
        /// An emission-control part taken off, taken apart or renewed.
        OpenEmissionPart = "open-emission-part",
        /// Hands near hot metal that stays closed.
        NearExhaust = "near-exhaust",
        /// Hands within reach of a fan's blades.
        NearFan = "near-fan",
        /// Hands near belts and pulleys.
        NearBelts = "near-belts",
        /// Work beside cables or parts of high voltage.
        NearOrange = "near-orange",
        /// Battery voltage led to a part by a lead, a lamp or a jumper.
        Energise = "energise",
        /// A plug, a fuse or a relay pulled or joined.
        Unplug = "unplug",
        /// A terminal probed.
        Probe = "probe",
        /// The vehicle raised.
        Lift = "lift",
        /// Metal welded, brazed, ground or cut.
        Weld = "weld",
        /// A heat gun, a flame for shrink sleeve, or a soldering iron.
        Heat = "heat",
        /// Gas or smoke fed into a closed low-pressure system.
        Pressurise = "pressurise",
        /// The cooling system pumped up.
        PressuriseCoolant = "pressurise-coolant",
        /// Something that can spray, burst, chip or be blown about.
        Splash = "splash",
        /// The engine started or left running.
        StartEngine = "start-engine",
        /// The car driven.
        Drive = "drive",
        /// A fan run by command or by a lead.
        RunFan = "run-fan",
        /// A driven flap or valve with fingers, brush or probe near it.
        ReachFlap = "reach-flap",
        /// A particulate filter burnt clean by command.
        Regenerate = "regenerate",
        /// Spray cleaner, carbon and soot.
        CleanCarbon = "clean-carbon",
        /// Codes cleared.
        ClearCodes = "clear-codes",
        /// Coolant may stand in a cylinder when the engine is turned.
        CoolantInIntake = "coolant-in-intake",
        /// A new catalyst fitted.
        FitCatalyst = "fit-catalyst",
        /// Fuel filled in.
        FillTank = "fill-tank",
        /// A filler neck put back.
        RefitNeck = "refit-neck",
    }
}

impl Act {
    /// The hazards that it brings; every one needs a caution.
    #[must_use]
    pub fn hazards(self) -> &'static [Hazard] {
        use Hazard as H;
        match self {
            Self::OpenFiller | Self::OpenTankSide => &[H::Vapour, H::Static, H::SealedPressure],
            Self::OpenVapourLine | Self::NearVapour => &[H::Vapour],
            Self::WatchSealedTank => &[H::Vapour, H::SealedPressure],
            Self::OpenFuelLine => &[H::Vapour, H::Static, H::LiquidFuel, H::Eyes],
            Self::OpenCoolant => &[H::Coolant],
            Self::OpenRefrigerant => &[H::Refrigerant, H::Eyes],
            Self::OpenExhaust | Self::NearExhaust => &[H::Hot],
            Self::OpenEmissionPart => &[H::EmissionPart],
            Self::NearFan => &[H::Fan],
            Self::NearBelts | Self::RunFan => &[H::Moving],
            Self::NearOrange => &[H::HighVoltage],
            Self::Energise | Self::Probe => &[H::Electric],
            Self::Unplug => &[H::LivePlug],
            Self::Lift => &[H::Raised],
            Self::Weld => &[H::HotWork, H::Eyes],
            Self::Heat => &[H::HotWork],
            Self::Pressurise => &[H::Pressure],
            Self::PressuriseCoolant => &[H::Coolant, H::Eyes],
            Self::Splash => &[H::Eyes],
            Self::StartEngine => &[H::EngineRunning, H::Moving],
            Self::Drive => &[H::Road],
            Self::ReachFlap => &[H::DrivenFlap],
            Self::Regenerate => &[H::Regeneration],
            Self::CleanCarbon => &[H::Cleaner, H::Eyes],
            Self::ClearCodes => &[H::LostEvidence],
            Self::CoolantInIntake => &[H::HydraulicLock],
            Self::FitCatalyst => &[H::NewCatalyst],
            Self::FillTank => &[H::ToppingOff, H::Static],
            Self::RefitNeck => &[H::NeckStrap],
        }
    }

    /// Whether the other act is part of this one, so that it need not be named too.
    #[must_use]
    pub fn holds(self, other: Self) -> bool {
        self == other || matches!((self, other), (Self::Drive, Self::StartEngine | Self::RunFan))
    }

    /// Words by which a step betrays the act, in lower case. They are a net below the declared acts: few and plain, so
    /// that what they catch is meant.
    #[must_use]
    pub fn told_by(self) -> &'static [&'static str] {
        match self {
            Self::OpenFiller => &["cap off", "open the filler", "flap open", "take off the cap", "uncap the filler"],
            Self::OpenTankSide => &["lower the tank", "open the tank", "neck off", "line off the tank"],
            Self::OpenFuelLine => &["pump the fuel out", "drain the tank", "fuel line off", "empty the tank"],
            Self::OpenCoolant => &["drain the coolant", "radiator cap off", "bleed the cooling", "coolant cap off"],
            Self::OpenRefrigerant => &["refrigerant out", "recover the refrigerant", "refrigerant is recovered"],
            Self::NearFan => &["turn the fan", "spin the fan", "turn the wheel of the fan", "turn the blades"],
            Self::NearOrange => &["orange cable", "high-voltage system", "high-voltage cable"],
            Self::Energise => &["fused lead", "fused jumper", "jumper from", "12 v to"],
            Self::Unplug => &["unplug", "pull the fuse", "pull the relay"],
            Self::Probe => &["back-probe", "backprobe"],
            Self::Lift => &["raise the vehicle", "raise the car", "lift the vehicle", "lower the tank", "on stands"],
            Self::Weld => &["weld the", "weld a", "weld it", "braze", "grinder to"],
            Self::Heat => &["heat gun", "solder", "shrink sleeve", "heat-shrink"],
            Self::Pressurise => &["let smoke", "feed smoke", "feed nitrogen", "nitrogen to"],
            Self::StartEngine => &[
                "start the engine",
                "let the engine run",
                "let the engine idle",
                "run the engine",
                "let it idle",
                "engine running,",
                "start it cold",
            ],
            Self::Drive => &["test drive", "road drive", "drive the car", "drive the vehicle", "drive it"],
            Self::Regenerate => &["start a regeneration", "command a regeneration", "regenerate the"],
            Self::CleanCarbon => {
                &["spray cleaner", "carbon cleaner", "scrape it", "scrape the", "scrape out", "scrape,", "decarbonise"]
            }
            Self::ClearCodes => &["clear the code", "clear codes", "clear all codes", "codes are cleared"],
            Self::FitCatalyst => &["new catalyst"],
            Self::FillTank => &["fill the tank", "refuelled", "filled to the first click"],
            Self::RefitNeck => &["refit the neck", "fit a new neck", "neck back"],
            Self::OpenVapourLine
            | Self::NearVapour
            | Self::WatchSealedTank
            | Self::OpenExhaust
            | Self::OpenEmissionPart
            | Self::NearExhaust
            | Self::NearBelts
            | Self::PressuriseCoolant
            | Self::Splash
            | Self::RunFan
            | Self::ReachFlap
            | Self::CoolantInIntake => &[],
        }
    }

    /// Every act.
    pub fn all() -> impl Iterator<Item = Self> {
        Self::WORDS.iter().filter_map(|w| Self::from_word(w))
    }
}

/// A text of steps, ready to be asked what it says is done.
#[derive(Debug)]
pub struct Said(Vec<String>);

impl Said {
    /// The text in clauses.
    #[must_use]
    pub fn of(text: &str) -> Self {
        Self(text.to_lowercase().split([';', '.', ':']).map(|c| format!(" {}", c.trim())).collect())
    }

    /// The first of the phrases that is said as something done: what stands behind a denial in its clause does not
    /// count.
    #[must_use]
    pub fn says<'a>(&self, phrases: &[&'a str]) -> Option<&'a str> {
        const DENIES: [&str; 7] = [" never ", " not ", "n't ", " without ", " no ", " instead of ", " nothing "];
        self.0.iter().find_map(|clause| {
            phrases.iter().copied().find(|p| {
                let Some(at) = clause.find(p) else { return false };
                !DENIES.iter().any(|d| clause[..at].contains(d))
            })
        })
    }
}

#[cfg(test)]
mod said {
    use super::Said;

    #[test]
    fn what_is_forbidden_is_not_done() {
        let weld = |text: &str| Said::of(text).says(&["weld the"]);
        assert_eq!(weld("Weld the crack so that nothing leaks"), Some("weld the"));
        assert_eq!(weld("Never weld the tank"), None);
        assert_eq!(weld("Look; do not weld the crack"), None);
        assert_eq!(weld("Do not hurry; weld the crack"), Some("weld the"));
    }
}
