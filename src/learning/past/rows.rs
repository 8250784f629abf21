//! Rows of a delimited text, one at a time, quoted line breaks included, each within a limit. Knows no columns.

use super::error::PastError;
use csv_core::{ReadRecordResult, ReaderBuilder};
use std::io::Read;

/// The longest row that is kept, in bytes: a page of notes is a few kilobytes.
pub const LONGEST: usize = 1 << 20;

/// The most cells in a row.
const MOST_CELLS: usize = 4_096;

/// The delimiters that are told apart.
pub const DELIMITERS: [u8; 4] = [b',', b';', b'\t', b'|'];

/// A row.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Row {
    /// Number from 1 as a spreadsheet counts, blank lines included; a cell of several lines is one row.
    pub number: u64,
    /// Line of the file on which it begins, from 1, as an editor counts.
    pub line: u64,
    /// Its cells in one text.
    text: String,
    /// Where each cell ends.
    ends: Vec<usize>,
    /// Whether it was longer than [`LONGEST`]; its cells are then empty.
    pub too_long: bool,
    /// Whether the file ends inside a quoted cell of it.
    pub cut: bool,
}

impl Row {
    /// How many cells.
    #[must_use]
    pub fn len(&self) -> usize {
        self.ends.len()
    }

    /// Whether all cells are blank.
    #[must_use]
    pub fn is_blank(&self) -> bool {
        !self.too_long && self.text.trim().is_empty()
    }

    /// Whether there is no cell.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.ends.is_empty()
    }

    /// A cell without blanks around it; empty when there is none.
    #[must_use]
    pub fn cell(&self, i: usize) -> &str {
        let Some(end) = self.ends.get(i) else { return "" };
        let start = if i == 0 { 0 } else { self.ends[i - 1] };
        self.text.get(start..*end).unwrap_or("").trim()
    }

    /// Adds the cells of a row that goes on with this one, each behind its own.
    pub fn goes_on_with(&mut self, more: &Self) {
        let cells: Vec<String> = (0..self.len().max(more.len()))
            .map(|i| {
                [self.cell(i), more.cell(i)].iter().filter(|c| !c.is_empty()).copied().collect::<Vec<_>>().join(" ")
            })
            .collect();
        self.text.clear();
        self.ends.clear();
        for cell in cells {
            self.text.push_str(&cell);
            self.ends.push(self.text.len());
        }
    }

    /// All cells.
    pub fn cells(&self) -> impl Iterator<Item = &str> {
        (0..self.len()).map(|i| self.cell(i))
    }
}

/// Reads rows.
pub struct Rows<R> {
    from: R,
    parser: csv_core::Reader,
    input: Vec<u8>,
    at: usize,
    filled: usize,
    ended: bool,
    number: u64,
    output: Vec<u8>,
    ends: Vec<usize>,
    /// Number of quotes in the row so far, and the last byte read.
    quotes: usize,
    last: u8,
    /// Lines that were passed over without the parser.
    passed: u64,
}

impl<R: Read> Rows<R> {
    /// Rows of a UTF-8 text with this delimiter.
    pub fn new(from: R, delimiter: u8) -> Self {
        let parser = ReaderBuilder::new().delimiter(delimiter).build();
        let (input, output, ends) = (vec![0; 1 << 16], vec![0; LONGEST], vec![0; MOST_CELLS]);
        Self {
            from,
            parser,
            input,
            at: 0,
            filled: 0,
            ended: false,
            number: 0,
            output,
            ends,
            quotes: 0,
            last: b'\n',
            passed: 0,
        }
    }

    /// The reader below, for asking how far it is.
    pub fn source(&self) -> &R {
        &self.from
    }

    /// Reads on when all of the input was taken.
    fn fill(&mut self) -> std::io::Result<()> {
        if self.at == self.filled && !self.ended {
            let read = self.from.read(&mut self.input)?;
            (self.at, self.filled, self.ended) = (0, read, read == 0);
        }
        Ok(())
    }

