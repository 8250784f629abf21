//! The shape of an entry: which fields a record has, what each holds and whether it must be there. One table serves
//! the reader, the "field missing" check and the published JSON Schema.

/// What a field holds.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// Free text.
    Text,
    /// The id of another entry, of the kind named.
    Id(&'static str),
    /// One of these words.
    Words(&'static [&'static str]),
    /// Strictly between 0 and 1.
    Probability,
    /// One probability, or one for each abnormal level.
    Probabilities,
    /// Zero or more, at most this.
    UpTo(f64),
    /// Any number.
    Number,
    /// Yes or no, written `true` or `false`.
    Flag,
    /// A list.
    List(Box<Shape>),
    /// A record with these fields.
    Record(&'static str, Vec<FieldShape>),
}

/// One field of a record.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldShape {
    /// Its key.
    pub key: &'static str,
    /// Whether it must be there.
    pub needed: bool,
    /// What it holds.
    pub shape: Shape,
    /// What it means, in one sentence.
    pub meaning: &'static str,
}

/// A list of the shape.
#[must_use]
pub fn list(of: Shape) -> Shape {
    Shape::List(Box::new(of))
}

/// A record type that can tell its own shape.
pub trait Record {
    /// What it is called in messages ("code", "reading", …).
    const NAME: &'static str;
    /// Its fields in the order in which they are written.
    fn fields() -> Vec<FieldShape>;
    /// Needed fields that are not there.
    fn missing(&self) -> Vec<&'static str>;
    /// The record as a shape.
    fn shape() -> Shape {
        Shape::Record(Self::NAME, Self::fields())
    }
}

/// Declares a record once: the struct that serde fills and the table of its fields.
macro_rules! record {
    ($(#[$doc:meta])* $name:ident $called:literal {
        $( $must:ident $key:ident : $type:ty = $shape:expr, $meaning:literal; )*
    }) => {
        $(#[$doc])*
        #[derive(Clone, Debug, Default, serde::Deserialize)]
        #[serde(default, deny_unknown_fields)]
        pub(super) struct $name {
            $( #[doc = $meaning] pub $key: Option<$crate::yaml::Spanned<$type>>, )*
        }

        impl $crate::shape::Record for $name {
            const NAME: &'static str = $called;
            fn fields() -> Vec<$crate::shape::FieldShape> {
                vec![ $( $crate::shape::FieldShape {
                    key: stringify!($key),
                    needed: record!(@must $must),
                    shape: $shape,
                    meaning: $meaning,
                }, )* ]
            }
            fn missing(&self) -> Vec<&'static str> {
                let mut out = Vec::new();
                $( if record!(@must $must) && self.$key.is_none() { out.push(stringify!($key)); } )*
                out
            }
        }
    };
    (@must need) => { true };
    (@must may) => { false };
}
pub(super) use record;
