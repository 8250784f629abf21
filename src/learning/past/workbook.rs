//! Workbooks of spreadsheet programs (`.xlsx`, `.ods` and their kin) as delimited text, one line a row of the sheet, so that rows
//! and lines are numbered as the program shows them.

use super::error::PastError;
use calamine::{Data, Reader as _, open_workbook_auto};
use knowledge::bounded::open_regular;
use std::io::{self, Read};
use std::path::Path;

/// Workbooks are unpacked in memory: larger ones are refused. A hundred thousand rows of fifteen columns take some 10 MB.
const LARGEST: u64 = 64 << 20;

/// What kind of workbook the file is; none where it is a text. Told by its first bytes, for the ending may lie.
///
/// # Errors
/// When it cannot be opened.
pub fn kind(path: &Path) -> io::Result<Option<&'static str>> {
    let mut start = [0; 8];
    let read = open_regular(path)?.read(&mut start)?;
    Ok(match &start[..read] {
        [b'P', b'K', 3, 4, ..] => Some("workbook"),
        [0xD0, 0xCF, 0x11, 0xE0, ..] => Some("old workbook"),
        _ => None,
    })
}

/// The first sheet that holds a table, as comma-separated UTF-8. Numbers are written with the decimal mark given, dates as
/// YYYY-MM-DD, line breaks inside cells as blanks.
///
/// # Errors
/// When it is no workbook, is damaged, or larger than 64 MB.
pub fn as_text(path: &Path, decimal: char) -> Result<Vec<u8>, PastError> {
    let told = |message: String| PastError::File { path: path.to_owned(), error: io::Error::other(message) };
    let size = std::fs::metadata(path).map_err(|error| PastError::File { path: path.to_owned(), error })?.len();
    if size > LARGEST {
        return Err(told(format!("a workbook of more than {} MB; save it as CSV", LARGEST >> 20)));
    }
    let mut book = open_workbook_auto(path).map_err(|e| told(format!("not a workbook that can be read: {e}")))?;
    let sheets = book.worksheets();
    let Some((_, sheet)) = sheets.into_iter().find(|(_, s)| s.height() > 1) else {
        return Err(told("no sheet of it holds a table".to_owned()));
    };
    let mut out = csv::WriterBuilder::new().flexible(true).from_writer(Vec::new());
    let (above, before) = sheet.start().unwrap_or((0, 0));
    let mut write = |cells: Vec<String>| out.write_record(&cells).map_err(|e| told(e.to_string()));
    for _ in 0..above {
        write(vec![String::new()])?;
    }
    for row in sheet.rows() {
        let empty = std::iter::repeat_n(String::new(), before as usize);
        write(empty.chain(row.iter().map(|c| cell(c, decimal))).collect())?;
    }
    out.into_inner().map_err(|e| told(e.to_string()))
}

fn cell(data: &Data, decimal: char) -> String {
    let number = |x: f64| format!("{x}").replace('.', &decimal.to_string());
    match data {
        Data::Empty | Data::Error(_) => String::new(),
        Data::Int(i) => i.to_string(),
        Data::Float(x) => number(*x),
        Data::Bool(b) => if *b { "yes" } else { "no" }.to_owned(),
        // A time of less than a day is what a shop writes for hours of work.
        Data::DateTime(t) if t.is_duration() || t.as_f64() < 1.0 => {
            let minutes = (t.as_f64() * 1_440.0).round();
            format!("{}:{:02}", (minutes / 60.0).floor(), minutes % 60.0)
        }
        Data::DateTime(t) => {
            let (year, month, day, ..) = t.to_ymd_hms_milli();
            format!("{year:04}-{month:02}-{day:02}")
        }
        Data::DateTimeIso(t) => t.split('T').next().unwrap_or_default().to_owned(),
        Data::DurationIso(t) => duration(t).unwrap_or_else(|| t.clone()),
        Data::String(s) => s.replace("\r\n", " ").replace(['\r', '\n'], " "),
    }
}

/// `PT01H30M00S` as `1:30`.
fn duration(text: &str) -> Option<String> {
    let (hours, rest) = text.strip_prefix("PT")?.split_once('H')?;
    let (minutes, _) = rest.split_once('M')?;
    Some(format!("{}:{:02}", hours.parse::<u32>().ok()?, minutes.parse::<u32>().ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_written_as_a_person_would() {
        assert_eq!(cell(&Data::Float(12.5), ','), "12,5");
        assert_eq!(cell(&Data::Float(98_000.0), ','), "98000");
        assert_eq!(cell(&Data::String("P0442\nP0455".into()), '.'), "P0442 P0455");
        assert_eq!(cell(&Data::DurationIso("PT01H30M00S".into()), '.'), "1:30");
        assert_eq!(cell(&Data::DateTimeIso("2021-04-03T00:00:00".into()), '.'), "2021-04-03");
    }
}
