//! What every page has around its content: head, style, policy, data and script. Knows nothing of what it shows.

use super::draw::{Theme, colours, shapes};
use base64::{Engine as _, engine::general_purpose::STANDARD};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use screens::text::harmless;
use serde_json::Value;
use sha2::{Digest as _, Sha256};

/// The style of all pages; colours and the shapes of drawings come from `draw`.
const STYLE: &str = include_str!("page.css");

/// A page.
#[derive(Debug)]
pub struct Page<'a> {
    /// Its title.
    pub title: &'a str,
    /// Its content.
    pub body: Markup,
    /// What its script works on.
    pub data: Option<&'a Value>,
    /// Its script, the project's own.
    pub script: Option<&'static str>,
}

impl Page<'_> {
    /// The whole file.
    ///
    /// The policy lets nothing in that is not in the file, and of scripts only the one whose hash it names: a script that
    /// came in with somebody's words would not run even if it were not escaped.
    #[must_use]
    pub fn render(&self) -> String {
        let style = style();
        let script = self.script.map(|s| format!(" script-src '{}';", hash(s))).unwrap_or_default();
        let policy = format!(
            "default-src 'none'; style-src '{}';{script} img-src data:; base-uri 'none'; form-action 'none'",
            hash(&style)
        );
        let page = html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta http-equiv="Content-Security-Policy" content=(policy);
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    meta name="referrer" content="no-referrer";
                    meta name="color-scheme" content="light dark";
                    title { (harmless(self.title)) }
                    // Without it browsers ask whoever serves the page for a picture.
                    link rel="icon" href="data:,";
                    style { (PreEscaped(&style)) }
                }
                body {
                    (self.body)
                    @if let Some(data) = self.data { script type="application/json" id="data" { (PreEscaped(island(data))) } }
                    @if let Some(script) = self.script { script { (PreEscaped(script)) } }
                }
            }
        };
        page.into_string() + "\n"
    }
}

fn style() -> String {
    format!(
        ":root{{{}}}\n@media screen and (prefers-color-scheme:dark){{:root{{{}}}}}\n{}{STYLE}",
        colours(Theme::Light),
        colours(Theme::Dark),
        shapes()
    )
}

/// What a policy calls a piece of the page by.
fn hash(text: &str) -> String {
    format!("sha256-{}", STANDARD.encode(Sha256::digest(text.as_bytes())))
}

/// Data inside a page: JSON that can end no element and begin none.
fn island(data: &Value) -> String {
    let mut out = String::new();
    for c in data.to_string().chars() {
        match c {
            '<' | '>' | '&' | '\u{2028}' | '\u{2029}' => out.push_str(&format!("\\u{:04x}", c as u32)),
            c => out.push(c),
        }
    }
    out
}

/// Words that people wrote: one line, without signs that steer, set apart so that their direction turns nothing else.
#[must_use]
pub fn said(words: &str) -> Markup {
    html! { bdi { (harmless(words)) } }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    const NASTY: &str = "</script><script>alert(1)</script>\u{202e}\u{2028}<!-- & \"'";

    #[test]
    fn nothing_in_the_data_ends_its_element() {
        let text = island(&json!({"words": NASTY}));
        assert!(!text.contains(['<', '>', '&', '\u{2028}']), "{text}");
        let back: Value = serde_json::from_str(&text).unwrap();
        assert_eq!(back["words"], NASTY);
    }

    #[test]
    fn the_policy_names_what_is_in_the_page() {
        let body = html! { p { (said(NASTY)) } };
        let page = Page { title: NASTY, body, data: Some(&json!({"a": NASTY})), script: Some("'use strict'") }.render();
        assert_eq!(page.matches("<script").count(), 2, "{page}");
        assert_eq!(page.matches("</script>").count(), 2);
        assert!(!page.contains('\u{202e}') || page.contains("\\u003c"), "{page}");
        let between = |from: &str, to: &str| page.split_once(from).unwrap().1.split_once(to).unwrap().0.to_owned();
        let policy = between("content=\"default-src", "\"").replace("&apos;", "'");
        assert!(policy.contains(&hash(&between("<style>", "</style>"))) && policy.contains(&hash("'use strict'")));
        assert!(!policy.contains("unsafe") && !policy.contains("http"));
    }
}