    /// Passes over what is left of an end of line, and over blank lines, which the parser would skip without counting them as
    /// rows.
    fn pass_blank_lines(&mut self) -> std::io::Result<()> {
        loop {
            self.fill()?;
            match self.input[self.at..self.filled].first() {
                Some(b'\n') => {
                    // The second half of CR LF belongs to the line before.
                    self.number += u64::from(self.last != b'\r');
                    self.passed += 1;
                    self.last = b'\n';
                }
                Some(b'\r') => {
                    self.number += 1;
                    self.last = b'\r';
                }
                _ => return Ok(()),
            }
            self.at += 1;
        }
    }

    /// Reads the next row into `row`; false at the end.
    ///
    /// # Errors
    /// When the file cannot be read, or a quote that was opened is never closed: what follows cannot be told into
    /// rows then.
    pub fn next(&mut self, row: &mut Row) -> Result<bool, PastError> {
        let (mut text, mut cells) = (0, 0);
        self.quotes = 0;
        row.cut = false;
        let unread = |e| PastError::Row { row: 0, line: 0, message: format!("the file cannot be read: {e}") };
        self.pass_blank_lines().map_err(unread)?;
        (row.too_long, row.number, row.line) = (false, self.number + 1, self.parser.line() + self.passed);
        row.text.clear();
        row.ends.clear();
        let fault = |row: &Row, message: String| PastError::Row { row: row.number, line: row.line, message };
        loop {
            self.fill().map_err(|e| fault(row, format!("the file cannot be read: {e}")))?;
            let input = &self.input[self.at..self.filled];
            let (result, taken, written, ended) =
                self.parser.read_record(input, &mut self.output[text..], &mut self.ends[cells..]);
            let read = &input[..taken];
            self.quotes += read.iter().filter(|b| **b == b'"').count();
            self.last = read.last().copied().unwrap_or(self.last);
            self.at += taken;
            text += written;
            cells += ended;
            match result {
                ReadRecordResult::InputEmpty => {}
                // What does not fit is read on and forgotten, so that a line of any length takes no memory.
                ReadRecordResult::OutputFull | ReadRecordResult::OutputEndsFull => {
                    (row.too_long, text, cells) = (true, 0, 0);
                }
                ReadRecordResult::Record => break,
                ReadRecordResult::End => return Ok(false),
            }
        }
        let lines = (self.parser.line() + self.passed).saturating_sub(row.line);
        if row.too_long && lines > 1 {
            return Err(fault(
                row,
                format!(
                    "the row goes on for more than {LONGEST} bytes and {lines} lines; a quote that is opened here is not closed"
                ),
            ));
        }
        // Quotes come in pairs. One left over where the text stops without an end of line was opened and never closed.
        row.cut = self.ended && self.at == self.filled && self.quotes % 2 == 1 && !matches!(self.last, b'\n' | b'\r');
        self.number += 1;
        if !row.too_long {
            row.text.push_str(
                std::str::from_utf8(&self.output[..text])
                    .map_err(|_| fault(row, "the text is not UTF-8".to_owned()))?,
            );
            row.ends.extend_from_slice(&self.ends[..cells]);
        }
        Ok(true)
    }
}

