//! Which letters do the bytes of a spreadsheet stand for? Byte-order marks, UTF-8, UTF-16 and Latin-1; hands on UTF-8.

use encoding_rs::{Decoder, Encoding, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};
use std::io::{self, Read};

/// How much is read at once.
const CHUNK: usize = 1 << 16;

/// The encoding of a text, found by reading it to its end.
///
/// A byte-order mark decides. Without one: UTF-16 when every other byte of the beginning is mostly zero, UTF-8 when
/// all of the text is valid, else Latin-1 (as Windows-1252, which spreadsheets mean by it and which contains it).
///
/// # Errors
/// Those of the reader.
pub fn detect(mut from: impl Read) -> io::Result<&'static Encoding> {
    let mut buffer = vec![0; CHUNK];
    let mut kept = 0;
    let mut first = true;
    loop {
        let read = from.read(&mut buffer[kept..])?;
        let filled = kept + read;
        if first {
            // A short first read still shows the mark.
            if let Some((encoding, _)) = Encoding::for_bom(&buffer[..filled]) {
                return Ok(encoding);
            }
            if let Some(encoding) = looks_utf16(&buffer[..filled]) {
                return Ok(encoding);
            }
            first = false;
        }
        let valid = Encoding::utf8_valid_up_to(&buffer[..filled]);
        let rest = filled - valid;
        // At most three bytes can be the beginning of a letter that the next chunk completes.
        if read == 0 {
            return Ok(if rest == 0 { UTF_8 } else { WINDOWS_1252 });
        }
        if rest > 3 {
            return Ok(WINDOWS_1252);
        }
        buffer.copy_within(valid..filled, 0);
        kept = rest;
    }
}

fn looks_utf16(start: &[u8]) -> Option<&'static Encoding> {
    let start = &start[..start.len().min(512) & !1];
    let zeros = |odd: usize| start.iter().skip(odd).step_by(2).filter(|b| **b == 0).count();
    let half = start.len() / 2;
    if half < 4 {
        return None;
    }
    match (zeros(0), zeros(1)) {
        (even, odd) if odd * 10 > half * 7 && even == 0 => Some(UTF_16LE),
        (even, odd) if even * 10 > half * 7 && odd == 0 => Some(UTF_16BE),
        _ => None,
    }
}

/// The encoding of that name, as the web knows it: `utf-8`, `utf-16le`, `latin1`, `windows-1252`.
#[must_use]
pub fn named(name: &str) -> Option<&'static Encoding> {
    Encoding::for_label(name.trim().as_bytes())
}

/// Reads bytes of an encoding as UTF-8 without a byte-order mark.
pub struct Utf8<R> {
    from: R,
    decoder: Decoder,
    bytes: Vec<u8>,
    at: usize,
    filled: usize,
    text: Vec<u8>,
    text_at: usize,
    ended: bool,
    /// Bytes taken from the source so far.
    pub taken: u64,
}

impl<R: Read> Utf8<R> {
    /// A reader of this encoding.
    pub fn new(from: R, encoding: &'static Encoding) -> Self {
        let decoder = encoding.new_decoder_with_bom_removal();
        Self {
            from,
            decoder,
            bytes: vec![0; CHUNK],
            at: 0,
            filled: 0,
            text: Vec::new(),
            text_at: 0,
            ended: false,
            taken: 0,
        }
    }
}

impl<R: Read> Read for Utf8<R> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        while self.text_at == self.text.len() {
            if self.at == self.filled {
                if self.ended {
                    return Ok(0);
                }
                self.filled = self.from.read(&mut self.bytes)?;
                self.at = 0;
                self.taken += self.filled as u64;
                self.ended = self.filled == 0;
            }
            // Three bytes of text for one byte read is the most that any encoding here makes.
            self.text.resize(3 * CHUNK + 16, 0);
            let (_, read, written, _) =
                self.decoder.decode_to_utf8(&self.bytes[self.at..self.filled], &mut self.text, self.ended);
            self.at += read;
            self.text.truncate(written);
            self.text_at = 0;
            if self.ended && written == 0 {
                return Ok(0);
            }
        }
        let n = out.len().min(self.text.len() - self.text_at);
        out[..n].copy_from_slice(&self.text[self.text_at..self.text_at + n]);
        self.text_at += n;
        Ok(n)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn through(bytes: &[u8]) -> (String, &'static str) {
        let encoding = detect(bytes).unwrap();
        let mut text = String::new();
        Utf8::new(bytes, encoding).read_to_string(&mut text).unwrap();
        (text, encoding.name())
    }

    fn utf16(text: &str, little: bool) -> Vec<u8> {
        text.encode_utf16().flat_map(|u| if little { u.to_le_bytes() } else { u.to_be_bytes() }).collect()
    }

    #[test]
    fn every_encoding_becomes_the_same_text() {
        let text = "Datum;Ursache\n1.2.2024;Füllrohr durchgerostet\n";
        let latin: Vec<u8> = text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
        let with = |mark: &[u8], rest: Vec<u8>| [mark.to_vec(), rest].concat();
        for (bytes, name) in [
            (text.as_bytes().to_vec(), "UTF-8"),
            (with(b"\xEF\xBB\xBF", text.as_bytes().to_vec()), "UTF-8"),
            (with(b"\xFF\xFE", utf16(text, true)), "UTF-16LE"),
            (with(b"\xFE\xFF", utf16(text, false)), "UTF-16BE"),
            (utf16(text, true), "UTF-16LE"),
            (utf16(text, false), "UTF-16BE"),
            (latin, "windows-1252"),
        ] {
            assert_eq!(through(&bytes), (text.to_owned(), name));
        }
        assert_eq!(through(b"").0, "");
    }

    #[test]
    fn a_letter_across_two_chunks_stays_whole() {
        for shift in 0..4 {
            let text = "x".repeat(CHUNK - 2 + shift) + "ü€😀" + &"y".repeat(CHUNK);
            assert_eq!(through(text.as_bytes()), (text.clone(), "UTF-8"));
        }
    }

    #[test]
    fn one_odd_byte_at_the_end_makes_it_latin() {
        let mut bytes = vec![b'a'; 3 * CHUNK];
        bytes.push(0xFC);
        assert_eq!(through(&bytes).1, "windows-1252");
    }
}
