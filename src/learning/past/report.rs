//! What became of the rows of a spreadsheet.

use std::collections::BTreeMap;

/// A row that was refused, or of which a cell was left out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// Row from 1, as a spreadsheet counts.
    pub row: u64,
    /// Line of the file, as an editor counts.
    pub line: u64,
    /// The shop's number of the job, or nothing.
    pub job: String,
    /// Why.
    pub reason: String,
}

/// What became of the rows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Report {
    /// Rows below the header that are not blank.
    pub rows: u64,
    /// New jobs with a cause, a doubt or no fault.
    pub kept: u64,
    /// New jobs whose cause a person has to look at.
    pub held: u64,
    /// Rows that were there before, unchanged.
    pub known: u64,
    /// Rows that were there before with another content; the first content stays.
    pub changed: u64,
    /// Rows refused.
    pub refused: u64,
    /// Blank rows, passed over.
    pub blank: u64,
    /// Rows that only went on with the words of the row above.
    pub wrapped: u64,
    /// Rows above the header.
    pub above: u64,
    /// Number of this import, to take it out by; none when nothing was kept.
    pub import: Option<i64>,
    /// Jobs whose cause became unsure because the car came back with the same trouble.
    pub came_back: u64,
    /// By kind of reason: how many.
    pub reasons: BTreeMap<&'static str, u64>,
    /// Refused rows with their reasons, the first [`MOST_REMARKS`].
    pub refusals: Vec<Remark>,
    /// Kept rows of which a cell could not be read and was left out, the first [`MOST_REMARKS`].
    pub left_out: Vec<Remark>,
    /// Kept rows of which a cell was left out.
    pub with_gaps: u64,
    /// Encoding that was read.
    pub encoding: String,
    /// Delimiter that was read.
    pub delimiter: char,
    /// Whether nothing was kept on purpose.
    pub dry_run: bool,
}

/// Remarks kept in memory; the counts go on beyond.
pub const MOST_REMARKS: usize = 10_000;
