//! Which column of the shop's spreadsheet is what, and how it writes dates, numbers and units. Declared in a file,
//! never guessed silently.

use super::cells::DateOrder;
use super::error::PastError;
use crate::overlay::quoted;
use knowledge::fields::parse;
use knowledge::yaml::{Place, Spanned, place};
use std::fmt::Write as _;

/// A column that holds a reading of a test.
#[derive(Clone, Debug, PartialEq)]
pub struct ResultColumn {
    /// Its header.
    pub column: String,
    /// Reading id.
    pub reading: String,
    /// What the cells say, in lower case, and the level that each stands for.
    pub levels: Vec<(String, String)>,
}

/// The fields that a column may fill, with what is said of each in a drafted mapping.
pub const FIELDS: [(&str, &str); 14] = [
    ("job", "the shop's job number; without it, rows are known again by their content"),
    ("date", "the day the car came in"),
    ("codes", "trouble codes, several in a cell are fine"),
    ("cause", "what was at fault, in words"),
    ("make", "make"),
    ("model", "model"),
    ("engine", "engine family"),
    ("year", "model year"),
    ("mileage", "odometer"),
    ("repair", "what was done, in words"),
    ("repair_time", "labour of the repair alone"),
    ("time", "labour in all"),
    ("parts", "cost of the parts"),
    ("comeback_of", "number of an earlier job of the same car that did not hold"),
];

/// Fields without which there is nothing to learn.
const NEEDED: [&str; 3] = ["date", "codes", "cause"];

/// A mapping.
#[derive(Clone, Debug, PartialEq)]
pub struct Mapping {
    /// Field and header of its column.
    pub columns: Vec<(String, String)>,
    /// Order of dates.
    pub date_order: DateOrder,
    /// Decimal mark.
    pub decimal: char,
    /// Whether bare mileages are miles.
    pub miles: bool,
    /// Whether bare times are hours.
    pub hours: bool,
    /// Delimiter; none means: by the file.
    pub delimiter: Option<u8>,
    /// Name of the encoding; none means: by the file.
    pub encoding: Option<String>,
    /// Columns of results.
    pub results: Vec<ResultColumn>,
}

knowledge::written! {
    RawMapping "mapping" {
        need schema: Spanned<String>;
        need columns: Vec<RawColumn>;
        need dates: Spanned<String>;
        need decimal: Spanned<String>;
        need mileage_unit: Spanned<String>;
        need time_unit: Spanned<String>;
        may delimiter: Spanned<String>;
        may encoding: Spanned<String>;
        may results: Vec<RawResult>;
    }
}
knowledge::written! {
    RawColumn "column" {
        need field: Spanned<String>;
        need column: String;
    }
}
knowledge::written! {
    RawResult "column of results" {
        need column: String;
        need reading: String;
        need levels: Vec<RawLevel>;
    }
}
knowledge::written! {
    RawLevel "cell and its level" {
        need cell: String;
        need level: String;
    }
}

/// Version of the file's shape.
pub const SCHEMA: &str = "faultodds.mapping/1";

impl Mapping {
    /// Header of the column that fills a field.
    #[must_use]
    pub fn column(&self, field: &str) -> Option<&str> {
        self.columns.iter().find(|(f, _)| f == field).map(|(_, c)| c.as_str())
    }

    /// Reads a mapping.
    ///
    /// # Errors
    /// Everything that is wrong with it, with places.
    pub fn from_yaml(text: &str) -> Result<Self, PastError> {
        let raw = parse::<RawMapping>(text).map_err(|faults| PastError::Written {
            told: faults.iter().map(|e| at(e.place, &e.fault.to_string())).collect(),
        })?;
        let mut told = Vec::new();
        if raw.schema.value != SCHEMA {
            told.push(at(place(&raw.schema), &format!("this is not a mapping of the shape {SCHEMA}")));
        }
        let mut columns: Vec<(String, String)> = Vec::new();
        for c in &raw.columns {
            let field = &c.field.value;
            if !FIELDS.iter().any(|(f, _)| f == field) {
                let fields: Vec<&str> = FIELDS.iter().map(|(f, _)| *f).collect();
                told.push(at(place(&c.field), &format!("`{field}` is none of {}", fields.join(", "))));
            } else if columns.iter().any(|(f, _)| f == field) {
                told.push(at(place(&c.field), &format!("`{field}` has two columns")));
            } else {
                columns.push((field.clone(), c.column.trim().to_owned()));
            }
        }
        for needed in NEEDED {
            if !columns.iter().any(|(f, _)| f == needed) {
                told.push(format!("no column is given for `{needed}`"));
            }
        }
        let mut choice = |value: &Spanned<String>, what: &str, words: &[&str]| {
            let i = words.iter().position(|w| *w == value.value);
            if i.is_none() {
                told.push(at(
                    place(value),
                    &format!("{what} is `{}` and must be one of {}", value.value, words.join(", ")),
                ));
            }
            i.unwrap_or(0)
        };
        let date_order = DateOrder::WORDS[choice(&raw.dates, "the order of dates", &["ymd", "dmy", "mdy"])].0;
        let decimal = ['.', ','][choice(&raw.decimal, "the decimal mark", &[".", ","])];
        let miles = choice(&raw.mileage_unit, "the unit of mileage", &["km", "mi"]) == 1;
        let hours = choice(&raw.time_unit, "the unit of times", &["min", "h"]) == 1;
        let delimiter = raw
            .delimiter
            .as_ref()
            .map(|d| super::rows::DELIMITERS[choice(d, "the delimiter", &[",", ";", "tab", "|"])]);
        if let Some(e) = raw.encoding.as_ref().filter(|e| super::text::named(&e.value).is_none()) {
            told.push(at(place(e), &format!("`{}` is no encoding; try utf-8, utf-16le or windows-1252", e.value)));
        }
        let result = |r: RawResult| ResultColumn {
            column: r.column.trim().to_owned(),
            reading: r.reading,
            levels: r.levels.into_iter().map(|l| (l.cell.trim().to_lowercase(), l.level)).collect(),
        };
        let results = raw.results.unwrap_or_default().into_iter().map(result).collect();
        let encoding = raw.encoding.map(|e| e.value);
        if !told.is_empty() {
            return Err(PastError::Written { told });
        }
        Ok(Self { columns, date_order, decimal, miles, hours, delimiter, encoding, results })
    }

