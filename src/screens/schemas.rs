//! What the JSON shapes mean, as JSON Schema (draft 2020-12): one file a shape, printed by `faultodds schema` and held to
//! what the program prints by `tests/schemas.rs`.

/// A shape by its short name, and its schema.
pub type Schema = (&'static str, &'static str);

macro_rules! schemas {
    ($($name:literal)*) => { &[$(($name, include_str!(concat!("schemas/", $name, ".json")))),*] };
}

/// All of them, by name.
pub const ALL: &[Schema] = schemas![
    "car" "counts" "diff" "entry" "gauge" "job" "job-list" "job-show" "kb-kinds" "list" "mapping" "network" "next"
    "overlay" "past" "past-import" "past-report" "past-words" "plan" "problems" "quote" "rank" "review" "score" "search"
    "search-past" "tune" "worth"
];

/// The one of that name: `next`, or as it stands in an answer, `faultodds.next/2`.
#[must_use]
pub fn named(name: &str) -> Option<Schema> {
    let name = name.trim();
    ALL.iter().find(|(short, text)| *short == name || title(text) == Some(name)).copied()
}

/// Name and number of the shape.
#[must_use]
pub fn title(schema: &str) -> Option<&str> {
    field(schema, "title")
}

/// What it is, as far as the first sentence goes.
#[must_use]
pub fn about(schema: &str) -> Option<&str> {
    let said = field(schema, "description")?;
    Some(said.find(". ").map_or(said, |end| &said[..end]).trim_end_matches('.'))
}

/// A text at the head of a schema. The files are this crate's own and set alike, a field a line (`tests/schemas.rs`), so
/// that a name need not cost reading them all.
fn field<'s>(schema: &'s str, name: &str) -> Option<&'s str> {
    let line = schema.lines().find_map(|l| l.strip_prefix("  \"")?.strip_prefix(name)?.strip_prefix("\": \""))?;
    line.strip_suffix("\",")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_schema_tells_its_name_and_what_it_is() {
        for (name, text) in ALL {
            let title = title(text).unwrap();
            assert!(title.starts_with(&format!("faultodds.{name}/")), "{title}");
            assert!(about(text).is_some_and(|a| a.len() > 20 && !a.contains('\\')), "{name}");
            assert_eq!(named(title), named(name));
        }
        assert!(ALL.windows(2).all(|w| w[0].0 < w[1].0));
        assert!(named("").is_none());
    }
}
