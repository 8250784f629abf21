//! Reading YAML with positions. The only module that names the YAML library; it knows nothing of what entries mean.

use serde::Deserialize;
use serde::de::{self, DeserializeOwned, Deserializer, SeqAccess, Visitor};
pub use serde_yaml::Spanned;
use std::fmt;

/// The largest file that is read at all, in bytes: an entry is a few kilobytes.
pub const LARGEST_FILE: usize = 1 << 20;

/// Line and column, both from 1, counted in characters.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Line from 1; 0 when nothing more than the file is known.
    pub line: u32,
    /// Column from 1, in characters.
    pub column: u32,
}

/// What was wrong with the text, apart from its meaning.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fault {
    /// A field that the record does not have, and the ones it has.
    UnknownField {
        /// The field as written.
        field: String,
        /// The fields there are.
        expected: Vec<&'static str>,
    },
    /// A key that stands twice in one record.
    DuplicateKey {
        /// The key.
        key: String,
    },
    /// A value of the wrong shape (a list where a text is wanted, …).
    WrongShape {
        /// What was wrong.
        message: String,
    },
    /// An anchor, alias or merge key: entries must say what they say in place.
    Alias,
    /// The text is not YAML, or breaks a limit of the reader.
    Syntax {
        /// What was wrong.
        message: String,
    },
}

/// One fault and where it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct YamlError {
    /// What.
    pub fault: Fault,
    /// Where.
    pub place: Place,
}

/// Where a value stands.
pub fn place<T>(value: &Spanned<T>) -> Place {
    to_place(value.referenced)
}

fn to_place(location: serde_yaml::Location) -> Place {
    let cut = |n: u64| u32::try_from(n).unwrap_or(u32::MAX);
    Place { line: cut(location.line()), column: cut(location.column()) }
}

/// Reads one record from the text.
///
/// # Errors
/// The first fault the reader meets; [`parse_all`] goes on after those that can be cut out.
pub fn parse<T: DeserializeOwned>(text: &str) -> Result<Spanned<T>, YamlError> {
    parse_with(text, 20_000)
}

/// As [`parse`], for files that hold a list as long as a whole base has numbers.
///
/// # Errors
/// As [`parse`].
pub fn parse_long<T: DeserializeOwned>(text: &str) -> Result<Spanned<T>, YamlError> {
    parse_with(text, 2_000_000)
}

fn parse_with<T: DeserializeOwned>(text: &str, nodes: usize) -> Result<Spanned<T>, YamlError> {
    let options = serde_yaml::options! {
        merge_keys: serde_yaml::options::MergeKeyPolicy::Error,
        strict_booleans: true,
        with_snippet: false,
        budget: serde_yaml::budget! {
            max_aliases: 0,
            max_anchors: 0,
            max_depth: 12,
            max_documents: 1,
            max_nodes: nodes,
        },
    };
    serde_yaml::from_str_with_options::<Spanned<T>>(text, options).map_err(|error| to_error(&error))
}

/// Reads one record and every fault that can be told apart in one pass: a field that is unknown, doubled or of the
/// wrong shape is noted, blanked out with what hangs under it, and the text is read again.
pub fn parse_all<T: DeserializeOwned>(text: &str) -> (Option<Spanned<T>>, Vec<YamlError>) {
    let mut faults = Vec::new();
    let mut text = text.to_owned();
    // Each round removes at least one line, so a record of n lines ends within n rounds; the bound is a seat belt.
    for _ in 0..64 {
        match parse::<T>(&text) {
            Ok(record) => return (Some(record), faults),
            Err(error) => {
                let again = match error.fault {
                    Fault::UnknownField { .. } | Fault::DuplicateKey { .. } | Fault::WrongShape { .. } => {
                        blank_field(&text, error.place.line)
                    }
                    Fault::Alias | Fault::Syntax { .. } => None,
                };
                faults.push(error);
                match again {
                    Some(shorter) => text = shorter,
                    None => return (None, faults),
                }
            }
        }
    }
    (None, faults)
}

/// The text with the field at that line, and the deeper lines under it, emptied; nothing when the line starts a list
/// item, since its fellows would then hang in the air.
fn blank_field(text: &str, line: u32) -> Option<String> {
    let at = usize::try_from(line).ok()?.checked_sub(1)?;
    let lines: Vec<&str> = text.lines().collect();
    let indent = |l: &str| l.len() - l.trim_start().len();
    let first = *lines.get(at)?;
    if first.trim().is_empty() {
        return None;
    }
    let one_line_record = first.trim_start().starts_with("- {") && first.trim_end().ends_with('}');
    if first.trim_start().starts_with("- ") && !one_line_record {
        return None;
    }
    let depth = indent(first);
    let mut out: Vec<&str> = Vec::with_capacity(lines.len());
    let mut inside = false;
    for (i, l) in lines.iter().enumerate() {
        if i == at {
            inside = true;
            out.push("");
        } else if inside && (l.trim().is_empty() || indent(l) > depth) {
            out.push("");
        } else {
            inside = false;
            out.push(l);
        }
    }
    Some(out.join("\n") + "\n")
}

