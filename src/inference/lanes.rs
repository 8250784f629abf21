//! One number, or eight side by side: what the passes over the table compute with. One alone gives the posterior, eight
//! give eight draws of the uncertain numbers for little more than the price of one, since the work of finding out where
//! a number goes is shared and the machine adds several at once.

use std::fmt::Debug;
use std::ops::{Add, AddAssign, Div, Mul, MulAssign, Sub};

/// How many draws go side by side.
pub(crate) const LANES: usize = 8;

/// Non-negative numbers that the engine adds and multiplies, and hardly ever subtracts.
pub(crate) trait Real:
    Copy
    + Debug
    + Default
    + Send
    + Sync
    + Add<Output = Self>
    + AddAssign
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Mul<f64, Output = Self>
    + MulAssign
    + Div<Output = Self>
    + 'static
{
    /// The same number in every lane.
    fn of(x: f64) -> Self;
    /// A number for each lane.
    fn each(lane: impl FnMut(usize) -> f64) -> Self;
    /// The number of one lane.
    fn lane(self, lane: usize) -> f64;
    /// The largest of all lanes: decides scales, which all lanes share.
    fn largest(self) -> f64;
}

/// The sum of some numbers.
pub(crate) fn sum<T: Real>(of: impl IntoIterator<Item = T>) -> T {
    of.into_iter().fold(T::default(), |a, b| a + b)
}

impl Real for f64 {
    fn of(x: f64) -> Self {
        x
    }

    fn each(mut lane: impl FnMut(usize) -> f64) -> Self {
        lane(0)
    }

    fn lane(self, _: usize) -> f64 {
        self
    }

    fn largest(self) -> f64 {
        self
    }
}

/// Eight numbers side by side.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[repr(align(64))]
pub(crate) struct Lanes([f64; LANES]);

impl Real for Lanes {
    fn of(x: f64) -> Self {
        Self([x; LANES])
    }

    fn each(lane: impl FnMut(usize) -> f64) -> Self {
        Self(std::array::from_fn(lane))
    }

    fn lane(self, lane: usize) -> f64 {
        self.0[lane]
    }

    fn largest(self) -> f64 {
        self.0.iter().copied().fold(0.0, f64::max)
    }
}

macro_rules! by_lane {
    ($($op:ident $name:ident),*) => {$(
        impl $op for Lanes {
            type Output = Self;

            #[inline]
            fn $name(self, other: Self) -> Self {
                Self(std::array::from_fn(|k| self.0[k].$name(other.0[k])))
            }
        }
    )*};
}

by_lane!(Add add, Sub sub, Mul mul, Div div);

impl Mul<f64> for Lanes {
    type Output = Self;

    #[inline]
    fn mul(self, other: f64) -> Self {
        Self(std::array::from_fn(|k| self.0[k] * other))
    }
}

impl AddAssign for Lanes {
    #[inline]
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl MulAssign for Lanes {
    #[inline]
    fn mul_assign(&mut self, other: Self) {
        *self = *self * other;
    }
}
