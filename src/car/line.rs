//! One line of a capture: a CAN frame as the open CAN utilities log and print it, or the bytes of one message in
//! hexadecimal. Says exactly why a line is neither.
//!
//! ```text
//! (1718000000.123456) can0 7E8#0641010007E500     log form
//!   can0  7E8   [8]  06 41 01 00 07 E5 00 00       printed form, with any kind of time before it
//! 41 01 00 07 E5 00                                bytes of a message; `7E9: 41 01 …` says who sent it
//! ```

use super::frame::Frame;

/// Longest line that is looked at, in bytes: a frame with 64 bytes, times and remarks stays far below.
const LONGEST: usize = 4 * 4096;

/// How a capture is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// CAN frames.
    Frames,
    /// Bytes of whole messages.
    Bytes,
}

/// What a line holds.
#[derive(Clone, Debug, PartialEq)]
pub enum Line<'a> {
    /// Nothing, or a remark.
    Empty,
    /// A frame, and the bus on which it was seen.
    Frame(&'a str, Frame),
    /// A frame without a message in it: an error report of the bus or a request for a frame.
    NoData,
    /// The bytes of one message, and who sent it where the line says so.
    Bytes(Option<u32>, Vec<u8>),
}

/// Why a line cannot be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LineFault {
    /// Longer than any line of a capture.
    #[error("the line is too long to be a frame")]
    TooLong,
    /// Neither form.
    #[error("neither a frame nor bytes in hexadecimal")]
    NoForm,
    /// The identifier is none.
    #[error("this is no CAN identifier of 3 or 8 hexadecimal digits")]
    Identifier,
    /// Digits missing or others than hexadecimal.
    #[error("the bytes are not pairs of hexadecimal digits")]
    Digits,
    /// The length said is not that of the bytes.
    #[error("the length in brackets is not the number of bytes")]
    Length,
    /// More bytes than a frame or message can have.
    #[error("more bytes than a frame can carry")]
    TooMany,
}

/// Reads one line.
///
/// # Errors
/// What is wrong with it.
pub fn parse_line(line: &str) -> Result<Line<'_>, LineFault> {
    if line.len() > LONGEST {
        return Err(LineFault::TooLong);
    }
    let text = line.trim();
    if text.is_empty() || text.starts_with('#') {
        return Ok(Line::Empty);
    }
    let (seconds, text) = time(text)?;
    let mut words = text.split_ascii_whitespace();
    let (Some(first), second) = (words.next(), words.next()) else { return Err(LineFault::NoForm) };
    if let Some(second) = second
        && let Some((id, data)) = second.split_once('#')
    {
        // The log form may end in a direction, `R` or `T`.
        return match words.next() {
            None | Some("R" | "T") => logged(id, data, seconds).map(|frame| held(first, frame)),
            Some(_) => Err(LineFault::NoForm),
        };
    }
    if text.contains('[') {
        return printed(text, seconds);
    }
    if seconds.is_some() {
        return Err(LineFault::NoForm);
    }
    bytes_alone(text)
}

fn held(bus: &str, frame: Option<Frame>) -> Line<'_> {
    frame.map_or(Line::NoData, |frame| Line::Frame(bus, frame))
}

/// Takes the time in brackets off the front; a date before the time of day makes the seconds those of the day.
fn time(text: &str) -> Result<(Option<f64>, &str), LineFault> {
    let Some(rest) = text.strip_prefix('(') else { return Ok((None, text)) };
    let (inside, rest) = rest.split_once(')').ok_or(LineFault::NoForm)?;
    let clock = inside.trim().rsplit(' ').next().unwrap_or_default();
    let mut seconds = 0.0;
    for part in clock.split(':') {
        let part: f64 = part.parse().map_err(|_| LineFault::NoForm)?;
        seconds = seconds * 60.0 + part;
    }
    if !seconds.is_finite() {
        return Err(LineFault::NoForm);
    }
    Ok((Some(seconds), rest.trim_start()))
}

