//! From the tree of a text to the fields of a record: the same few functions for every record, which its declaration calls
//! with a table of its fields. Everything that is wrong is told in one pass, and the rest is read.

use super::yaml::{Fault, Node, Place, Spanned, Value, YamlError, tree};

/// The most faults that are told of one text; after so many it is not the text that was meant.
const MOST_FAULTS: usize = 64;

/// The faults of a text, as they are found.
#[derive(Debug, Default)]
pub struct Told(Vec<YamlError>);

impl Told {
    fn tell(&mut self, place: Place, fault: Fault) {
        if self.0.len() < MOST_FAULTS {
            self.0.push(YamlError { fault, place });
        }
    }

    fn wrong_shape(&mut self, node: &Node, wanted: &str) {
        let message = format!("found {} where {wanted} belongs", node.value.called());
        self.tell(node.place, Fault::WrongShape { message });
    }

    fn items(&mut self, node: Node) -> Option<Vec<Node>> {
        if let Value::List(items) = node.value {
            return Some(items);
        }
        self.wrong_shape(&node, "a list");
        None
    }
}

/// Reads one record and every fault of its text; what could not be read is left out.
pub fn read<T: Written>(text: &str) -> (Option<Spanned<T>>, Vec<YamlError>) {
    read_with(text, 20_000)
}

/// Reads one record that must be right as a whole.
///
/// # Errors
/// Everything that is wrong with the text; at least one fault.
pub fn parse<T: Written>(text: &str) -> Result<T, Vec<YamlError>> {
    whole(read_with(text, 20_000))
}

/// As [`parse`], for files that hold a list as long as a whole base has numbers.
///
/// # Errors
/// As [`parse`].
pub fn parse_long<T: Written>(text: &str) -> Result<T, Vec<YamlError>> {
    whole(read_with(text, 2_000_000))
}

fn read_with<T: Written>(text: &str, nodes: usize) -> (Option<Spanned<T>>, Vec<YamlError>) {
    match tree(text, nodes) {
        Ok(node) => {
            let mut told = Told::default();
            let record = Spanned::read(node, &mut told);
            told.0.sort_by_key(|f| f.place);
            (record, told.0)
        }
        Err(error) => (None, vec![error]),
    }
}

fn whole<T>((record, faults): (Option<Spanned<T>>, Vec<YamlError>)) -> Result<T, Vec<YamlError>> {
    match record {
        Some(record) if faults.is_empty() => Ok(record.value),
        _ => Err(faults),
    }
}

/// A type whose values are written in a text.
pub trait Written: Sized {
    /// The value of the node; nothing, and a fault told, where it is of another shape.
    fn read(node: Node, told: &mut Told) -> Option<Self>;
}

impl Written for String {
    fn read(node: Node, told: &mut Told) -> Option<Self> {
        match node.value {
            Value::Text(text) => Some(text),
            // A name may look like a number (`1.0`) or like an answer (`true`): its letters are what was meant. With a tag
            // before them they are not known.
            Value::Flag(_, written) | Value::Number(_, written) if written.starts_with(is_bare) => Some(written),
            _ => {
                told.wrong_shape(&node, "a text");
                None
            }
        }
    }
}

/// Whether a number or a flag can begin so: nothing that quotes it or says what it is to be taken for.
fn is_bare(first: char) -> bool {
    first.is_ascii_alphanumeric() || "+-.".contains(first)
}

impl Written for bool {
    fn read(node: Node, told: &mut Told) -> Option<Self> {
        match node.value {
            Value::Flag(is, _) => Some(is),
            _ => {
                told.wrong_shape(&node, "true or false");
                None
            }
        }
    }
}

/// A number as written: plain numbers only, since `"0.4"` in quotes is a text and a likely slip.
#[derive(Clone, Debug, PartialEq)]
pub enum Num {
    /// A number.
    Good(f64),
    /// Something else, kept for the message.
    Bad(String),
}

impl Written for Num {
    fn read(node: Node, told: &mut Told) -> Option<Self> {
        match node.value {
            Value::Number(is, _) => Some(Self::Good(is)),
            Value::Text(text) => Some(Self::Bad(format!("\"{text}\""))),
            Value::Flag(is, _) => Some(Self::Bad(is.to_string())),
            Value::Nothing => Some(Self::Bad("nothing".to_owned())),
            Value::List(_) | Value::Fields(_) => {
                told.wrong_shape(&node, "a number");
                None
            }
        }
    }
}

