//! The pieces of a written quantity: one spelling of its signs, the number, what a pressure counts from. Units are in `units`.

use crate::error::{GaugeError, shorten};
use crate::quantity::Reference;

const LONGEST: usize = 400;

/// A number and one in its last written place.
///
/// A comma is a decimal comma only where it can be nothing else: `2,5` and `0,125`, but not `1,000`.
pub(crate) fn parse_number(number: &str, whole: &str) -> Result<(f64, f64), GaugeError> {
    let bad = |why: &str| GaugeError::NotANumber { text: shorten(whole), why: why.into() };
    if number.is_empty() {
        return Err(bad("no number stands at the start; write for example `19.3 inHg`"));
    }
    let mut plain = number.to_string();
    if let Some((before, after)) = number.split_once(',') {
        let digits = after.chars().take_while(char::is_ascii_digit).count();
        let before = before.trim_start_matches(['-', '+']);
        let clear =
            !after.contains([',', '.']) && !before.contains('.') && digits > 0 && (digits != 3 || before == "0");
        if !clear {
            return Err(bad("a comma may stand for thousands or for decimals; write `1000` or `1.0`"));
        }
        plain = number.replace(',', ".");
    }
    let value: f64 = plain.parse().map_err(|_| bad("write digits with a point for decimals, as `19.3`"))?;
    if !value.is_finite() {
        return Err(bad("it is larger than any gauge shows"));
    }
    let mantissa = plain.split(['e', 'E']).next().unwrap_or_default();
    let exponent: i32 = plain.split(['e', 'E']).nth(1).and_then(|e| e.parse().ok()).unwrap_or(0);
    let places = mantissa.split_once('.').map_or(0, |(_, decimals)| decimals.len().min(300));
    let step = 10f64.powi(exponent.saturating_sub(i32::try_from(places).unwrap_or(300)));
    Ok((value, step))
}

/// The number at the start and everything after it. An `e` belongs to the number only with digits behind it.
pub(crate) fn split_number(text: &str) -> (&str, &str) {
    let text = text.trim();
    let mut end = 0;
    for (at, c) in text.char_indices() {
        let rest = &text[at + c.len_utf8()..];
        let exponent = matches!(c, 'e' | 'E')
            && end > 0
            && rest.trim_start_matches(['+', '-']).starts_with(|d: char| d.is_ascii_digit())
            && rest.len() - rest.trim_start_matches(['+', '-']).len() <= 1;
        let sign = matches!(c, '+' | '-') && (at == 0 || text[..at].ends_with(['e', 'E']));
        if c.is_ascii_digit() || sign || exponent || matches!(c, '.' | ',') {
            end = at + c.len_utf8();
        } else {
            break;
        }
    }
    text.split_at(end)
}

/// Takes `vac`, `gauge`, `abs` and the forms `psia`, `kPa(g)` off the unit of a pressure.
pub(crate) fn split_reference(unit: &str) -> (String, Reference) {
    let small = unit.trim().to_lowercase();
    let cut = |words: &[&str]| {
        words.iter().find_map(|word| {
            let stem = small.strip_suffix(word)?.trim_end();
            unit.trim().get(..stem.len()).map(|stem| stem.trim_end_matches([',', '(']).trim_end().to_string())
        })
    };
    let words: [(&[&str], Reference); 3] = [
        (&[" absolute", " abs.", " abs", "(absolute)", "(abs)", "(a)"], Reference::Absolute),
        (&[" of vacuum", " vacuum", " vac.", " vac", "(vacuum)", "(vac)", "(v)"], Reference::Vacuum),
        (&[" gauge", " gage", "(gauge)", "(g)"], Reference::Gauge),
    ];
    for (list, reference) in words {
        if let Some(stem) = cut(list) {
            return (stem, reference);
        }
    }
    match small.as_str() {
        "psia" | "inhga" | "kpaa" | "bara" => (unit.trim()[..small.len() - 1].to_string(), Reference::Absolute),
        "psig" | "kpag" | "barg" => (unit.trim()[..small.len() - 1].to_string(), Reference::Gauge),
        _ => (unit.trim().to_string(), Reference::Unstated),
    }
}

/// One spelling of dashes, arrows, quotes and spaces. Refuses texts too long to be a reading.
pub(crate) fn tidy_text(text: &str) -> Result<String, GaugeError> {
    if text.chars().count() > LONGEST {
        return Err(GaugeError::unclear(text, format!("a reading has at most {LONGEST} characters")));
    }
    let text = text
        .replace(['\u{2212}', '\u{2013}', '\u{2012}', '\u{fe63}'], "-")
        .replace(['→', '⇒', '➔', '➜'], " -> ")
        .replace("=>", " -> ")
        .replace('µ', "μ");
    let text: String =
        text.chars().map(|c| if c.is_whitespace() || matches!(c, '\u{202f}' | '\u{2007}') { ' ' } else { c }).collect();
    let text = text.split(' ').filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ");
    if text.is_empty() {
        return Err(GaugeError::unclear("", "nothing is written; write for example `19.3 inHg`"));
    }
    Ok(text)
}