fn to_error(error: &serde_yaml::Error) -> YamlError {
    use serde_yaml::Error as E;
    let error = error.without_snippet();
    let place = error.location().map(to_place).unwrap_or_default();
    let message = || {
        let text = error.to_string();
        text.lines().next().unwrap_or_default().to_owned()
    };
    let fault = match error {
        E::SerdeUnknownField { field, expected, .. } => {
            Fault::UnknownField { field: field.clone(), expected: expected.clone() }
        }
        E::DuplicateMappingKey { key, .. } => Fault::DuplicateKey { key: key.clone().unwrap_or_default() },
        E::SerdeInvalidType { unexpected, expected, .. } | E::SerdeInvalidValue { unexpected, expected, .. } => {
            Fault::WrongShape { message: format!("found {unexpected} where {expected} belongs") }
        }
        E::Unexpected { .. } | E::SerdeInvalidLength { .. } | E::InvalidScalar { .. } | E::NullIntoString { .. } => {
            Fault::WrongShape { message: message() }
        }
        E::MergeKeyNotAllowed { .. } | E::UnknownAnchor { .. } | E::AliasError { .. } => Fault::Alias,
        E::Budget { breach, .. } => {
            let told = format!("{breach:?}");
            if told.contains("Alias") || told.contains("Anchor") {
                Fault::Alias
            } else {
                Fault::Syntax { message: "the text is larger or deeper than any entry may be".to_owned() }
            }
        }
        _ => Fault::Syntax { message: message() },
    };
    YamlError { fault, place }
}

/// A number as written: plain numbers only, since `"0.4"` in quotes is a text and a likely slip.
#[derive(Clone, Debug, PartialEq)]
pub enum Num {
    /// A number.
    Good(f64),
    /// Something else, kept for the message.
    Bad(String),
}

struct NumVisitor;

impl Visitor<'_> for NumVisitor {
    type Value = Num;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a number")
    }
    fn visit_f64<E: de::Error>(self, v: f64) -> Result<Num, E> {
        Ok(Num::Good(v))
    }
    fn visit_i64<E: de::Error>(self, v: i64) -> Result<Num, E> {
        // Whole numbers in the base are small; a huge one loses digits here and is refused by its limit.
        #[expect(clippy::cast_precision_loss, reason = "limits are checked afterwards")]
        Ok(Num::Good(v as f64))
    }
    fn visit_u64<E: de::Error>(self, v: u64) -> Result<Num, E> {
        #[expect(clippy::cast_precision_loss, reason = "limits are checked afterwards")]
        Ok(Num::Good(v as f64))
    }
    fn visit_bool<E: de::Error>(self, v: bool) -> Result<Num, E> {
        Ok(Num::Bad(v.to_string()))
    }
    fn visit_str<E: de::Error>(self, v: &str) -> Result<Num, E> {
        Ok(Num::Bad(format!("\"{v}\"")))
    }
    fn visit_unit<E: de::Error>(self) -> Result<Num, E> {
        Ok(Num::Bad("nothing".to_owned()))
    }
}

impl<'de> Deserialize<'de> for Num {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(NumVisitor)
    }
}

/// One number, or a list of them.
#[derive(Clone, Debug, PartialEq)]
pub struct Nums(pub Vec<Num>);

impl<'de> Deserialize<'de> for Nums {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct NumsVisitor;
        impl<'de> Visitor<'de> for NumsVisitor {
            type Value = Nums;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number or a list of numbers")
            }
            fn visit_f64<E: de::Error>(self, v: f64) -> Result<Nums, E> {
                NumVisitor.visit_f64(v).map(|n| Nums(vec![n]))
            }
            fn visit_i64<E: de::Error>(self, v: i64) -> Result<Nums, E> {
                NumVisitor.visit_i64(v).map(|n| Nums(vec![n]))
            }
            fn visit_u64<E: de::Error>(self, v: u64) -> Result<Nums, E> {
                NumVisitor.visit_u64(v).map(|n| Nums(vec![n]))
            }
            fn visit_bool<E: de::Error>(self, v: bool) -> Result<Nums, E> {
                NumVisitor.visit_bool(v).map(|n| Nums(vec![n]))
            }
            fn visit_str<E: de::Error>(self, v: &str) -> Result<Nums, E> {
                NumVisitor.visit_str(v).map(|n| Nums(vec![n]))
            }
            fn visit_unit<E: de::Error>(self) -> Result<Nums, E> {
                NumVisitor.visit_unit().map(|n| Nums(vec![n]))
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Nums, A::Error> {
                let mut all = Vec::new();
                while let Some(n) = seq.next_element()? {
                    all.push(n);
                }
                Ok(Nums(all))
            }
        }
        deserializer.deserialize_any(NumsVisitor)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Little {
        a: Option<Spanned<Num>>,
        b: Option<Spanned<Nums>>,
    }

    #[test]
    fn a_quoted_number_is_kept_as_a_text() {
        let r = parse::<Little>("a: \"0.4\"\nb: [1, 0.5]\n").unwrap();
        assert_eq!(r.value.a.unwrap().value, Num::Bad("\"0.4\"".to_owned()));
        assert_eq!(r.value.b.unwrap().value, Nums(vec![Num::Good(1.0), Num::Good(0.5)]));
    }

    #[test]
    fn several_faults_in_one_text_are_all_told() {
        let (record, faults) = parse_all::<Little>("a: 1\nc: 2\nd:\n  e: 3\na: 4\nb: 5\n");
        assert!(record.is_some());
        let lines: Vec<u32> = faults.iter().map(|f| f.place.line).collect();
        assert_eq!(lines.len(), 3, "{faults:?}");
        for line in [2, 3, 5] {
            assert!(lines.contains(&line), "{faults:?}");
        }
    }

    #[test]
    fn anchors_and_merges_are_refused() {
        for text in ["a: &x 1\nb: *x\n", "<<: {a: 1}\n", "a: &x 1\n"] {
            let e = parse::<Little>(text).unwrap_err();
            assert_eq!(e.fault, Fault::Alias, "{text} {e:?}");
        }
    }
}