/// An identifier of 3 digits (11 bits) or 8 digits (29 bits). `None` for an error report, which has a higher bit set.
fn identifier(text: &str) -> Result<Option<(u32, bool)>, LineFault> {
    if !text.bytes().all(|b| b.is_ascii_hexdigit()) {
        return Err(LineFault::Identifier);
    }
    let id = u32::from_str_radix(text, 16).map_err(|_| LineFault::Identifier)?;
    match text.len() {
        3 if id <= 0x7FF => Ok(Some((id, false))),
        8 if id < 0x2000_0000 => Ok(Some((id, true))),
        8 => Ok(None),
        _ => Err(LineFault::Identifier),
    }
}

/// `7E8#0641…`, `18DAF110##1…` with a digit of flags before the bytes, `7E8#R` without data.
fn logged(id: &str, data: &str, seconds: Option<f64>) -> Result<Option<Frame>, LineFault> {
    let id = identifier(id)?;
    if data.starts_with('R') {
        return Ok(None);
    }
    let (data, most) = match data.strip_prefix('#') {
        Some(flagged) if flagged.as_bytes().first().is_some_and(u8::is_ascii_hexdigit) => (&flagged[1..], 64),
        Some(_) => return Err(LineFault::Digits),
        None => (data, 8),
    };
    let mut bytes = [0; 64];
    let mut len = 0;
    // Dots may part the bytes.
    for piece in data.split('.') {
        len = pairs(piece, &mut bytes, len, most)?;
    }
    Ok(frame(id, bytes, len, seconds))
}

fn frame(id: Option<(u32, bool)>, data: [u8; 64], len: usize, seconds: Option<f64>) -> Option<Frame> {
    let (id, extended) = id?;
    Some(Frame { id, extended, data, len: u8::try_from(len).ok()?, seconds })
}

/// `can0  7E8   [8]  06 41 01 …`, with words about direction and flags between the bus and the identifier, and the
/// bytes once more as letters behind an apostrophe.
fn printed(text: &str, seconds: Option<f64>) -> Result<Line<'_>, LineFault> {
    let (head, rest) = text.split_once('[').ok_or(LineFault::NoForm)?;
    let (length, rest) = rest.split_once(']').ok_or(LineFault::NoForm)?;
    let rest = rest.split('\'').next().unwrap_or_default();
    let mut words = head.split_ascii_whitespace();
    let bus = words.next().ok_or(LineFault::NoForm)?;
    let id = words.next_back().ok_or(LineFault::NoForm)?;
    if !words.all(|w| matches!(w, "RX" | "TX" | "-" | "B" | "E")) {
        return Err(LineFault::NoForm);
    }
    let id = identifier(id)?;
    let length: usize = length.trim().parse().map_err(|_| LineFault::Length)?;
    if rest.contains("remote") {
        return Ok(Line::NoData);
    }
    let (mut bytes, mut len) = ([0; 64], 0);
    let mut words = rest.split_ascii_whitespace();
    for word in words.by_ref() {
        // An error report is explained behind its bytes.
        if word == "ERRORFRAME" && id.is_none() {
            return Ok(Line::NoData);
        }
        if word.len() != 2 {
            return Err(LineFault::Digits);
        }
        len = pairs(word, &mut bytes, len, 64)?;
    }
    if len != length {
        return Err(LineFault::Length);
    }
    Ok(held(bus, frame(id, bytes, len, seconds)))
}

/// Writes the pairs of digits behind `len` and returns the new length.
fn pairs(text: &str, out: &mut [u8], mut len: usize, most: usize) -> Result<usize, LineFault> {
    let digits = text.as_bytes();
    if !digits.len().is_multiple_of(2) {
        return Err(LineFault::Digits);
    }
    for pair in digits.chunks_exact(2) {
        let (Some(high), Some(low)) = (digit(pair[0]), digit(pair[1])) else { return Err(LineFault::Digits) };
        let room = out.get_mut(len).filter(|_| len < most).ok_or(LineFault::TooMany)?;
        *room = high << 4 | low;
        len += 1;
    }
    Ok(len)
}

