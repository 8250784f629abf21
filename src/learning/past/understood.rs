//! What a row says, before anything of it is kept: its cells read and its words understood, or why it is refused.

use super::cells;
use super::columns::Columns;
use super::keys::{Hash, key_of_job};
use super::meaning::{Meaning, Meanings};
use super::rows::{LONGEST, Row};
use jiff::civil::Date;
use knowledge::base::Base;
use std::collections::HashMap;

/// A row as understood.
pub(super) struct Understood {
    /// Job, make, model and engine as written.
    pub job: Option<String>,
    pub make: Option<String>,
    pub model: Option<String>,
    pub engine: Option<String>,
    pub date: Date,
    /// Years.
    pub age: Option<f64>,
    pub km: Option<f64>,
    /// Known to the base, parted by blanks.
    pub codes: String,
    /// For the cause.
    pub words: String,
    pub meant: Meaning,
    pub repair: Option<String>,
    pub repair_minutes: Option<f64>,
    pub minutes: Option<f64>,
    pub parts: Option<f64>,
    /// Hash of what the cells hold.
    pub content: i64,
    /// Hash of the job's number; without one, the content stands for it.
    pub key: Option<i64>,
    /// Readings and levels.
    pub results: Vec<(String, String)>,
    /// Key of the job that this one calls back.
    pub came_back: Option<i64>,
    /// Cells that could not be read and were left out.
    pub gaps: Vec<String>,
}

/// Why a row is refused: the kind of reason, and the reason.
pub(super) struct Refusal(pub &'static str, pub String);

/// Repairs that remove each suspect.
pub(super) fn repairs(base: &Base) -> HashMap<&str, Vec<(&str, &str)>> {
    let mut out: HashMap<&str, Vec<(&str, &str)>> = HashMap::new();
    for (_, r) in base.repairs() {
        for s in &r.removes {
            out.entry(s).or_default().push((&r.id, &r.does));
        }
    }
    out
}

/// Reads rows.
pub(super) struct Reader<'a> {
    pub base: &'a Base,
    /// Later dates are refused.
    pub today: Date,
    pub columns: &'a Columns<'a>,
    pub meanings: Meanings<'a>,
    pub repairs: HashMap<&'a str, Vec<(&'a str, &'a str)>>,
    /// Cells of the header.
    pub width: usize,
}

