//! Two bytes as a trouble code in five characters, and back.

use std::fmt;
use std::str::FromStr;

/// A trouble code as the control unit sends it: two bytes.
///
/// The first two bits are the letter (P, C, B, U), the next two the first digit, the other twelve three hexadecimal
/// digits (SAE J2012). All 65,536 values are compared with a library in `tests/outside`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct CodeText(pub u16);

/// Letters in the order of their two bits.
const LETTERS: [char; 4] = ['P', 'C', 'B', 'U'];

impl CodeText {
    /// The code of two bytes in the order in which they are sent.
    #[must_use]
    pub fn of(bytes: [u8; 2]) -> Self {
        Self(u16::from_be_bytes(bytes))
    }

    /// Whether it is a code at all: two empty bytes fill up a message and stand for none.
    #[must_use]
    pub fn is_code(self) -> bool {
        self.0 != 0
    }
}

impl fmt::Display for CodeText {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let letter = LETTERS[usize::from(self.0 >> 14)];
        write!(f, "{letter}{:01X}{:03X}", (self.0 >> 12) & 3, self.0 & 0xFFF)
    }
}

/// The text is no code of five characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("a code is P, C, B or U, a digit from 0 to 3 and three hexadecimal digits, such as P0455")]
pub struct NoCode;

impl FromStr for CodeText {
    type Err = NoCode;

    fn from_str(text: &str) -> Result<Self, NoCode> {
        let mut rest = text.chars();
        let letter =
            rest.next().and_then(|c| LETTERS.iter().position(|l| *l == c.to_ascii_uppercase())).ok_or(NoCode)?;
        let digits = rest.as_str();
        if digits.len() != 4 || !digits.bytes().all(|b| b.is_ascii_hexdigit()) {
            return Err(NoCode);
        }
        let low = u16::from_str_radix(digits, 16).map_err(|_| NoCode)?;
        if low >> 12 > 3 {
            return Err(NoCode);
        }
        let letter = u16::try_from(letter).map_err(|_| NoCode)?;
        Ok(Self((letter << 14) | low))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_value_comes_back() {
        for value in 0..=u16::MAX {
            assert_eq!(CodeText(value).to_string().parse(), Ok(CodeText(value)));
        }
    }

    #[test]
    fn what_is_no_code_is_refused() {
        for text in ["", "P", "P04", "P04550", "X0455", "P4455", "P0G55", "P+455", "Pé45"] {
            assert_eq!(text.parse::<CodeText>(), Err(NoCode), "{text}");
        }
        assert_eq!("p04af".parse::<CodeText>().map(|c| c.to_string()), Ok("P04AF".to_owned()));
    }
}
