//! The shape of an entry: which fields a record has, what each holds and whether it must be there. One table serves
//! the reader, the "field missing" check and the published JSON Schema.

use super::fields::Field;

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
    /// Its key, whether it must be there and what it means.
    pub field: Field,
    /// What it holds.
    pub shape: Shape,
}

/// A list of the shape.
#[must_use]
pub fn list(of: Shape) -> Shape {
    Shape::List(Box::new(of))
}

/// Fields with their shapes.
pub(super) fn of_fields(fields: &[Field], shapes: Vec<Shape>) -> Vec<FieldShape> {
    fields.iter().zip(shapes).map(|(field, shape)| FieldShape { field: *field, shape }).collect()
}

/// A record type that can tell its own shape.
pub trait Record {
    /// What it is called in messages ("code", "reading", …).
    const NAME: &'static str;
    /// Its fields in the order in which they are written.
    fn fields() -> Vec<FieldShape>;
    /// The record as a shape.
    fn shape() -> Shape {
        Shape::Record(Self::NAME, Self::fields())
    }
}

/// Declares a record once: the struct that is filled from a text and the table of its fields.
macro_rules! record {
    ($(#[$doc:meta])* $name:ident $called:literal {
        $( $must:ident $key:ident : $type:ty = $shape:expr, $meaning:literal; )*
    }) => {
        $(#[$doc])*
        #[derive(Default)]
        pub(super) struct $name {
            $( #[doc = $meaning] pub $key: Option<$crate::yaml::Spanned<$type>>, )*
        }

        impl $name {
            const FIELDS: &[$crate::fields::Field] = &[ $( $crate::fields::Field {
                key: $crate::fields::plain(stringify!($key)),
                needed: $crate::written!(@must $must),
                meaning: $meaning,
            }, )* ];
        }

        impl $crate::fields::Written for $name {
            fn read(node: $crate::yaml::Node, told: &mut $crate::fields::Told) -> Option<Self> {
                let mut new = Self::default();
                let slots: &mut [&mut dyn $crate::fields::Slot] = &mut [ $( &mut new.$key, )* ];
                $crate::fields::fill($called, Self::FIELDS, slots, node, told).then_some(new)
            }
        }

        impl $crate::shape::Record for $name {
            const NAME: &'static str = $called;
            fn fields() -> Vec<$crate::shape::FieldShape> {
                $crate::shape::of_fields(Self::FIELDS, vec![ $( $shape, )* ])
            }
        }
    };
}
pub(super) use record;