impl Reader<'_> {
    /// What the row says.
    pub fn read(&mut self, row: &Row) -> Result<Understood, Refusal> {
        let width = self.width;
        let refuse = |kind, reason: String| Err(Refusal(kind, reason));
        if row.too_long {
            return refuse("longer than any row may be", format!("the row is longer than {} bytes", LONGEST));
        }
        if row.cut {
            return refuse("cells missing", "the file ends inside a quoted cell of this row: cut off?".to_owned());
        }
        if row.len() < width {
            return refuse(
                "cells missing",
                format!("the row has {} cells and the header {width}: cut off?", row.len()),
            );
        }
        if (width..row.len()).any(|i| !row.cell(i).is_empty()) {
            return refuse(
                "too many cells",
                format!(
                    "the row has {} cells and the header {width}: a delimiter inside a cell without quotes?",
                    row.len()
                ),
            );
        }
        let c = self.columns;
        for field in c.at.keys() {
            let cell = c.cell(row, field);
            if cells::is_formula(cell) {
                return refuse(
                    "a formula",
                    format!("the cell `{}` holds a formula and not its value", cells::short(cell)),
                );
            }
        }
        let date =
            cells::date(c.cell(row, "date"), c.mapping.date_order).map_err(|why| Refusal("no usable date", why))?;
        if date > self.today {
            return refuse("a date in the future", format!("{date} is in the future"));
        }
        if date.year() < 1980 {
            return refuse("no usable date", format!("{date} is before there were such codes"));
        }
        let told = cells::codes(c.cell(row, "codes"));
        if told.is_empty() {
            return refuse("no trouble code", "there is no trouble code".to_owned());
        }
        let known: Vec<&String> = told.iter().filter(|code| self.base.code(code).is_some()).collect();
        if known.is_empty() {
            return refuse("no code of the base", format!("the base knows none of {}", told.join(", ")));
        }
        let codes = known.iter().map(|s| s.as_str()).collect::<Vec<_>>().join(" ");
        let mut gaps = Vec::new();
        let minutes = self.number(row, "time", &mut gaps)?;
        let repair_minutes = self.number(row, "repair_time", &mut gaps)?;
        let parts = self.number(row, "parts", &mut gaps)?;
        let km = self.number(row, "mileage", &mut gaps)?;
        let year = c.cell(row, "year");
        let age = match year.parse::<i16>() {
            Ok(y) if (1980..=date.year() + 1).contains(&y) => Some(f64::from(date.year() - y).max(0.0)),
            _ if year.is_empty() => None,
            _ => {
                gaps.push(format!("`{}` is no model year", cells::short(year)));
                None
            }
        };
        let words = c.cell(row, "cause").split_whitespace().collect::<Vec<_>>().join(" ");
        let meant = self.meanings.of(&words, &codes);
        let repair = (meant.state == "found").then(|| self.repair(&meant.cause, c.cell(row, "repair"))).flatten();
        let mut results = Vec::new();
        for (r, at) in c.mapping.results.iter().zip(&c.results) {
            let cell = row.cell(*at).to_lowercase();
            if let Some((_, level)) = r.levels.iter().find(|(said, _)| *said == cell) {
                results.push((r.reading.clone(), level.clone()));
            } else if !cell.is_empty() {
                gaps.push(format!("`{}` in column `{}` stands for no level", cells::short(&cell), r.column));
            }
        }
        let said = |field| Some(c.cell(row, field)).filter(|s| !s.is_empty());
        let written = |field| said(field).map(str::to_owned);
        Ok(Understood {
            job: written("job"),
            make: written("make"),
            model: written("model"),
            engine: written("engine"),
            date,
            age,
            km,
            codes,
            words,
            meant,
            repair,
            repair_minutes,
            minutes,
            parts,
            content: self.content(row),
            key: said("job").map(key_of_job),
            results,
            came_back: said("comeback_of").map(key_of_job),
            gaps,
        })
    }

    /// An amount, a time or a distance. What cannot be read is a gap; what is negative or absurd refuses the row.
    fn number(&self, row: &Row, field: &'static str, gaps: &mut Vec<String>) -> Result<Option<f64>, Refusal> {
        let m = self.columns.mapping;
        let cell = self.columns.cell(row, field);
        if cell.is_empty() {
            return Ok(None);
        }
        let (read, most) = match field {
            "parts" => (cells::amount(cell, m.decimal), 50_000.0),
            "mileage" => (cells::km(cell, m.decimal, m.miles), 2_000_000.0),
            _ => (cells::minutes(cell, m.decimal, m.hours), 6_000.0),
        };
        match read {
            Ok(v) if v < 0.0 => Err(Refusal("a negative number", format!("`{}` is negative", cells::short(cell)))),
            Ok(v) if v <= most => Ok(Some(v)),
            Ok(v) => {
                gaps.push(format!("{v} is more than anyone would believe for `{field}`"));
                Ok(None)
            }
            Err(why) => {
                gaps.push(why);
                Ok(None)
            }
        }
    }

    fn content(&self, row: &Row) -> i64 {
        let mut content = Hash::new(1);
        for i in self.columns.at.values().chain(&self.columns.results) {
            content.take(row.cell(*i).as_bytes());
        }
        content.end()
    }

    /// The repair that was made: the only one there is for the suspect, or the one whose words fit best.
    fn repair(&self, suspect: &str, words: &str) -> Option<String> {
        let all = self.repairs.get(suspect)?;
        if let [(id, _)] = all.as_slice() {
            return Some((*id).to_owned());
        }
        let given: Vec<String> =
            words.split(|c: char| !c.is_alphanumeric()).filter(|w| w.len() > 2).map(str::to_lowercase).collect();
        let fit = |does: &str| {
            let does = does.to_lowercase();
            given.iter().filter(|w| does.contains(&w[..w.len().min(5)])).count()
        };
        let mut scored: Vec<(usize, &str)> = all.iter().map(|(id, does)| (fit(&format!("{id} {does}")), *id)).collect();
        scored.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(b.1)));
        match scored.as_slice() {
            [(best, id), (next, _), ..] if best > next => Some((*id).to_owned()),
            _ => None,
        }
    }
}
