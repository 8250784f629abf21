//! Reading YAML into a tree with positions. The only module that names the YAML library; it knows nothing of what entries
//! mean. The library fills this one type, so that what it has to offer is compiled once and not for every field of a record.

use serde::de::{Deserialize, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_yaml::Spanned as Found;
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

/// A value and where it stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Spanned<T> {
    /// The value.
    pub value: T,
    /// Where it begins.
    pub place: Place,
}

/// Where a value stands.
pub fn place<T>(value: &Spanned<T>) -> Place {
    value.place
}

/// A value of the text, and what hangs under it.
pub type Node = Spanned<Value>;

/// What a value is by its spelling alone.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// Nothing, `~` or `null`.
    Nothing,
    /// `true` or `false`, and how it is written.
    Flag(bool, String),
    /// A number, and how it is written: `1.0` may be meant as a name.
    Number(f64, String),
    /// A text.
    Text(String),
    /// A list.
    List(Vec<Node>),
    /// Keys and values in their order; a key may stand twice.
    Fields(Vec<(Spanned<String>, Node)>),
}

impl Value {
    /// What a message calls it.
    #[must_use]
    pub fn called(&self) -> &'static str {
        match self {
            Self::Nothing => "nothing",
            Self::Flag(..) => "true or false",
            Self::Number(..) => "a number",
            Self::Text(_) => "a text",
            Self::List(_) => "a list",
            Self::Fields(_) => "a record",
        }
    }
}

/// What was wrong with the text, apart from its meaning.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fault {
    /// A field that the record does not have.
    UnknownField {
        /// The field as written.
        field: String,
        /// The fields there are.
        expected: Vec<&'static str>,
    },
    /// A field that the record must have.
    MissingField {
        /// What the record is called.
        record: &'static str,
        /// The field.
        field: &'static str,
        /// What it means.
        meaning: &'static str,
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

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnknownField { field, expected } => {
                write!(f, "there is no field `{field}`; the fields are {}", expected.join(", "))
            }
            Self::MissingField { record, field, .. } => write!(f, "this {record} has no `{field}`"),
            Self::DuplicateKey { key } => write!(f, "`{key}` stands twice"),
            Self::WrongShape { message } | Self::Syntax { message } => f.write_str(message),
            Self::Alias => f.write_str("anchors and aliases are not used here"),
        }
    }
}

/// One fault and where it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct YamlError {
    /// What.
    pub fault: Fault,
    /// Where.
    pub place: Place,
}

/// Reads the text into a tree of at most so many values. Fields that stand twice are left for the reader of the record, who
/// can tell all of them.
///
/// # Errors
/// The first thing that is no YAML, or that is not used in files of this program.
pub fn tree(text: &str, nodes: usize) -> Result<Node, YamlError> {
    let options = serde_yaml::options! {
        merge_keys: serde_yaml::options::MergeKeyPolicy::Error,
        duplicate_keys: serde_yaml::options::DuplicateKeyPolicy::PassThrough,
        non_finite_float_policy: serde_yaml::options::NonFiniteFloatPolicy::PassThrough,
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
    match serde_yaml::from_str_with_options::<Found<Bare>>(text, options) {
        Ok(found) => Ok(node(found, text)),
        Err(error) => Err(to_error(&error)),
    }
}

/// A value as the library hands it over, before it is known how it was written.
enum Bare {
    Nothing,
    Flag(bool),
    Number(f64),
    Text(String),
    List(Vec<Found<Bare>>),
    Fields(Vec<(Found<String>, Found<Bare>)>),
}

fn node(found: Found<Bare>, text: &str) -> Node {
    let written = || {
        let span = found.referenced.span();
        let at = |n: Option<u64>| n.and_then(|n| usize::try_from(n).ok());
        let range = at(span.byte_offset()).zip(at(span.byte_len())).map(|(from, length)| from..from + length);
        range.and_then(|r| text.get(r)).unwrap_or_default().trim().to_owned()
    };
    let value = match found.value {
        Bare::Nothing => Value::Nothing,
        Bare::Flag(is) => Value::Flag(is, written()),
        Bare::Number(is) => Value::Number(is, written()),
        Bare::Text(is) => Value::Text(is),
        Bare::List(items) => Value::List(items.into_iter().map(|item| node(item, text)).collect()),
        Bare::Fields(fields) => {
            let spanned = |key: Found<String>| Spanned { place: to_place(key.referenced), value: key.value };
            Value::Fields(fields.into_iter().map(|(key, value)| (spanned(key), node(value, text))).collect())
        }
    };
    Spanned { value, place: to_place(found.referenced) }
}

fn to_place(location: serde_yaml::Location) -> Place {
    let cut = |n: u64| u32::try_from(n).unwrap_or(u32::MAX);
    Place { line: cut(location.line()), column: cut(location.column()) }
}

impl<'de> Deserialize<'de> for Bare {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(BareVisitor)
    }
}

