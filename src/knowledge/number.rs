//! The numbers an entry may hold, each with its limits, defined once. No arithmetic beyond that lives here.

use serde::{Deserialize, Serialize};
use std::fmt;

/// Why a number was refused, in words that follow "the number …".
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Refused {
    /// Not a probability strictly between 0 and 1.
    #[error("must lie strictly between 0 and 1")]
    Probability,
    /// Not a weight between 0.5 and 1,000,000 jobs.
    #[error("must be a weight between 0.5 and 1,000,000 jobs")]
    Weight,
    /// Not a plausible time.
    #[error("must be between 0 and {} minutes", Minutes::MOST)]
    Minutes,
    /// Not a plausible amount of money.
    #[error("must be between 0 and {}", Money::MOST)]
    Money,
    /// Not a usable multiplier.
    #[error("must be a multiplier between 0.001 and 1,000")]
    Times,
}

macro_rules! number {
    ($(#[$doc:meta])* $name:ident, $why:expr, $test:expr) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
        pub struct $name(f64);

        impl $name {
            /// Takes the number if it lies within the limits of its kind.
            ///
            /// # Errors
            /// [`Refused`] says which limit it breaks; NaN and infinities never pass.
            pub fn new(value: f64) -> Result<Self, Refused> {
                let within: fn(f64) -> bool = $test;
                if within(value) { Ok(Self(value)) } else { Err($why) }
            }

            /// The bare number.
            #[must_use]
            pub fn get(self) -> f64 {
                self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }
    };
}

number!(
    /// A probability strictly between 0 and 1: certainty in the base would make evidence impossible.
    Probability, Refused::Probability, |v| v > 0.0 && v < 1.0
);
number!(
    /// How many observed jobs (or cars) a number is worth.
    Weight, Refused::Weight, |v| (0.5..=1e6).contains(&v)
);
number!(
    /// A duration in minutes of labour.
    Minutes, Refused::Minutes, |v| (0.0..=Minutes::MOST).contains(&v)
);
number!(
    /// An amount in the shop's currency.
    Money, Refused::Money, |v| (0.0..=Money::MOST).contains(&v)
);
number!(
    /// A relative multiplier of a prior.
    Times, Refused::Times, |v| (1e-3..=1e3).contains(&v)
);

impl Minutes {
    /// Two working days: anything longer is a slip of the pen.
    pub const MOST: f64 = 960.0;
}

impl Money {
    /// More than any part or tool here costs.
    pub const MOST: f64 = 50_000.0;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_hold_at_and_beyond_the_edge() {
        assert!(Probability::new(0.0).is_err());
        assert!(Probability::new(1.0).is_err());
        assert!(Probability::new(f64::NAN).is_err());
        assert!(Probability::new(1e-9).is_ok());
        assert!(Minutes::new(-1.0).is_err());
        assert!(Minutes::new(0.0).is_ok());
        assert!(Money::new(f64::INFINITY).is_err());
        assert!(Weight::new(0.0).is_err());
    }
}
