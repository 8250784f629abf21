//! A validator for the part of JSON Schema that `src/screens/schemas` uses. A keyword that it does not know fails, so that no
//! schema says what is not held. Tests nothing.

use serde_json::{Map, Value};

/// Keywords that only tell.
const TELLING: [&str; 4] = ["$schema", "$defs", "title", "description"];

/// Everything about the value that the schema does not allow, each with its place.
pub fn faults(root: &Value, value: &Value) -> Vec<String> {
    let mut out = Vec::new();
    check(root, root, value, "", &mut out);
    out
}

fn check(root: &Value, schema: &Value, value: &Value, at: &str, out: &mut Vec<String>) {
    let rules = match schema {
        Value::Bool(true) => return,
        Value::Object(rules) => rules,
        _ => return out.push(format!("{at}: nothing may stand here")),
    };
    for (keyword, rule) in rules {
        let mut fault = |holds: bool| {
            if !holds {
                out.push(format!("{at}: {keyword} {} does not hold for {}", short(rule), short(value)));
            }
        };
        match keyword.as_str() {
            "type" => fault(of_type(rule, value)),
            "const" => fault(same(rule, value)),
            "enum" => fault(list(rule).iter().any(|word| word == value)),
            "minimum" => fault(value.as_f64().is_none_or(|v| v >= number(rule))),
            "maximum" => fault(value.as_f64().is_none_or(|v| v <= number(rule))),
            "minLength" => fault(value.as_str().is_none_or(|v| v.chars().count() as f64 >= number(rule))),
            "minItems" => fault(value.as_array().is_none_or(|v| v.len() as f64 >= number(rule))),
            "maxItems" => fault(value.as_array().is_none_or(|v| v.len() as f64 <= number(rule))),
            "required" => {
                for name in list(rule).iter().filter_map(Value::as_str) {
                    if value.as_object().is_some_and(|v| !v.contains_key(name)) {
                        out.push(format!("{at}: `{name}` is missing"));
                    }
                }
            }
            "properties" => {
                for (name, part) in value.as_object().into_iter().flatten() {
                    if let Some(schema) = rule.get(name) {
                        check(root, schema, part, &format!("{at}/{name}"), out);
                    }
                }
            }
            "additionalProperties" => {
                let named = |name: &String| rules.get("properties").is_some_and(|p| p.get(name).is_some());
                for (name, part) in value.as_object().into_iter().flatten().filter(|(name, _)| !named(name)) {
                    check(root, rule, part, &format!("{at}/{name}"), out);
                }
            }
            "prefixItems" => {
                for (i, (part, schema)) in value.as_array().into_iter().flatten().zip(list(rule)).enumerate() {
                    check(root, schema, part, &format!("{at}/{i}"), out);
                }
            }
            "items" => {
                let first = rules.get("prefixItems").map_or(0, |p| list(p).len());
                for (i, part) in value.as_array().into_iter().flatten().enumerate().skip(first) {
                    check(root, rule, part, &format!("{at}/{i}"), out);
                }
            }
            "$ref" => check(root, referred(root, rule), value, at, out),
            "anyOf" | "oneOf" => {
                let tried: Vec<Vec<String>> = list(rule)
                    .iter()
                    .map(|way| {
                        let mut out = Vec::new();
                        check(root, way, value, at, &mut out);
                        out
                    })
                    .collect();
                let fit = tried.iter().filter(|t| t.is_empty()).count();
                if fit == 0 || (keyword == "oneOf" && fit > 1) {
                    out.push(format!("{at}: {fit} of {} ways of {keyword} fit", tried.len()));
                    out.extend(tried.into_iter().min_by_key(Vec::len).unwrap_or_default());
                }
            }
            telling => assert!(TELLING.contains(&telling), "{at}: the keyword `{telling}` is not known here"),
        }
    }
}

/// What `#/$defs/NAME` names.
pub fn referred<'s>(root: &'s Value, rule: &Value) -> &'s Value {
    let pointer = rule.as_str().and_then(|r| r.strip_prefix('#')).expect("a reference within the schema");
    root.pointer(pointer).unwrap_or_else(|| panic!("{rule} leads nowhere"))
}

fn of_type(rule: &Value, value: &Value) -> bool {
    let one = |word: &Value| match word.as_str().expect("a type is a word") {
        "null" => value.is_null(),
        "boolean" => value.is_boolean(),
        "string" => value.is_string(),
        "array" => value.is_array(),
        "object" => value.is_object(),
        "number" => value.is_number(),
        "integer" => value.as_f64().is_some_and(|v| v.fract() == 0.0),
        other => panic!("the type `{other}` is not known here"),
    };
    rule.as_array().map_or_else(|| one(rule), |words| words.iter().any(one))
}

/// Numbers are the same however they are written.
fn same(rule: &Value, value: &Value) -> bool {
    rule == value || rule.as_f64().is_some_and(|r| value.as_f64() == Some(r))
}

fn list(rule: &Value) -> &[Value] {
    rule.as_array().expect("this keyword takes a list")
}

fn number(rule: &Value) -> f64 {
    rule.as_f64().expect("this keyword takes a number")
}

fn short(value: &Value) -> String {
    value.to_string().chars().take(100).collect()
}

/// Every object of the schema that describes an object, with its place.
pub fn records<'s>(schema: &'s Value, at: &str, out: &mut Vec<(String, &'s Map<String, Value>)>) {
    match schema {
        Value::Object(rules) => {
            if rules.get("type").is_some_and(|t| t == "object") {
                out.push((at.to_owned(), rules));
            }
            for (name, part) in rules {
                records(part, &format!("{at}/{name}"), out);
            }
        }
        Value::Array(parts) => parts.iter().enumerate().for_each(|(i, p)| records(p, &format!("{at}/{i}"), out)),
        _ => {}
    }
}