struct BareVisitor;

impl<'de> Visitor<'de> for BareVisitor {
    type Value = Bare;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a value")
    }
    fn visit_bool<E: Error>(self, v: bool) -> Result<Bare, E> {
        Ok(Bare::Flag(v))
    }
    fn visit_f64<E: Error>(self, v: f64) -> Result<Bare, E> {
        Ok(Bare::Number(v))
    }
    // Whole numbers in the base are small; a huge one loses digits here and is refused by its limit.
    #[expect(clippy::cast_precision_loss, reason = "limits are checked afterwards")]
    fn visit_i64<E: Error>(self, v: i64) -> Result<Bare, E> {
        Ok(Bare::Number(v as f64))
    }
    #[expect(clippy::cast_precision_loss, reason = "limits are checked afterwards")]
    fn visit_u64<E: Error>(self, v: u64) -> Result<Bare, E> {
        Ok(Bare::Number(v as f64))
    }
    fn visit_str<E: Error>(self, v: &str) -> Result<Bare, E> {
        Ok(Bare::Text(v.to_owned()))
    }
    fn visit_string<E: Error>(self, v: String) -> Result<Bare, E> {
        Ok(Bare::Text(v))
    }
    fn visit_unit<E: Error>(self) -> Result<Bare, E> {
        Ok(Bare::Nothing)
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Bare, A::Error> {
        let mut items = Vec::new();
        while let Some(item) = seq.next_element()? {
            items.push(item);
        }
        Ok(Bare::List(items))
    }
    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Bare, A::Error> {
        let mut fields = Vec::new();
        while let Some(field) = map.next_entry()? {
            fields.push(field);
        }
        Ok(Bare::Fields(fields))
    }
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
        // A key that is no text; values are taken as they are.
        E::Unexpected { .. } | E::NullIntoString { .. } => Fault::WrongShape { message: message() },
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

#[cfg(test)]
mod tests {
    use super::*;

    fn fields(text: &str) -> Vec<(Spanned<String>, Node)> {
        match tree(text, 100).unwrap().value {
            Value::Fields(fields) => fields,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn spelling_and_place_are_kept() {
        for start in ["", "\u{feff}", "# ä\n"] {
            let text = format!("{start}a: 1.0 # one\n2: {{é: TRUE, c: [0x1F, -3e2, .inf]}}\n");
            let fields = fields(&text);
            let line = 1 + u32::from(start.starts_with('#'));
            assert_eq!(fields[0].1.value, Value::Number(1.0, "1.0".to_owned()));
            assert_eq!(fields[0].1.place, Place { line, column: 4 }, "{text}");
            assert_eq!((fields[1].0.value.as_str(), fields[1].0.place.line), ("2", line + 1));
            let Value::Fields(inner) = &fields[1].1.value else { panic!("{fields:?}") };
            assert_eq!(inner[0].1.value, Value::Flag(true, "TRUE".to_owned()));
            let Value::List(list) = &inner[1].1.value else { panic!("{inner:?}") };
            let written = |n: &Node| match &n.value {
                Value::Number(is, written) => (*is, written.clone()),
                other => panic!("{other:?}"),
            };
            assert_eq!(written(&list[0]), (31.0, "0x1F".to_owned()));
            assert_eq!(written(&list[1]), (-300.0, "-3e2".to_owned()));
            assert_eq!(written(&list[2]), (f64::INFINITY, ".inf".to_owned()));
        }
    }

    #[test]
    fn anchors_and_merges_are_refused() {
        for text in ["a: &x 1\nb: *x\n", "<<: {a: 1}\n", "a: &x 1\n", "a: [&x 1]\n", "a: {<<: {b: 1}}\n"] {
            let e = tree(text, 100).unwrap_err();
            assert_eq!(e.fault, Fault::Alias, "{text} {e:?}");
        }
    }

    #[test]
    fn what_is_too_deep_or_too_long_is_refused() {
        for text in
            ["[".repeat(13) + &"]".repeat(13), format!("[{}]", "1, ".repeat(101)), "a: 1\n---\nb: 2\n".to_owned()]
        {
            assert!(matches!(tree(&text, 100).unwrap_err().fault, Fault::Syntax { .. }), "{text}");
        }
    }
}
