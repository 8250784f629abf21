//! The car of a job as it was described, and what the engine computer froze when the code was stored. A record only:
//! what these words do to the numbers is decided where the network is built.

use knowledge::base::Vehicle;
use serde::{Deserialize, Serialize};

fn is_none<T>(value: &Option<T>) -> bool {
    value.is_none()
}

/// One word stands alone in a record, as it did before a car could have several; more stand in a list.
mod word_or_list {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    #[derive(Deserialize)]
    #[serde(untagged)]
    enum Either {
        Word(String),
        List(Vec<String>),
    }

    pub fn serialize<S: Serializer>(words: &[String], to: S) -> Result<S::Ok, S::Error> {
        match words {
            [one] => one.serialize(to),
            more => more.serialize(to),
        }
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<String>, D::Error> {
        // A record of an earlier form may say that there is none.
        Ok(match Option::<Either>::deserialize(from)? {
            None => Vec::new(),
            Some(Either::Word(word)) => vec![word],
            Some(Either::List(words)) => words,
        })
    }
}

/// What is known of the car; all of it optional. No name of a customer has a place here.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Car {
    /// Make.
    #[serde(skip_serializing_if = "is_none")]
    pub make: Option<String>,
    /// Model.
    #[serde(skip_serializing_if = "is_none")]
    pub model: Option<String>,
    /// Model year.
    #[serde(skip_serializing_if = "is_none")]
    pub year: Option<i32>,
    /// Engine, in the shop's own words.
    #[serde(skip_serializing_if = "is_none")]
    pub engine: Option<String>,
    /// Vehicle identification number, only when given.
    #[serde(skip_serializing_if = "is_none")]
    pub vin: Option<String>,
    /// Age in years.
    #[serde(skip_serializing_if = "is_none")]
    pub age: Option<f64>,
    /// Mileage in km.
    #[serde(skip_serializing_if = "is_none")]
    pub mileage_km: Option<f64>,
    /// Climate words of the base; one is written as a word, several as a list.
    #[serde(rename = "climate", with = "word_or_list", skip_serializing_if = "Vec::is_empty")]
    pub climates: Vec<String>,
    /// Equipment option ids of the base.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub equipment: Vec<String>,
    /// Circumstances that hold, as words of the base.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub circumstances: Vec<String>,
}

impl Car {
    /// The part of it that the base reasons about.
    #[must_use]
    pub fn vehicle(&self) -> Vehicle {
        Vehicle {
            age: self.age,
            mileage_km: self.mileage_km,
            climates: self.climates.clone(),
            equipment: self.equipment.clone(),
            circumstances: self.circumstances.clone(),
        }
    }

    /// Takes over what the base reasons about.
    pub fn set_vehicle(&mut self, vehicle: Vehicle) {
        self.age = vehicle.age;
        self.mileage_km = vehicle.mileage_km;
        self.climates = vehicle.climates;
        self.equipment = vehicle.equipment;
        self.circumstances = vehicle.circumstances;
    }

    /// The car in a few words, to tell it from others: year, make, model and engine, and without a name age, mileage,
    /// equipment and circumstances too; empty when nothing is known.
    #[must_use]
    pub fn short(&self) -> String {
        let named = self.make.is_some() || self.model.is_some();
        let words = [self.line(), if named { String::new() } else { self.described() }];
        words.into_iter().filter(|w| !w.is_empty()).collect::<Vec<_>>().join(", ")
    }

    /// Age, mileage, climate, equipment and circumstances.
    #[must_use]
    pub fn described(&self) -> String {
        let mut words: Vec<String> = Vec::new();
        words.extend(self.age.map(|a| format!("{a} years old")));
        words.extend(self.mileage_km.map(|m| format!("{m:.0} km")));
        words.extend(self.climates.iter().cloned());
        words.extend(self.equipment.iter().cloned());
        words.extend(self.circumstances.iter().cloned());
        words.join(", ")
    }

    /// Year, make, model and engine in one line; empty when none was given.
    #[must_use]
    pub fn line(&self) -> String {
        let year = self.year.map(|y| y.to_string());
        let words = [year, self.make.clone(), self.model.clone(), self.engine.clone()];
        words.into_iter().flatten().collect::<Vec<_>>().join(" ")
    }
}

/// What the engine computer kept of the moment at which it stored a code (freeze frame), in the units named.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Freeze {
    /// The code it belongs to.
    #[serde(skip_serializing_if = "is_none")]
    pub code: Option<String>,
    /// Fuel level in per cent of the tank.
    #[serde(skip_serializing_if = "is_none")]
    pub fuel_percent: Option<f64>,
    /// Outside temperature in °C.
    #[serde(skip_serializing_if = "is_none")]
    pub ambient_c: Option<f64>,
    /// Coolant temperature in °C.
    #[serde(skip_serializing_if = "is_none")]
    pub coolant_c: Option<f64>,
    /// Road speed in km/h.
    #[serde(skip_serializing_if = "is_none")]
    pub speed_kmh: Option<f64>,
    /// When it was set, in the technician's words.
    #[serde(skip_serializing_if = "is_none")]
    pub when: Option<String>,
}