/// One number, or a list of them.
#[derive(Clone, Debug, PartialEq)]
pub struct Nums(pub Vec<Num>);

impl Written for Nums {
    fn read(node: Node, told: &mut Told) -> Option<Self> {
        match node.value {
            Value::List(items) => items.into_iter().map(|item| Num::read(item, told)).collect::<Option<_>>().map(Self),
            _ => Num::read(node, told).map(|n| Self(vec![n])),
        }
    }
}

impl<T: Written> Written for Spanned<T> {
    fn read(node: Node, told: &mut Told) -> Option<Self> {
        let place = node.place;
        let value = T::read(node, told)?;
        Some(Self { value, place })
    }
}

impl<T: Written> Written for Vec<T> {
    fn read(node: Node, told: &mut Told) -> Option<Self> {
        // A plain loop: an adapter would be compiled anew for every type of item.
        let mut all = Self::new();
        for item in told.items(node)? {
            if let Some(item) = T::read(item, told) {
                all.push(item);
            }
        }
        Some(all)
    }
}

/// A place for a field that is still to be read.
pub trait Slot {
    /// Reads the field; the slot stays empty where it cannot be read.
    fn fill(&mut self, node: Node, told: &mut Told);
}

impl<T: Written> Slot for Option<T> {
    fn fill(&mut self, node: Node, told: &mut Told) {
        *self = T::read(node, told);
    }
}

/// What is known of a field before it is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Field {
    /// Its key.
    pub key: &'static str,
    /// Whether it must be there.
    pub needed: bool,
    /// What it means, in one sentence; may be empty.
    pub meaning: &'static str,
}