/// The delimiter of a text, by its beginning: the one that cuts the first rows into the same number of cells, the
/// largest number if several do. Nothing when none cuts at all, which a file of one column is.
#[must_use]
pub fn delimiter(sample: &str) -> Option<u8> {
    let mut best: Option<(f64, usize, u8)> = None;
    for d in DELIMITERS {
        let mut rows = Rows::new(sample.as_bytes(), d);
        let (mut row, mut widths) = (Row::default(), Vec::new());
        while widths.len() < 40 && rows.next(&mut row).unwrap_or(false) {
            widths.push(row.len());
        }
        // The last row of a sample may be cut.
        if widths.len() > 2 {
            widths.pop();
        }
        // A title above the header has a width of its own: the commonest is the table's, the wider of two as common.
        let count = |w: usize| widths.iter().filter(|x| **x == w).count();
        let Some(first) = widths.iter().copied().filter(|w| *w > 1).max_by_key(|w| (count(*w), *w)) else { continue };
        let alike = count(first) as f64 / widths.len() as f64;
        if best.is_none_or(|(a, w, _)| alike > a + 0.05 || (alike > a - 0.05 && first > w)) {
            best = Some((alike, first, d));
        }
    }
    best.map(|(_, _, d)| d)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(text: &str, d: u8) -> Vec<Vec<String>> {
        let mut rows = Rows::new(text.as_bytes(), d);
        let (mut row, mut out) = (Row::default(), Vec::new());
        while rows.next(&mut row).unwrap() {
            out.push(row.cells().map(str::to_owned).collect());
        }
        out
    }

    #[test]
    fn quoted_line_breaks_and_quotes_stay_in_their_cell() {
        let rows = all("a,b\n\"one\ntwo\",\"say \"\"no\"\"\"\r\n3,4", b',');
        assert_eq!(rows, [vec!["a", "b"], vec!["one\ntwo", "say \"no\""], vec!["3", "4"]]);
    }

    #[test]
    fn delimiters_are_told_apart() {
        assert_eq!(delimiter("a;b;c\n1,5;2,5;3,5\n1,5;2,5;3,5\n"), Some(b';'));
        assert_eq!(delimiter("a\tb\n1,2,3\t2\n"), Some(b'\t'));
        assert_eq!(delimiter("a,b\n\"x;y;z\",2\n1,2\n"), Some(b','));
        assert_eq!(delimiter("one\ntwo\n"), None);
    }

    #[test]
    fn rows_and_lines_are_those_of_a_spreadsheet_and_an_editor() {
        for end in ["\n", "\r\n"] {
            let text = ["a,b", "", "1,\"x", "y\"", "", "", "2,z", ""].join(end);
            let mut rows = Rows::new(text.as_bytes(), b',');
            let (mut row, mut at) = (Row::default(), Vec::new());
            while rows.next(&mut row).unwrap() {
                at.push((row.number, row.line, row.cell(0).to_owned()));
            }
            let told: Vec<_> = at.iter().map(|(n, l, c)| (*n, *l, c.as_str())).collect();
            assert_eq!(told, [(1, 1, "a"), (3, 3, "1"), (6, 7, "2")], "{end:?}");
        }
    }

    #[test]
    fn a_line_of_many_megabytes_is_one_refused_row() {
        let line = std::io::repeat(b'x').take(40_000_000);
        let mut rows = Rows::new("a,b\n".as_bytes().chain(line).chain("\n1,2\n".as_bytes()), b',');
        let mut row = Row::default();
        assert!(rows.next(&mut row).unwrap() && !row.too_long);
        assert!(rows.next(&mut row).unwrap() && row.too_long);
        assert!(rows.next(&mut row).unwrap());
        assert_eq!((row.number, row.cell(1)), (3, "2"));
        assert!(rows.output.len() == LONGEST, "the buffer does not grow");
    }

    #[test]
    fn an_end_inside_a_quoted_cell_is_a_cut() {
        for (text, cut) in
            [("a,b\n1,\"x, y", true), ("a,b\n1,\"x, y\"", false), ("a,b\n1,5\"\n", false), ("a,b\n1,x", false)]
        {
            let mut rows = Rows::new(text.as_bytes(), b',');
            let mut row = Row::default();
            assert!(rows.next(&mut row).unwrap() && !row.cut);
            assert!(rows.next(&mut row).unwrap());
            assert_eq!(row.cut, cut, "{text}");
        }
    }

    #[test]
    fn a_quote_that_is_never_closed_is_told() {
        let text = format!("a,b\n1,\"x\n{}", "1,2\n".repeat(400_000));
        let mut rows = Rows::new(text.as_bytes(), b',');
        let mut row = Row::default();
        assert!(rows.next(&mut row).unwrap());
        let told = rows.next(&mut row).unwrap_err().to_string();
        assert!(told.contains("row 2, line 2") && told.contains("not closed"), "{told}");
    }
}
