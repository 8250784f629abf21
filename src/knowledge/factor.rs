//! What a factor makes of a vehicle: the multiplier of the prior, rescaled so that the fleet's mean stays 1.

use super::base::{Covers, Factor, FactorInput, Vehicle};

impl Factor {
    /// Mean of the multipliers over the fleet; a circumstance leaves the other vehicles at 1.
    fn mean(&self) -> f64 {
        let inside: f64 = self.bands.iter().map(|b| b.times.get() * b.share.get()).sum();
        match self.input {
            FactorInput::Circumstance => {
                let share: f64 = self.bands.iter().map(|b| b.share.get()).sum();
                inside + (1.0 - share)
            }
            FactorInput::Age | FactorInput::Mileage | FactorInput::Climate => inside,
        }
    }

    /// The multiplier for this vehicle; 1 when the vehicle does not tell. Where it lives in two climates, the one that wears
    /// more counts: salt eats in the heat as well.
    #[must_use]
    pub fn multiplier(&self, vehicle: &Vehicle) -> f64 {
        let number = match self.input {
            FactorInput::Age => vehicle.age,
            FactorInput::Mileage => vehicle.mileage_km,
            FactorInput::Climate | FactorInput::Circumstance => None,
        };
        let holds = |covers: &Covers| match covers {
            Covers::Range(from, to) => number.is_some_and(|n| n >= *from && to.is_none_or(|to| n < to)),
            Covers::Word(word) => match self.input {
                FactorInput::Climate => vehicle.climates.contains(word),
                _ => vehicle.circumstances.contains(word),
            },
        };
        let mean = self.mean();
        let times = self.bands.iter().filter(|b| holds(&b.covers)).map(|b| b.times.get() / mean);
        times.reduce(f64::max).unwrap_or(1.0)
    }

    /// The largest multiplier of any vehicle.
    #[must_use]
    pub fn highest(&self) -> f64 {
        let mean = self.mean();
        self.bands.iter().map(|b| b.times.get() / mean).fold(1.0, f64::max)
    }
}