    /// The readings and levels that the base does not know.
    #[must_use]
    pub fn unknown(&self, base: &knowledge::Base) -> Vec<String> {
        let mut out = Vec::new();
        for r in &self.results {
            match base.reading(&r.reading) {
                None => out.push(format!("column `{}`: the base has no reading `{}`", r.column, r.reading)),
                Some((_, reading)) => {
                    for (_, level) in r.levels.iter().filter(|(_, l)| !reading.levels.contains(l)) {
                        out.push(format!(
                            "column `{}`: `{}` has the levels {}, not `{level}`",
                            r.column,
                            r.reading,
                            reading.levels.join(", ")
                        ));
                    }
                }
            }
        }
        out
    }
}

fn at(place: Place, message: &str) -> String {
    format!("line {}, column {}: {message}", place.line, place.column)
}

/// What a drafted mapping holds; what could not be told from the file is `?`, for a person to fill in.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Draft {
    /// Field and header; none where no column looks like it.
    pub columns: Vec<(&'static str, Option<String>)>,
    /// Order of dates, when only one fits.
    pub dates: Option<&'static str>,
    /// Decimal mark, when the file shows it.
    pub decimal: Option<char>,
    /// Columns that nothing was found for.
    pub left: Vec<String>,
}

impl Draft {
    /// The draft as YAML with remarks.
    #[must_use]
    pub fn to_yaml(&self) -> String {
        let mut out = format!(
            "# Which column is what. Check every line; fill in each `?`; take out what is not there.\nschema: {SCHEMA}\ncolumns:\n"
        );
        for (field, column) in &self.columns {
            let about = FIELDS.iter().find(|(f, _)| f == field).map_or("", |(_, a)| a);
            // Writing to a text cannot fail.
            let _ = match column {
                Some(c) => writeln!(out, "  - {{field: {field}, column: {}}}  # {about}", quoted(c)),
                None => writeln!(out, "  # - {{field: {field}, column: ?}}  # {about}"),
            };
        }
        let dates = self.dates.unwrap_or("\"?\"");
        let _ = writeln!(out, "dates: {dates}  # ymd, dmy (day first) or mdy (month first)");
        let decimal = self.decimal.map_or("?".to_owned(), String::from);
        let _ = writeln!(out, "decimal: \"{decimal}\"  # \".\" or \",\"");
        out.push_str("mileage_unit: \"?\"  # km or mi, for mileages without a unit\ntime_unit: \"?\"  # h or min, for times without a unit\n");
        out.push_str("# results:  # columns that hold the outcome of a test\n");
        out.push_str("#   - {column: Smoke, reading: \"smoke-whole:filler\", levels: [{cell: \"no\", level: no smoke}, {cell: \"yes\", level: plume}]}\n");
        if !self.left.is_empty() {
            let _ = writeln!(
                out,
                "# columns not used: {}",
                self.left.iter().map(|l| quoted(l)).collect::<Vec<_>>().join(", ")
            );
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = "schema: faultodds.mapping/1\ncolumns:\n  - {field: date, column: In}\n  - {field: codes, column: DTC}\n  - {field: cause, column: Found}\ndates: dmy\ndecimal: \".\"\nmileage_unit: mi\ntime_unit: h\n";

    #[test]
    fn a_mapping_says_what_the_file_does_not() {
        let m = Mapping::from_yaml(GOOD).unwrap();
        assert_eq!((m.date_order, m.miles, m.column("codes")), (DateOrder::Dmy, true, Some("DTC")));
    }

    #[test]
    fn what_is_not_declared_is_asked_for() {
        for (from, to, told) in [
            ("dates: dmy", "dates: \"?\"", "order of dates"),
            ("  - {field: cause, column: Found}\n", "", "`cause`"),
            ("field: cause", "field: reason", "`reason`"),
            ("time_unit: h", "time_unit: \"?\"", "unit of times"),
        ] {
            let error = Mapping::from_yaml(&GOOD.replace(from, to)).unwrap_err().to_string();
            assert!(error.contains(told), "{error}");
        }
    }
}
