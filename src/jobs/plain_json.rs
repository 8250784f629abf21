//! JSON that no terminal can be steered by and no stream that filters control characters can damage.

/// The JSON text with every character that steers a terminal or turns text written as an escape (`\\u009b`).
///
/// JSON itself escapes only what lies below U+0020 (RFC 8259, section 7); of the rest, such characters can stand in
/// strings only, where the escape means the same.
#[must_use]
pub fn escaped(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        let steers = matches!(c,
            '\u{7f}'..='\u{9f}' | '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}');
        if steers {
            out.push_str(&format!("\\u{:04x}", u32::from(c)));
        } else {
            out.push(c);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn it_means_the_same(text in "[\\x00-\\u{a0}\\u{200e}\\u{202a}-\\u{202e}\\u{2066}\\u{feff}a-z👋]*") {
            let json = serde_json::to_string(&text).unwrap();
            let escaped = escaped(&json);
            let steers = escaped.chars().any(|c| c.is_control() || ('\u{202a}'..='\u{202e}').contains(&c));
            prop_assert!(!steers);
            prop_assert_eq!(serde_json::from_str::<String>(&escaped).unwrap(), text);
        }
    }
}