/// The key of a field whose name in the program is a word of Rust (`r#do`).
#[must_use]
pub const fn plain(name: &'static str) -> &'static str {
    match name.as_bytes() {
        [b'r', b'#', ..] => name.split_at(2).1,
        _ => name,
    }
}

/// Fills the slots of a record with its fields, in the order of its table. A field with nothing behind it counts as not
/// written. False, and a fault told, where the node is no record at all.
pub fn fill(record: &'static str, fields: &[Field], slots: &mut [&mut dyn Slot], node: Node, told: &mut Told) -> bool {
    let Value::Fields(written) = node.value else {
        told.wrong_shape(&node, &format!("a {record} with fields"));
        return false;
    };
    // Keys that stood already, and keys with something behind them.
    let (mut seen, mut given) = (vec![false; fields.len()], vec![false; fields.len()]);
    for (key, value) in written {
        let Some(i) = fields.iter().position(|f| f.key == key.value) else {
            let expected = fields.iter().map(|f| f.key).collect();
            told.tell(key.place, Fault::UnknownField { field: key.value, expected });
            continue;
        };
        if std::mem::replace(&mut seen[i], true) {
            told.tell(key.place, Fault::DuplicateKey { key: key.value });
        } else if value.value != Value::Nothing {
            given[i] = true;
            slots[i].fill(value, told);
        }
    }
    for (field, _) in fields.iter().zip(given).filter(|(f, given)| f.needed && !given) {
        let Field { key, meaning, .. } = *field;
        told.tell(node.place, Fault::MissingField { record, field: key, meaning });
    }
    true
}

/// Declares a record that is read from a text: fields with `need` must be there, those with `may` are optional.
#[macro_export]
macro_rules! written {
    ($(#[$doc:meta])* $name:ident $called:literal { $( $must:ident $key:ident : $type:ty; )* }) => {
        $(#[$doc])*
        #[derive(Debug)]
        struct $name { $( $key: $crate::written!(@type $must $type), )* }

        impl $crate::fields::Written for $name {
            fn read(node: $crate::yaml::Node, told: &mut $crate::fields::Told) -> Option<Self> {
                const FIELDS: &[$crate::fields::Field] = &[ $( $crate::fields::Field {
                    key: $crate::fields::plain(stringify!($key)),
                    needed: $crate::written!(@must $must),
                    meaning: "",
                }, )* ];
                $( let mut $key: Option<$type> = None; )*
                $crate::fields::fill($called, FIELDS, &mut [ $( &mut $key, )* ], node, told);
                Some(Self { $( $key: $crate::written!(@take $must $key), )* })
            }
        }
    };
    (@type need $type:ty) => { $type };
    (@type may $type:ty) => { Option<$type> };
    (@must need) => { true };
    (@must may) => { false };
    (@take need $key:ident) => { $key? };
    (@take may $key:ident) => { $key };
}

#[cfg(test)]
mod tests {
    use super::*;

    written! {
        Little "little one" {
            may a: Spanned<Num>;
            may b: Spanned<Nums>;
            may r#do: Vec<Spanned<String>>;
            may sure: bool;
            may more: Vec<Least>;
        }
    }
    written! { Least "least one" { need name: String; } }

    fn told(text: &str) -> Vec<(u32, u32, String)> {
        let (_, faults) = read::<Little>(text);
        faults.iter().map(|f| (f.place.line, f.place.column, f.fault.to_string())).collect()
    }

    #[test]
    fn a_quoted_number_is_kept_as_a_text() {
        let r = parse::<Little>("a: \"0.4\"\nb: [1, 0.5]\n").unwrap();
        assert_eq!(r.a.unwrap().value, Num::Bad("\"0.4\"".to_owned()));
        assert_eq!(r.b.unwrap().value, Nums(vec![Num::Good(1.0), Num::Good(0.5)]));
    }

    #[test]
    fn a_text_that_looks_like_something_else_keeps_its_letters() {
        let text =
            "do: [1.0, 0x1F, yes, TRUE, 007, \"2\", .5e1, !!str 3.0]\nsure: true\nmore: [{name: 12}, {name: off}]\n";
        let r = parse::<Little>(text).unwrap();
        let letters: Vec<&str> = r.r#do.as_ref().unwrap().iter().map(|t| t.value.as_str()).collect();
        assert_eq!(letters, ["1.0", "0x1F", "yes", "TRUE", "007", "2", ".5e1", "3.0"]);
        assert_eq!(r.sure, Some(true));
        let names: Vec<String> = r.more.unwrap().into_iter().map(|l| l.name).collect();
        assert_eq!(names, ["12", "off"]);
        for tagged in ["do: [!!int \"12\"]", "do: [!!float '1']", "do: [!!bool \"true\"]"] {
            assert_eq!(told(tagged).len(), 1, "{tagged}");
        }
    }

    #[test]
    fn several_faults_in_one_text_are_all_told() {
        let (record, faults) = read::<Little>("a: 1\nc: 2\nd:\n  e: 3\na: 4\nb: 5\n");
        assert_eq!(record.unwrap().value.b.unwrap().value, Nums(vec![Num::Good(5.0)]));
        let lines: Vec<u32> = faults.iter().map(|f| f.place.line).collect();
        assert_eq!(lines, [2, 3, 5], "{faults:?}");
    }

    #[test]
    fn faults_are_told_where_they_stand() {
        let line = |l, c, t: &str| (l, c, t.to_owned());
        assert_eq!(
            told(
                "sure: \"true\"\ndo: none\nb: [1, [2]]\nmore:\n  - name: [x]\n  - name:\n    x: 1\n  - 5\n  - {name: y, name: z}\n"
            ),
            [
                line(1, 7, "found a text where true or false belongs"),
                line(2, 5, "found a text where a list belongs"),
                line(3, 8, "found a list where a number belongs"),
                line(5, 11, "found a list where a text belongs"),
                line(6, 5, "this least one has no `name`"),
                line(7, 5, "there is no field `x`; the fields are name"),
                line(8, 5, "found a number where a least one with fields belongs"),
                line(9, 15, "`name` stands twice"),
            ]
        );
        assert_eq!(told("- 1\n"), [line(1, 1, "found a list where a little one with fields belongs")]);
        assert_eq!(told("do: [a, ~]\n"), [line(1, 9, "found nothing where a text belongs")]);
    }

    #[test]
    fn a_text_full_of_faults_is_given_up() {
        let text: String = (0..9_000).map(|n| format!("x{n}: 1\n")).collect();
        assert_eq!(told(&text).len(), MOST_FAULTS);
    }
}
