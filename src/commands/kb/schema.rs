//! `kb schema`: the JSON Schema of the entries, made from the same table that the reader uses.

use super::super::{Ending, Io, Stop};
use knowledge::entry_shapes;
use knowledge::near::{did_you_mean, near};
use knowledge::shape::Shape;
use screens::failure::Failure;
use serde_json::{Value, json};

pub(super) fn run(kind: Option<&str>, io: &mut Io) -> Result<Ending, Stop> {
    let shapes = entry_shapes();
    let value = match kind {
        None => {
            let any: Vec<Value> = shapes.iter().map(|(k, _)| json!({"$ref": format!("#/$defs/{k}")})).collect();
            let defs: serde_json::Map<String, Value> =
                shapes.iter().map(|(k, s)| ((*k).to_owned(), schema(s))).collect();
            json!({"$schema": DRAFT, "title": "Entry of a faultodds knowledge base", "anyOf": any, "$defs": defs})
        }
        Some(kind) => {
            let Some((name, shape)) = shapes.iter().find(|(k, _)| *k == kind || k.trim_end_matches('s') == kind) else {
                let names: Vec<&str> = shapes.iter().map(|(k, _)| *k).collect();
                let hint = did_you_mean(&near(kind, names.iter().copied(), 2));
                let hint = hint.unwrap_or_else(|| format!("the kinds are {}", names.join(", ")));
                return Err(Failure::new(format!("there is no kind of entry `{kind}`")).hint(hint).into());
            };
            let mut value = schema(shape);
            value["$schema"] = json!(DRAFT);
            value["title"] = json!(format!("Entry of {name} in a faultodds knowledge base"));
            value
        }
    };
    io.show_json(&value)?;
    Ok(Ending::Done)
}

const DRAFT: &str = "https://json-schema.org/draft/2020-12/schema";

/// The shape as JSON Schema.
fn schema(shape: &Shape) -> Value {
    let probability = json!({"type": "number", "exclusiveMinimum": 0, "exclusiveMaximum": 1});
    match shape {
        Shape::Text => json!({"type": "string", "minLength": 1}),
        Shape::Id(of) => json!({"type": "string", "description": format!("id of a {of}")}),
        Shape::Words(words) => json!({"enum": words}),
        Shape::Probability => probability,
        Shape::Probabilities => json!({"oneOf": [probability, {"type": "array", "items": probability}]}),
        Shape::UpTo(most) => json!({"type": "number", "minimum": 0, "maximum": most}),
        Shape::Number => json!({"type": "number"}),
        Shape::Flag => json!({"type": "boolean"}),
        Shape::List(of) => json!({"type": "array", "items": schema(of)}),
        Shape::Record(name, fields) => {
            let properties: serde_json::Map<String, Value> = fields
                .iter()
                .map(|f| {
                    let mut value = schema(&f.shape);
                    value["description"] = json!(f.field.meaning);
                    (f.field.key.to_owned(), value)
                })
                .collect();
            let needed: Vec<&str> = fields.iter().map(|f| f.field).filter(|f| f.needed).map(|f| f.key).collect();
            json!({
                "type": "object", "title": name, "properties": properties, "required": needed,
                "additionalProperties": false,
            })
        }
    }
}