impl Freeze {
    /// Whether nothing was given.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

/// Why a part of a freeze frame cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{given}`: {why}")]
pub struct FreezeError {
    /// As given.
    pub given: String,
    /// Why not.
    pub why: &'static str,
}

/// Reads `fuel=62%`, `ambient=18C` or `64F`, `coolant=21C`, `speed=0km/h` or `0mph`, `code=P0455`, `when=TEXT`.
///
/// # Errors
/// An unknown name, a number that is none, or a missing or unknown unit: no unit is assumed.
pub fn parse_freeze(words: &[String]) -> Result<Freeze, FreezeError> {
    let mut freeze = Freeze::default();
    for word in words {
        let fail = |why| FreezeError { given: word.clone(), why };
        let (name, value) = word.split_once('=').ok_or_else(|| fail("write NAME=VALUE, such as fuel=62%"))?;
        let value = value.trim();
        let number = || {
            let end = value.find(|c: char| !c.is_ascii_digit() && !matches!(c, '.' | '-' | '+')).unwrap_or(value.len());
            let (digits, unit) = value.split_at(end);
            let n: f64 = digits
                .parse()
                .ok()
                .filter(|n: &f64| n.abs() < 2000.0)
                .ok_or_else(|| fail("this is not a usable number"))?;
            Ok::<_, FreezeError>((n, unit.trim().to_lowercase()))
        };
        let temperature = || match number()? {
            (n, unit) if unit == "c" || unit == "°c" => Ok(n),
            (n, unit) if unit == "f" || unit == "°f" => Ok((n - 32.0) / 1.8),
            _ => Err(fail("give the unit, C or F")),
        };
        match name.trim().to_lowercase().as_str() {
            "fuel" => {
                freeze.fuel_percent = Some(match number()? {
                    (n, unit) if unit == "%" && (0.0..=100.0).contains(&n) => n,
                    _ => return Err(fail("give the fuel level in %, between 0 and 100")),
                });
            }
            "ambient" => freeze.ambient_c = Some(temperature()?),
            "coolant" => freeze.coolant_c = Some(temperature()?),
            "speed" => {
                freeze.speed_kmh = Some(match number()? {
                    (n, unit) if n >= 0.0 && matches!(unit.as_str(), "km/h" | "kmh" | "kph") => n,
                    // 1.609344 km in a mile, exact.
                    (n, unit) if n >= 0.0 && unit == "mph" => n * 1.609_344,
                    _ => return Err(fail("give the unit, km/h or mph")),
                });
            }
            "code" => freeze.code = Some(value.to_uppercase()),
            "when" => freeze.when = Some(value.to_owned()),
            _ => return Err(fail("a freeze frame holds fuel, ambient, coolant, speed, code and when")),
        }
    }
    Ok(freeze)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parse(words: &[&str]) -> Result<Freeze, FreezeError> {
        parse_freeze(&words.iter().map(|w| (*w).to_owned()).collect::<Vec<_>>())
    }

    #[test]
    fn units_are_read_and_never_assumed() {
        let f = parse(&["fuel=62%", "ambient=50F", "coolant=21 C", "speed=10mph", "when=second morning"]).unwrap();
        assert_eq!(f.fuel_percent, Some(62.0));
        assert!((f.ambient_c.unwrap() - 10.0).abs() < 1e-12);
        assert_eq!(f.coolant_c, Some(21.0));
        assert!((f.speed_kmh.unwrap() - 16.093_44).abs() < 1e-9);
        assert_eq!(f.when.as_deref(), Some("second morning"));
        for bad in ["fuel=62", "ambient=50", "speed=3", "speed=-3mph", "oil=3bar", "fuel", "fuel=x%", "fuel=101%"] {
            assert!(parse(&[bad]).is_err(), "{bad}");
        }
    }

    #[test]
    fn one_climate_is_written_as_before_and_both_forms_are_read() {
        let of = |text: &str| serde_json::from_str::<Car>(text).unwrap().climates;
        assert_eq!(of(r#"{"climate":"salt"}"#), ["salt"]);
        assert_eq!(of(r#"{"climate":["hot","dusty"]}"#), ["hot", "dusty"]);
        assert!(of(r#"{"climate":null}"#).is_empty() && of("{}").is_empty());
        let written = |words: &[&str]| {
            let climates = words.iter().map(|w| (*w).to_owned()).collect();
            serde_json::to_string(&Car { climates, ..Car::default() }).unwrap()
        };
        assert_eq!(written(&["salt"]), r#"{"climate":"salt"}"#);
        assert_eq!(written(&["hot", "dusty"]), r#"{"climate":["hot","dusty"]}"#);
        assert_eq!(written(&[]), "{}");
    }
}
