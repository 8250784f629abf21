//! How many digits of a number are written: as a person wrote it, or as an answer.

/// A number as it is repeated to the user: up to six significant digits, no trailing zeros.
#[must_use]
pub fn tidy(x: f64) -> String {
    significant(x, 6)
}

/// A number as an answer: three significant digits.
#[must_use]
pub fn rough(x: f64) -> String {
    significant(x, 3)
}

fn significant(x: f64, digits: i32) -> String {
    if x == 0.0 || !x.is_finite() {
        return if x == 0.0 { "0".into() } else { x.to_string() };
    }
    #[expect(clippy::cast_possible_truncation, reason = "the logarithm of a finite number fits easily")]
    let size = x.abs().log10().floor() as i32;
    if !(-6..=9).contains(&size) {
        return format!("{x:.*e}", usize::try_from(digits - 1).unwrap_or(0));
    }
    let places = usize::try_from(digits - 1 - size).unwrap_or(0);
    let unit = 10f64.powi((size - digits + 1).max(0));
    let text = if places > 0 { format!("{x:.places$}") } else { format!("{:.0}", (x / unit).round() * unit) };
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_string() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_true() {
        for (x, six, three) in [
            (0.02, "0.02", "0.02"),
            (19.3, "19.3", "19.3"),
            (1234.5, "1234.5", "1230"),
            (-0.012_345_6, "-0.0123456", "-0.0123"),
            (0.0, "0", "0"),
            (999.6, "999.6", "1000"),
            (1e12, "1.00000e12", "1.00e12"),
        ] {
            assert_eq!((tidy(x).as_str(), rough(x).as_str()), (six, three));
        }
    }
}
