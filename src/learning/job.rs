//! A closed job as learning sees it, wherever it was recorded: in a spreadsheet of the past or with `job`.

use jiff::civil::Date;
use knowledge::base::Vehicle;
use std::borrow::Cow;

/// What was found to be at fault.
#[derive(Clone, Debug, PartialEq)]
pub enum Cause {
    /// One suspect, confirmed.
    Found(String),
    /// Several suspects at once, confirmed.
    Several(Vec<String>),
    /// Not sure: these suspects with their shares of belief; an empty list means that anything is possible.
    Unsure(Vec<(String, f64)>),
    /// Nothing was wrong.
    NoFault,
}

/// A closed job. Ids are those of the base; what is not known is left out.
#[derive(Clone, Debug, PartialEq)]
pub struct ClosedJob {
    /// The day it came in.
    pub date: Date,
    /// The shop, by the name that it goes under among others; none where there is but one.
    pub shop: Option<String>,
    /// Make, as the shop writes it.
    pub make: Option<String>,
    /// Model.
    pub model: Option<String>,
    /// Engine family.
    pub engine: Option<String>,
    /// What the base's factors read: age, mileage.
    pub vehicle: Vehicle,
    /// Codes at intake, sorted, none twice.
    pub codes: Vec<String>,
    /// Symptoms noticed at intake.
    pub symptoms: Vec<String>,
    /// Readings and the name of the level that each showed.
    pub results: Vec<(String, String)>,
    /// What was at fault.
    pub cause: Cause,
    /// The repair made, when it is known.
    pub repair: Option<String>,
    /// Minutes of the repair alone.
    pub repair_minutes: Option<f64>,
    /// Minutes of single tests.
    pub test_minutes: Vec<(String, f64)>,
    /// What the parts cost.
    pub parts_cost: Option<f64>,
    /// Minutes of labour in all.
    pub minutes: Option<f64>,
}

impl ClosedJob {
    /// A job of which only the day is known.
    #[must_use]
    pub fn on(date: Date) -> Self {
        Self {
            date,
            shop: None,
            make: None,
            model: None,
            engine: None,
            vehicle: Vehicle::default(),
            codes: Vec::new(),
            symptoms: Vec::new(),
            results: Vec::new(),
            cause: Cause::Unsure(Vec::new()),
            repair: None,
            repair_minutes: None,
            test_minutes: Vec::new(),
            parts_cost: None,
            minutes: None,
        }
    }

    /// The codes as one word, which groups jobs that came in alike.
    #[must_use]
    pub fn pattern(&self) -> Cow<'_, str> {
        match self.codes.as_slice() {
            [one] => Cow::Borrowed(one),
            all => Cow::Owned(all.join(" ")),
        }
    }

    /// The groups that it belongs to, as `by` and value.
    #[must_use]
    pub fn groups(&self) -> Vec<(&'static str, String)> {
        let mut out = groups_of(self.make.as_deref(), self.model.as_deref(), self.engine.as_deref());
        if let Some(age) = self.vehicle.age {
            out.push(("age", age_band(age).to_owned()));
        }
        if let Some(shop) = &self.shop {
            out.push(("shop", shop.clone()));
        }
        out
    }
}

/// The groups of a car of this make, model and engine, as `by` and value. A model without its make is none: names of
/// models occur twice.
#[must_use]
pub fn groups_of(make: Option<&str>, model: Option<&str>, engine: Option<&str>) -> Vec<(&'static str, String)> {
    let mut out = Vec::new();
    if let Some(make) = make {
        out.push(("make", plain(make)));
        if let Some(model) = model {
            out.push(("model", format!("{} {}", plain(make), plain(model))));
        }
    }
    if let Some(engine) = engine {
        out.push(("engine", plain(engine)));
    }
    out
}

/// A name as names are compared: in lower case, with single blanks.
#[must_use]
pub fn plain(name: &str) -> String {
    name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

/// Age bands: those in which the share of cars with a vapour leak is published (US EPA MOVES5, cumTVVCoeffs).
#[must_use]
pub fn age_band(age: f64) -> &'static str {
    match age {
        a if a < 4.0 => "0-3",
        a if a < 6.0 => "4-5",
        a if a < 8.0 => "6-7",
        a if a < 10.0 => "8-9",
        a if a < 15.0 => "10-14",
        a if a < 20.0 => "15-19",
        _ => "20+",
    }
}
