//! What a person read off a gauge: one number, a limit, a hold, points in time. How it is written is in `reading_text`.

use crate::digits::tidy;
use crate::error::GaugeError;
use crate::quantity::{Quantity, Reference, Side};
use crate::units::Unit;
use serde::Serialize;
use std::fmt;

/// What a person read off a gauge.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reading {
    /// One number.
    Exact(Quantity),
    /// More than this: the gauge ended there, or nobody waited.
    Above(Quantity),
    /// Less than this.
    Below(Quantity),
    /// Two or more points in time.
    Series(Series),
    /// The needle did not move.
    Held {
        /// Where it stood, when that was written.
        start: Option<Quantity>,
        /// For how many seconds, when that was written.
        seconds: Option<f64>,
    },
    /// Beyond the end of a scale that was not named; what `OL` on a meter means.
    OffScale,
}

/// Points in time, all in one unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Series {
    /// The points, times strictly rising.
    pub points: Vec<Point>,
    /// The unit of every value.
    pub unit: Unit,
    /// What pressures count from.
    pub reference: Reference,
    /// The finest last place written, in `unit`.
    pub step: f64,
}

/// One point of a series.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Point {
    /// Time since the start, in seconds.
    pub seconds: f64,
    /// The value, in the unit of the series.
    pub value: f64,
}

impl Series {
    /// The points as distance from the air outside: (seconds, Pa), all on one side.
    ///
    /// # Errors
    /// When the side is not said, or the points lie on both sides.
    pub fn from_air(&self, side: Option<Side>, air_pa: f64) -> Result<(Side, Vec<(f64, f64)>), GaugeError> {
        let mut side = side;
        let mut points = Vec::with_capacity(self.points.len());
        for point in &self.points {
            let quantity = Quantity { value: point.value, unit: self.unit, reference: self.reference, step: self.step };
            let (found, pa) = quantity.from_air(side, air_pa)?;
            if pa > 0.0 {
                side = Some(found);
            }
            points.push((point.seconds, pa));
        }
        side.map(|side| (side, points))
            .ok_or_else(|| GaugeError::nonsense("every point of the series is zero: nothing was held"))
    }
}

impl fmt::Display for Reading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Exact(quantity) => write!(f, "{quantity}"),
            Self::Above(quantity) => write!(f, "more than {quantity}"),
            Self::Below(quantity) => write!(f, "less than {quantity}"),
            Self::OffScale => f.write_str("off scale"),
            Self::Held { start, seconds } => {
                f.write_str("held")?;
                if let Some(start) = start {
                    write!(f, " {start}")?;
                }
                seconds.map_or(Ok(()), |seconds| write!(f, " for {} s", tidy(seconds)))
            }
            Self::Series(series) => {
                let points: Vec<String> =
                    series.points.iter().map(|p| format!("{} at {} s", tidy(p.value), tidy(p.seconds))).collect();
                let from =
                    Quantity { value: 0.0, unit: series.unit, reference: series.reference, step: 0.0 }.to_string();
                write!(f, "{} ({})", points.join(", "), from.trim_start_matches("0 "))
            }
        }
    }
}
