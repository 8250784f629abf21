//! Where each field of a mapping stands in a spreadsheet.

use super::error::PastError;
use super::mapping::Mapping;
use super::rows::Row;
use knowledge::base::Base;
use std::collections::BTreeMap;

/// Where each field stands.
pub(super) struct Columns<'m> {
    pub mapping: &'m Mapping,
    pub at: BTreeMap<&'m str, usize>,
    pub results: Vec<usize>,
}

impl<'m> Columns<'m> {
    pub fn new(mapping: &'m Mapping, header: &[String], base: &Base) -> Result<Self, PastError> {
        let find = |name: &str| {
            header.iter().position(|h| h == name).or_else(|| header.iter().position(|h| h.eq_ignore_ascii_case(name)))
        };
        let mut missing = Vec::new();
        let mut place = |name: &str| {
            find(name).unwrap_or_else(|| {
                missing.push(name.to_owned());
                0
            })
        };
        let at = mapping.columns.iter().map(|(field, column)| (field.as_str(), place(column))).collect();
        let results = mapping.results.iter().map(|r| place(&r.column)).collect();
        if !missing.is_empty() {
            return Err(PastError::Columns { missing, there: header.to_vec() });
        }
        let told = mapping.unknown(base);
        if told.is_empty() { Ok(Self { mapping, at, results }) } else { Err(PastError::Written { told }) }
    }

    /// The cell of a field, empty where it has no column.
    pub fn cell<'r>(&self, row: &'r Row, field: &str) -> &'r str {
        self.at.get(field).map_or("", |i| row.cell(*i))
    }

    /// Whether a row only goes on with the words of the one above, as where a long cell was wrapped into the next row.
    pub fn goes_on(&self, row: &Row) -> bool {
        let worded = |field: &str| matches!(field, "cause" | "repair");
        !row.too_long
            && self.at.keys().any(|f| worded(f) && !self.cell(row, f).is_empty())
            && self.at.keys().all(|f| worded(f) || self.cell(row, f).is_empty())
            && self.results.iter().all(|i| row.cell(*i).is_empty())
    }
}
