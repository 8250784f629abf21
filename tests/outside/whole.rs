//! Whole numbers of any size, just enough for the two exact calculators: no rounding, no division.

use std::cmp::Ordering;

/// A natural number, 32 bits a digit, lowest first, no zeros at the top.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Natural(Vec<u32>);

impl Natural {
    pub fn new(n: u64) -> Self {
        Self(vec![n as u32, (n >> 32) as u32]).trimmed()
    }

    fn trimmed(mut self) -> Self {
        while self.0.last() == Some(&0) {
            self.0.pop();
        }
        self
    }

    pub fn is_zero(&self) -> bool {
        self.0.is_empty()
    }

    pub fn times(&self, other: &Self) -> Self {
        let mut out = vec![0_u32; self.0.len() + other.0.len()];
        for (i, a) in self.0.iter().enumerate() {
            let mut carry = 0_u64;
            for (j, b) in other.0.iter().enumerate() {
                let sum = u64::from(*a) * u64::from(*b) + u64::from(out[i + j]) + carry;
                out[i + j] = sum as u32;
                carry = sum >> 32;
            }
            out[i + other.0.len()] = carry as u32;
        }
        Self(out).trimmed()
    }

    pub fn plus(&self, other: &Self) -> Self {
        let mut carry = 0_u64;
        let digits = self.0.len().max(other.0.len()) + 1;
        let digit = |n: &Self, k: usize| u64::from(n.0.get(k).copied().unwrap_or(0));
        let sum = |k| {
            let sum = digit(self, k) + digit(other, k) + carry;
            carry = sum >> 32;
            sum as u32
        };
        Self((0..digits).map(sum).collect()).trimmed()
    }

    /// The difference; `other` must not be larger.
    pub fn minus(&self, other: &Self) -> Self {
        assert!(self.compare(other) != Ordering::Less);
        let mut borrow = 0_i64;
        let difference = |(k, a): (usize, &u32)| {
            let d = i64::from(*a) - i64::from(other.0.get(k).copied().unwrap_or(0)) - borrow;
            borrow = i64::from(d < 0);
            d.rem_euclid(1 << 32) as u32
        };
        Self(self.0.iter().enumerate().map(difference).collect()).trimmed()
    }

    pub fn compare(&self, other: &Self) -> Ordering {
        self.0.len().cmp(&other.0.len()).then_with(|| self.0.iter().rev().cmp(other.0.iter().rev()))
    }

    /// Times two to a power that is a multiple of 32.
    pub fn up(&self, digits: usize) -> Self {
        let mut out = vec![0; digits];
        out.extend(&self.0);
        Self(out).trimmed()
    }

    /// Without the lowest digits.
    pub fn down(&self, digits: usize) -> Self {
        Self(self.0.get(digits..).unwrap_or_default().to_vec())
    }

    /// The number as fraction times 2^exponent, right to the last bit but one.
    fn parts(&self) -> (f64, i32) {
        let top = self.0.len().saturating_sub(4);
        let value = self.0[top..].iter().rev().fold(0.0, |v, d| v * 4_294_967_296.0 + f64::from(*d));
        (value, 32 * top as i32)
    }

    /// `self / other` as a floating-point number.
    pub fn over(&self, other: &Self) -> f64 {
        let ((a, x), (b, y)) = (self.parts(), other.parts());
        a / b * f64::from(x - y).exp2()
    }

    /// Natural logarithm of `self / other`.
    pub fn ln_over(&self, other: &Self) -> f64 {
        let ((a, x), (b, y)) = (self.parts(), other.parts());
        (a / b).ln() + f64::from(x - y) * std::f64::consts::LN_2
    }
}

/// A fraction with a sign: so many times 2^-(32 × [`Signed::DIGITS`]), cut off below.
#[derive(Clone, Debug)]
pub struct Signed {
    negative: bool,
    pub size: Natural,
}

impl Signed {
    /// 416 bits, or 125 decimal places.
    const DIGITS: usize = 13;

    pub fn zero() -> Self {
        Self { negative: false, size: Natural::new(0) }
    }

    pub fn one() -> Self {
        Self { negative: false, size: Natural::new(1).up(Self::DIGITS) }
    }

    /// A floating-point number exactly, as long as it is not below 2^-300.
    pub fn exactly(x: f64) -> Self {
        assert!(x.is_finite() && (x == 0.0 || x.abs() > 1e-90), "{x}");
        let (mut scaled, mut twos) = (x.abs(), 0);
        while scaled.fract() != 0.0 {
            scaled *= 2.0;
            twos += 1;
        }
        let mut size = Natural::new(scaled as u64);
        assert!(twos <= 32 * Self::DIGITS);
        let up = 32 * Self::DIGITS - twos;
        size = size.up(up / 32).times(&Natural::new(1 << (up % 32)));
        Self { negative: x < 0.0, size }
    }

    pub fn is_zero(&self) -> bool {
        self.size.is_zero()
    }

    pub fn is_positive(&self) -> bool {
        !self.negative && !self.is_zero()
    }

    pub fn times(&self, other: &Self) -> Self {
        let size = self.size.times(&other.size).down(Self::DIGITS);
        Self { negative: self.negative != other.negative, size }
    }

    pub fn plus(&self, other: &Self) -> Self {
        if self.negative == other.negative {
            return Self { negative: self.negative, size: self.size.plus(&other.size) };
        }
        let (large, small) =
            if self.size.compare(&other.size) == Ordering::Less { (other, self) } else { (self, other) };
        Self { negative: large.negative, size: large.size.minus(&small.size) }
    }

    pub fn minus(&self, other: &Self) -> Self {
        self.plus(&Self { negative: !other.negative, size: other.size.clone() })
    }
}

#[test]
fn whole_numbers_are_right_where_ordinary_ones_reach() {
    let big = |n: u128| Natural::new((n >> 64) as u64).up(2).plus(&Natural::new(n as u64));
    let (a, b) = (0x1234_5678_9abc_def0_1122_3344_u128, 0xfedc_ba98_7654_3210_u128);
    assert_eq!(big(a).plus(&big(b)), big(a + b));
    assert_eq!(big(a).minus(&big(b)), big(a - b));
    assert_eq!(Natural::new(b as u64).times(&Natural::new(b as u64)), big(b * b));
    assert!((big(a).over(&big(b)) / (a as f64 / b as f64) - 1.0).abs() < 1e-15);
    let (x, y) = (Signed::exactly(0.375), Signed::exactly(-0.1));
    assert!((x.times(&y).size.over(&Signed::one().size) - 0.0375).abs() < 1e-17);
    assert!((x.plus(&y).size.over(&Signed::one().size) - 0.275).abs() < 1e-16 && x.plus(&y).is_positive());
    assert!(!y.minus(&x).is_positive());
}
