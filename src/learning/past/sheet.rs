//! Opens a spreadsheet, as delimited text or as a workbook: its letters, its delimiter, its header wherever it stands, and its
//! rows from there on.

use super::draft::looks_like_header;
use super::error::PastError;
use super::rows::{Row, Rows, delimiter};
use super::text::{self, Utf8};
use super::workbook;
use knowledge::bounded::open_regular;
use std::fs::File;
use std::io::{Cursor, Read, Take};
use std::path::Path;

/// The text of a table: of the file itself, or written from a workbook.
pub enum Text {
    /// A file as it lies there.
    File(Utf8<Take<File>>),
    /// A table of a workbook.
    Table(Cursor<Vec<u8>>),
}

impl Text {
    /// How many bytes of the file were taken so far.
    #[must_use]
    pub fn taken(&self) -> u64 {
        match self {
            Self::File(f) => f.taken,
            Self::Table(t) => t.position(),
        }
    }
}

impl Read for Text {
    fn read(&mut self, out: &mut [u8]) -> std::io::Result<usize> {
        match self {
            Self::File(f) => f.read(out),
            Self::Table(t) => t.read(out),
        }
    }
}

/// What is known of the file beforehand.
#[derive(Clone, Copy, Debug, Default)]
pub struct Known<'a> {
    /// Name of the encoding.
    pub encoding: Option<&'a str>,
    /// Delimiter.
    pub delimiter: Option<u8>,
    /// Headers that the mapping names; none while there is no mapping.
    pub headers: &'a [&'a str],
    /// Decimal mark in which numbers of a workbook are written; a point if nothing is said.
    pub decimal: Option<char>,
}

/// A spreadsheet opened.
pub struct Opened {
    /// The cells of its header.
    pub header: Vec<String>,
    /// Rows of the file above the header, a title for example.
    pub above: u64,
    /// The rows below it.
    pub rows: Rows<Text>,
    /// Name of its encoding, or what kind of workbook it is.
    pub encoding: String,
    /// Its delimiter.
    pub delimiter: u8,
}

/// How much of it tells the delimiter.
const SAMPLE: u64 = 1 << 16;

/// Rows among which the header is looked for.
const TITLE: usize = 30;

/// Opens a spreadsheet and reads on to its header. No more than `most` bytes of a text are ever read.
///
/// The header is the first row that holds all the headers asked for; failing that, the one of the first rows that looks most like
/// one. A title above it is passed over.
///
/// # Errors
/// When it cannot be read, is a device or a pipe (it is read more than once), or has no header.
pub fn open(path: &Path, known: Known<'_>, most: u64) -> Result<Opened, PastError> {
    let fault = |error| PastError::File { path: path.to_owned(), error };
    let mut opened = Source::new(path, known, most)?;
    let (mut row, mut best) = (Row::default(), None::<(usize, u64)>);
    let mut rows = Rows::new(opened.text().map_err(fault)?, opened.delimiter);
    let mut seen = 0;
    while seen < TITLE && rows.next(&mut row)? {
        if row.is_blank() {
            continue;
        }
        seen += 1;
        let cells: Vec<&str> = row.cells().filter(|c| !c.is_empty()).collect();
        let wanted = known.headers.iter().filter(|h| cells.iter().any(|c| c.eq_ignore_ascii_case(h))).count();
        // A row of one cell is a title unless nothing else comes.
        let score =
            if wanted > 0 { 1_000 * wanted } else { 2 * looks_like_header(&cells) + usize::from(cells.len() > 1) };
        if best.is_none_or(|(s, _)| score > s) {
            best = Some((score, row.number));
        }
        if !known.headers.is_empty() && wanted == known.headers.len() {
            break;
        }
    }
    let Some((_, number)) = best else {
        return Err(PastError::Row { row: 1, line: 1, message: "the file is empty".to_owned() });
    };
    let mut rows = Rows::new(opened.text().map_err(fault)?, opened.delimiter);
    while rows.next(&mut row)? && row.number < number {}
    let header = row.cells().map(str::to_owned).collect();
    Ok(Opened { header, above: number - 1, rows, encoding: opened.name.clone(), delimiter: opened.delimiter })
}

/// A file that can be read from its beginning more than once.
struct Source<'p> {
    path: &'p Path,
    most: u64,
    name: String,
    delimiter: u8,
    encoding: Option<&'static encoding_rs::Encoding>,
    table: Option<Vec<u8>>,
}

impl<'p> Source<'p> {
    fn new(path: &'p Path, known: Known<'_>, most: u64) -> Result<Self, PastError> {
        let fault = |error| PastError::File { path: path.to_owned(), error };
        if let Some(kind) = workbook::kind(path).map_err(fault)? {
            let table = workbook::as_text(path, known.decimal.unwrap_or('.'))?;
            return Ok(Self { path, most, name: kind.to_owned(), delimiter: b',', encoding: None, table: Some(table) });
        }
        let file = || Ok::<_, PastError>(open_regular(path).map_err(fault)?.take(most));
        let encoding = match known.encoding.and_then(text::named) {
            Some(e) => e,
            None => text::detect(file()?).map_err(fault)?,
        };
        let mut bytes = Vec::new();
        Utf8::new(file()?, encoding).take(SAMPLE).read_to_end(&mut bytes).map_err(fault)?;
        let told = known.delimiter.or_else(|| delimiter(&String::from_utf8_lossy(&bytes)));
        let (name, delimiter) = (encoding.name().to_owned(), told.unwrap_or(b','));
        Ok(Self { path, most, name, delimiter, encoding: Some(encoding), table: None })
    }

    /// The text from its beginning; a workbook's for the last time when it is asked for the second.
    fn text(&mut self) -> std::io::Result<Text> {
        match (self.encoding, &self.table) {
            (Some(e), _) => Ok(Text::File(Utf8::new(open_regular(self.path)?.take(self.most), e))),
            (None, table) => Ok(Text::Table(Cursor::new(table.clone().unwrap_or_default()))),
        }
    }
}