fn digit(byte: u8) -> Option<u8> {
    match byte {
        b'0'..=b'9' => Some(byte - b'0'),
        b'a'..=b'f' => Some(byte - b'a' + 10),
        b'A'..=b'F' => Some(byte - b'A' + 10),
        _ => None,
    }
}

/// `41 01 00 07 E5 00`, `410100 07E500`, `7E9: 41 01 …`.
fn bytes_alone(text: &str) -> Result<Line<'_>, LineFault> {
    let (sender, text) = match text.split_once(':') {
        Some((id, text)) => match identifier(id.trim())? {
            Some((id, _)) => (Some(id), text),
            None => return Err(LineFault::Identifier),
        },
        None => (None, text),
    };
    if !text.bytes().all(|b| b.is_ascii_hexdigit() || b.is_ascii_whitespace()) {
        return Err(LineFault::NoForm);
    }
    let mut bytes = vec![0; text.len() / 2 + 1];
    let mut len = 0;
    for word in text.split_ascii_whitespace() {
        len = pairs(word, &mut bytes, len, super::segments::LONGEST)?;
    }
    if len == 0 {
        return Err(LineFault::NoForm);
    }
    bytes.truncate(len);
    Ok(Line::Bytes(sender, bytes))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame_of(line: &str) -> (u32, Vec<u8>) {
        match parse_line(line) {
            Ok(Line::Frame(_, f)) => (f.id, f.bytes().to_vec()),
            other => panic!("{line}: {other:?}"),
        }
    }

    #[test]
    fn all_forms_of_a_frame_say_the_same() {
        let bytes = vec![0x06, 0x41, 0x01, 0x00, 0x07, 0xE5, 0x00];
        for line in [
            "(1718000000.123456) can0 7E8#0641010007E500",
            "(1718000000.123456) can0 7E8#06.41.01.00.07.E5.00 R",
            "  can0  7E8   [7]  06 41 01 00 07 E5 00",
            " (003.123456)  can0  7E8   [7]  06 41 01 00 07 E5 00   '.A.....'",
            " (2024-06-10 08:13:20.123456)  can0  RX - -  7E8   [07]  06 41 01 00 07 e5 00",
        ] {
            assert_eq!(frame_of(line), (0x7E8, bytes.clone()), "{line}");
        }
        assert_eq!(frame_of("can0 18DAF110#0341").0, 0x18DA_F110);
        assert_eq!(frame_of("can0 7E8##1064101000000000000").1.len(), 9);
    }

    #[test]
    fn bytes_of_a_message_are_read_with_or_without_blanks() {
        let bytes = vec![0x41, 0x0C, 0x1A, 0xF8];
        assert_eq!(parse_line("41 0C 1a f8"), Ok(Line::Bytes(None, bytes.clone())));
        assert_eq!(parse_line("410C1AF8"), Ok(Line::Bytes(None, bytes.clone())));
        assert_eq!(parse_line("7E9: 41 0C 1A F8"), Ok(Line::Bytes(Some(0x7E9), bytes)));
    }

    #[test]
    fn what_is_wrong_is_said() {
        for (line, fault) in [
            ("can0 7E8#064", LineFault::Digits),
            ("can0 7E8#06410100000000000000", LineFault::TooMany),
            ("can0 7E8 [3] 06 41", LineFault::Length),
            ("can0 7E8 [2] 064 1", LineFault::Digits),
            ("can0 FFF#06", LineFault::Identifier),
            ("can0 7E#06", LineFault::Identifier),
            ("no data", LineFault::NoForm),
            ("41 0", LineFault::Digits),
            ("(x) can0 7E8#06", LineFault::NoForm),
            ("(", LineFault::NoForm),
            ("+1 41", LineFault::NoForm),
        ] {
            assert_eq!(parse_line(line), Err(fault), "{line}");
        }
        assert_eq!(parse_line("can0 7E8#R"), Ok(Line::NoData));
        assert_eq!(parse_line("# what was done"), Ok(Line::Empty));
        assert_eq!(parse_line("  can0  20000080   [8]  00 00 00 00 00 00 00 00   ERRORFRAME"), Ok(Line::NoData));
    }
}
