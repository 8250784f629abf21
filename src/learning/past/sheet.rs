//! Opens a spreadsheet kept as delimited text: its letters, its delimiter, its header, and its rows from there on.

use super::error::PastError;
use super::rows::{Row, Rows, delimiter};
use super::text::{self, Utf8};
use crate::knowledge::bounded::open_regular;
use std::fs::File;
use std::io::{Read, Take};
use std::path::Path;

/// A spreadsheet opened: its header, its rows, the name of its encoding and its delimiter.
pub type Opened = (Vec<String>, Rows<Utf8<Take<File>>>, &'static str, u8);

/// How much of it tells the delimiter.
const SAMPLE: u64 = 1 << 16;

/// Opens a spreadsheet and reads its header. No more than `most` bytes of it are ever read.
///
/// # Errors
/// When it cannot be read, is a device or a pipe (it is read more than once), or has no header.
pub fn open(path: &Path, encoding: Option<&str>, declared: Option<u8>, most: u64) -> Result<Opened, PastError> {
    let fault = |error| PastError::File { path: path.to_owned(), error };
    let file = || Ok::<_, PastError>(open_regular(path).map_err(fault)?.take(most));
    let encoding = match encoding.and_then(text::named) {
        Some(e) => e,
        None => text::detect(file()?).map_err(fault)?,
    };
    let mut bytes = Vec::new();
    Utf8::new(file()?, encoding).take(SAMPLE).read_to_end(&mut bytes).map_err(fault)?;
    let delimiter = declared.or_else(|| delimiter(&String::from_utf8_lossy(&bytes))).unwrap_or(b',');
    let mut rows = Rows::new(Utf8::new(file()?, encoding), delimiter);
    let mut row = Row::default();
    while rows.next(&mut row)? {
        if !row.is_blank() {
            let header = row.cells().map(str::to_owned).collect();
            return Ok((header, rows, encoding.name(), delimiter));
        }
    }
    Err(PastError::Row { row: 1, line: 1, message: "the file is empty".to_owned() })
}
