//! The table of units with their factors to SI and where these come from. Looks nothing up.
//!
//! Factors: NIST SP 811 (2008), appendix B, *from memory*, where a factor is not exact by definition. Exact: inch
//! 25.4 mm, foot 0.3048 m, US gallon 231 in³, bar 100 kPa, cubic foot (0.3048 m)³. Conventional: inch of water
//! 249.0889 Pa (water at 4 °C, 1000 kg/m³ x 9.80665 m/s² x 0.0254 m = 249.08891 Pa), inch of mercury 3386.389 Pa, millimetre
//! of mercury 133.3224 Pa, pound-force per square inch 6894.757 Pa.
//! Assumption that can be false: a gauge marked inH2O may have been made for water at 60 °F (248.84 Pa, 0.1 % less).

use crate::kind::Kind;

#[derive(Debug)]
pub(super) struct Row {
    pub(super) symbol: &'static str,
    pub(super) kind: Kind,
    pub(super) scale: f64,
    pub(super) offset: f64,
    pub(super) names: &'static [&'static str],
    /// The first letter must be written as here: m and M differ by a factor of a thousand million.
    pub(super) strict: bool,
}

const fn row(symbol: &'static str, kind: Kind, scale: f64, names: &'static [&'static str]) -> Row {
    Row { symbol, kind, scale, offset: 0.0, names, strict: false }
}

const fn strict(symbol: &'static str, kind: Kind, scale: f64, names: &'static [&'static str]) -> Row {
    Row { symbol, kind, scale, offset: 0.0, names, strict: true }
}

const fn shifted(symbol: &'static str, scale: f64, offset: f64, names: &'static [&'static str]) -> Row {
    Row { symbol, kind: Kind::Temperature, scale, offset, names, strict: false }
}

const INCH: f64 = 0.0254;
const FOOT: f64 = 0.3048;
const LITRE: f64 = 1e-3;
const CUBIC_INCH: f64 = INCH * INCH * INCH;

/// Names are compared without spaces, dots and degree signs and without regard to capitals (see `strict`).
pub(super) static ROWS: [Row; 47] = [
    row("inHg", Kind::Pressure, 3386.389, &["inhg", "\"hg", "inchhg", "incheshg", "inchesofmercury", "inmercury"]),
    row(
        "inH2O",
        Kind::Pressure,
        249.089,
        &["inh2o", "\"h2o", "inchh2o", "inchesh2o", "inchesofwater", "inwater", "inwc", "\"wc", "iwc"],
    ),
    row("kPa", Kind::Pressure, 1e3, &["kpa", "kilopascal"]),
    row("Pa", Kind::Pressure, 1.0, &["pa", "pascal"]),
    row("hPa", Kind::Pressure, 100.0, &["hpa"]),
    strict("mbar", Kind::Pressure, 100.0, &["mbar", "millibar", "mb"]),
    row("bar", Kind::Pressure, 1e5, &["bar"]),
    row("psi", Kind::Pressure, 6894.757, &["psi", "lbf/in2", "lb/in2"]),
    strict("mmHg", Kind::Pressure, 133.3224, &["mmhg", "torr"]),
    strict("mmH2O", Kind::Pressure, 9.80665, &["mmh2o", "mmwc"]),
    row(
        "L/min",
        Kind::Flow,
        LITRE / 60.0,
        &["l/min", "lpm", "litre/min", "liter/min", "litres/min", "liters/min", "lmin"],
    ),
    row("cc/min", Kind::Flow, 1e-6 / 60.0, &["cc/min", "ccm", "cm3/min", "cm³/min", "ml/min", "ccpm"]),
    row("L/h", Kind::Flow, LITRE / 3600.0, &["l/h", "lph", "l/hr"]),
    row("scfh", Kind::Flow, FOOT * FOOT * FOOT / 3600.0, &["scfh", "cfh", "ft3/h", "ft3/hr"]),
    row("ohm", Kind::Resistance, 1.0, &["ohm", "ohms", "ω", "r"]),
    row("kohm", Kind::Resistance, 1e3, &["kohm", "kohms", "kω", "kiloohm", "k"]),
    strict("Mohm", Kind::Resistance, 1e6, &["Mohm", "Mohms", "Mω", "Megohm", "Megohms"]),
    row("V", Kind::Voltage, 1.0, &["v", "volt", "volts", "vdc"]),
    strict("mV", Kind::Voltage, 1e-3, &["mv", "millivolt", "millivolts"]),
    row("A", Kind::Current, 1.0, &["a", "amp", "amps", "ampere", "amperes"]),
    strict("mA", Kind::Current, 1e-3, &["ma", "milliamp", "milliamps"]),
    row("W", Kind::Power, 1.0, &["w", "watt", "watts"]),
    shifted("C", 1.0, 273.15, &["c", "degc", "celsius", "degreesc"]),
    shifted("F", 5.0 / 9.0, 459.67 * 5.0 / 9.0, &["f", "degf", "fahrenheit", "degreesf"]),
    shifted("K", 1.0, 0.0, &["k", "kelvin"]),
    row("K", Kind::Warming, 1.0, &["k", "kelvin", "c", "degc", "celsius", "degreesc"]),
    row("F", Kind::Warming, 5.0 / 9.0, &["f", "degf", "fahrenheit", "degreesf"]),
    row("s", Kind::Time, 1.0, &["s", "sec", "secs", "second", "seconds"]),
    row("min", Kind::Time, 60.0, &["min", "mins", "minute", "minutes"]),
    row("h", Kind::Time, 3600.0, &["h", "hr", "hrs", "hour", "hours"]),
    row("in", Kind::Length, INCH, &["in", "\"", "inch", "inches"]),
    strict("mm", Kind::Length, 1e-3, &["mm", "millimetre", "millimeter"]),
    row("cm", Kind::Length, 1e-2, &["cm"]),
    row("thou", Kind::Length, INCH / 1e3, &["thou", "mil"]),
    row("ft", Kind::Height, FOOT, &["ft", "feet", "foot", "'"]),
    strict("m", Kind::Height, 1.0, &["m", "metre", "metres", "meter", "meters"]),
    row("km", Kind::Height, 1e3, &["km"]),
    row("L", Kind::Volume, LITRE, &["l", "litre", "litres", "liter", "liters"]),
    row("mL", Kind::Volume, 1e-6, &["ml", "cc", "cm3", "cm³"]),
    row("gal", Kind::Volume, 231.0 * CUBIC_INCH, &["gal", "gals", "gallon", "gallons", "usgal", "galus"]),
    row("m3", Kind::Volume, 1.0, &["m3", "m³"]),
    row("g", Kind::Mass, 1e-3, &["g", "gram", "grams", "gramme"]),
    row("kg", Kind::Mass, 1.0, &["kg", "kilogram"]),
    row("lb", Kind::Mass, 0.453_592_37, &["lb", "lbs", "pound", "pounds"]),
    row("oz", Kind::Mass, 0.453_592_37 / 16.0, &["oz", "ounce", "ounces"]),
    row("%", Kind::Share, 0.01, &["%", "percent", "pct"]),
    row("m3/s", Kind::Flow, 1.0, &["m3/s", "m³/s"]),
];

impl Row {
    /// Whether a text without spaces, dots and degree signs names this unit.
    pub(super) fn is_called(&self, plain: &str) -> bool {
        let small = plain.to_lowercase();
        self.names.iter().any(|name| name.to_lowercase() == small)
            && !(self.strict && plain.chars().next() != self.symbol.chars().next() && plain.to_lowercase() != "torr")
    }
}
