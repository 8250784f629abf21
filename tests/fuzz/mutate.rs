//! Changes inputs by lot, the same for the same seed: bytes, pieces, numbers and letters that have broken programs before.

/// A linear congruential generator (Knuth's MMIX constants): the same inputs in every run.
#[derive(Clone, Debug)]
pub struct Chance(pub u64);

impl Chance {
    /// A number from 0 to `n - 1`; 0 when `n` is 0.
    pub fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        if n == 0 { 0 } else { usize::try_from(self.0 >> 33).unwrap_or(0) % n }
    }
}

/// What is put in: ends of numbers and of letters, marks of each of the languages that are read.
const PIECES: [&str; 58] = [
    "0",
    "-1",
    "-0",
    "1e999",
    "1e-999",
    "NaN",
    "inf",
    "99999999999999999999",
    "0x7f",
    "1.7976931348623157e308",
    "9223372036854775807",
    "2147483648",
    "١٢",
    "½",
    "null",
    "~",
    "true",
    "no",
    "\"",
    "'",
    "\\",
    "\n",
    "\r\n",
    "\t",
    "\0",
    "\u{feff}",
    "\u{202e}",
    "e\u{301}\u{301}",
    "🚗",
    "ß",
    "İ",
    "\u{2028}",
    "{",
    "}",
    "[",
    "]",
    ": ",
    "- ",
    "&a",
    "*a",
    "<<: ",
    "!!binary ",
    "|\n",
    "%",
    ",",
    ";",
    "=",
    "->",
    "/",
    "..",
    "--",
    "P0455",
    "P0xxx",
    "inHg",
    " in ",
    "#",
    "->->",
    "7DF#",
];

/// Some input made of one from the pool, with one to six changes.
pub fn changed(pool: &[Vec<u8>], chance: &mut Chance) -> Vec<u8> {
    let mut out = pool[chance.below(pool.len())].clone();
    for _ in 0..=chance.below(6) {
        change(&mut out, pool, chance);
    }
    // Length by itself is tested elsewhere; here many inputs tell more than long ones.
    out.truncate(16 << 10);
    out
}

fn change(out: &mut Vec<u8>, pool: &[Vec<u8>], chance: &mut Chance) {
    let at = chance.below(out.len() + 1);
    let end = (at + 1 + chance.below(24)).min(out.len());
    match chance.below(10) {
        0 if at < out.len() => out[at] ^= 1 << chance.below(8),
        1 if at < out.len() => out[at] = u8::try_from(chance.below(256)).unwrap_or(0),
        2 => drop(out.drain(at.min(end)..end)),
        3 => {
            let piece = out[at.min(end)..end].to_vec();
            let times = 1 + chance.below(3) * chance.below(40);
            out.splice(at..at, piece.repeat(times));
        }
        4 => out.truncate(at),
        5 => {
            let other = &pool[chance.below(pool.len())];
            let from = chance.below(other.len() + 1);
            let to = (from + chance.below(200)).min(other.len());
            out.splice(at..at, other[from..to].iter().copied());
        }
        6 => number(out, at, chance),
        7 => line(out, at, chance),
        _ => out.splice(at..at, PIECES[chance.below(PIECES.len())].bytes()).for_each(drop),
    }
}

/// Another number in place of the next one.
fn number(out: &mut Vec<u8>, at: usize, chance: &mut Chance) {
    let Some(from) = out[at..].iter().position(u8::is_ascii_digit).map(|n| at + n) else { return };
    let length = out[from..].iter().take_while(|b| b.is_ascii_digit() || **b == b'.').count();
    out.splice(from..from + length, PIECES[chance.below(14)].bytes());
}

/// The line taken out, doubled, or moved in by two blanks.
fn line(out: &mut Vec<u8>, at: usize, chance: &mut Chance) {
    let from = out[..at].iter().rposition(|b| *b == b'\n').map_or(0, |n| n + 1);
    let to = out[from..].iter().position(|b| *b == b'\n').map_or(out.len(), |n| from + n + 1);
    let whole = out[from..to].to_vec();
    match chance.below(3) {
        0 => drop(out.drain(from..to)),
        1 => drop(out.splice(from..from, whole)),
        _ => drop(out.splice(from..from, *b"  ")),
    }
}
