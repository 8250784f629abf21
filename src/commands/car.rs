//! `car`: the car's own words, from a capture or from the car itself. Nothing is stored and nothing is cleared.

use super::{Ending, Io, Loaded, Stop};
use car::{Reader, Report, Wanted};
use cli::car::{ReadArgs, TalkArgs, TalkCommand};
use screens::car::CarScreen;
use screens::car_json;
use screens::failure::Failure;
use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::Path;

pub(super) fn run(args: &TalkArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let TalkCommand::Read(args) = &args.command;
    read(args, kb, io)
}

fn read(args: &ReadArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let report = match (&args.can, &args.file) {
        (Some(interface), _) => super::car_live::asked(interface, args, io)?,
        (None, Some(file)) => capture(file, io, Wanted::default())?,
        (None, None) => return Err(Failure::new("no capture is named").into()),
    };
    if args.json {
        io.show_json(&car_json::car(&report))?;
    } else {
        let base = Loaded::new(kb, io)?.base;
        let text = CarScreen { base, report: &report, long: args.long }.text(io.look);
        io.show(&text)?;
    }
    Ok(if report.is_empty() { Ending::No } else { Ending::Done })
}

/// Reads a capture out of a file, or out of standard input for `-`.
pub(super) fn capture(file: &Path, io: &mut Io, wanted: Wanted) -> Result<Report, Stop> {
    let failed = |what: &str, e: std::io::Error| Failure::new(format!("{what}: {e}"));
    if file == Path::new("-") {
        return lines(&mut io.input, wanted).map_err(|e| failed("standard input", e).into());
    }
    let shown = file.display().to_string();
    let opened =
        File::open(file).map_err(|e| failed(&shown, e).hint("name a file with a capture, or - to read one"))?;
    if opened.metadata().is_ok_and(|m| m.is_dir()) {
        return Err(Failure::new(format!("{shown} is a folder")).hint("name the file with the capture").into());
    }
    lines(&mut BufReader::with_capacity(1 << 16, opened), wanted).map_err(|e| failed(&shown, e).into())
}

/// Longest part of a line that is kept; the reader refuses such a line, and memory stays bounded.
const LONGEST: usize = 1 << 15;

/// Every line, whatever its bytes: what is no UTF-8 is no line of a capture.
fn lines(input: &mut dyn BufRead, wanted: Wanted) -> std::io::Result<Report> {
    let mut reader = Reader::new(wanted);
    let mut line: Vec<u8> = Vec::new();
    let mut any = false;
    loop {
        let chunk = input.fill_buf()?;
        if chunk.is_empty() {
            break;
        }
        any = true;
        let (piece, used, ended) = match chunk.iter().position(|b| *b == b'\n') {
            Some(at) => (&chunk[..at], at + 1, true),
            None => (chunk, chunk.len(), false),
        };
        let room = LONGEST.saturating_sub(line.len());
        line.extend_from_slice(&piece[..piece.len().min(room)]);
        input.consume(used);
        if ended {
            reader.line(&String::from_utf8_lossy(&line));
            line.clear();
            any = false;
        }
    }
    if any {
        reader.line(&String::from_utf8_lossy(&line));
    }
    Ok(reader.end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_of_any_length_and_bytes_are_read_in_bounded_memory() {
        let mut text = vec![b'4'; 300_000];
        text.extend_from_slice(b"\ncan0 7E8#0443010455\r\n\xff\xfe\ncan0 7E9#024300");
        let report = lines(&mut &text[..], Wanted::default()).unwrap();
        assert_eq!(report.units.len(), 2);
        assert_eq!((report.lines.all, report.lines.unreadable), (4, 2));
    }
}
