//! Non-negative numbers with their own binary exponent, so that a long product neither underflows nor rounds.
//! Not a general number type: product, ratio and logarithm only.

use super::lanes::Real;

/// `mantissa × 2^exponent`; of several numbers side by side, with one exponent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Scaled<T = f64> {
    pub mantissa: T,
    pub exponent: i64,
}

impl<T: Real> Default for Scaled<T> {
    fn default() -> Self {
        Self { mantissa: T::of(1.0), exponent: 0 }
    }
}

impl<T: Real> Scaled<T> {
    /// Multiplies by an ordinary number.
    pub fn times(&mut self, factor: T) {
        self.mantissa *= factor;
        let size = self.mantissa.largest();
        if !(1e-100..=1e100).contains(&size) {
            let e = exponent_of(size);
            self.mantissa = self.mantissa * pow2(-e);
            self.exponent += e;
        }
    }
}

impl Scaled {
    pub const ONE: Self = Self { mantissa: 1.0, exponent: 0 };

    /// Whether the product has become exactly zero.
    pub fn is_zero(&self) -> bool {
        self.mantissa == 0.0
    }

    /// Natural logarithm; minus infinity for zero.
    pub fn ln(&self) -> f64 {
        self.mantissa.ln() + self.exponent as f64 * std::f64::consts::LN_2
    }

    /// `self / other` as an ordinary number.
    pub fn over(&self, other: &Self) -> f64 {
        if self.is_zero() {
            return 0.0;
        }
        let quotient = self.mantissa / other.mantissa;
        let e = exponent_of(quotient);
        quotient * pow2(-e) * pow2(e + self.exponent - other.exponent)
    }
}

/// Binary exponent `e` with `2^e <= x < 2^(e+1)`; 0 for zero and for what is not finite.
pub(crate) fn exponent_of(x: f64) -> i64 {
    if x == 0.0 || !x.is_finite() {
        return 0;
    }
    let raw = |y: f64| ((y.to_bits() >> 52) & 0x7ff) as i64;
    // Subnormal numbers have no exponent of their own, so they are lifted into the normal range first.
    if raw(x) == 0 { raw(x * 18_014_398_509_481_984.0) - 1023 - 54 } else { raw(x) - 1023 }
}

/// `2^e`, rounded to zero or infinity outside the range of `f64`.
pub(crate) fn pow2(e: i64) -> f64 {
    match e {
        -1022..=1023 => f64::from_bits(((e + 1023) as u64) << 52),
        1024.. => f64::INFINITY,
        -1074..=-1023 => f64::from_bits(1_u64 << (e + 1074)),
        _ => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exponents_and_powers_agree() {
        for e in -1074..=1023 {
            assert_eq!(exponent_of(pow2(e)), e);
        }
        assert_eq!(exponent_of(0.75), -1);
        assert_eq!(pow2(-2000), 0.0);
    }

    #[test]
    fn a_long_product_survives() {
        let mut product = Scaled::ONE;
        for _ in 0..1000 {
            product.times(1e-10);
        }
        assert!((product.ln() + 10_000.0 * std::f64::consts::LN_10).abs() < 1e-8);
        let mut half = product;
        half.times(0.5);
        assert_eq!(half.over(&product), 0.5);
    }
}
