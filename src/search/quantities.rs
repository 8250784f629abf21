//! Whether a query wants something computed, read off the quantities in it: two units of one sort want a conversion, a loss of
//! pressure over a time or a flow wants a hole. Knows units, not entries.

use super::words::Plain;

/// What a unit measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Sort {
    Pressure,
    Length,
    Flow,
    Time,
    Resistance,
    Voltage,
    Temperature,
    Height,
    Power,
}

/// Words that are units, with what they measure. Spellings come from `plain_words`: one English, lower case.
const UNITS: &[(Sort, &str)] = &[
    (
        Sort::Pressure,
        "psi kpa pa pascal pascals kilopascal kilopascals bar bars mbar millibar millibars milibar milibars hpa hectopascal \
         inhg mmhg inh2o mmh2o iwc",
    ),
    (Sort::Length, "mm millimeter millimeters thou thous thousandth thousandths mil mils micron microns"),
    (Sort::Flow, "cc ccm sccm ml lpm cfm liter liters cc/min"),
    (Sort::Time, "minute minutes min mins minit second seconds sec secs"),
    (Sort::Resistance, "ohm ohms kohm kilohm"),
    (Sort::Voltage, "volt volts v mv millivolt millivolts voltage"),
    (Sort::Temperature, "degree degrees celsius fahrenheit centigrade"),
    (Sort::Height, "altitude elevation barometer barometric"),
    (Sort::Power, "watt watts w"),
];

/// What a word measures, a number written together with its unit included (`20c`, `5v`, `2mm`).
fn sort_of(word: &str) -> Option<(Sort, &str)> {
    let bare = word.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.');
    let unit = if bare.is_empty() { word } else { bare };
    if unit != word && matches!(unit, "c" | "f") {
        return Some((Sort::Temperature, unit));
    }
    // A single letter is a unit only behind its number.
    UNITS
        .iter()
        .flat_map(|(sort, all)| all.split(' ').map(move |u| (*sort, u)))
        .find(|(_, u)| *u == unit && (unit.len() > 1 || unit != word))
}

/// Whether something is to be computed.
#[must_use]
pub fn is_calculation(words: &[Plain]) -> bool {
    let texts: Vec<&str> = words.iter().map(|w| w.text.as_str()).collect();
    let has = |list: &[&str]| texts.iter().any(|t| list.contains(t));
    let number = texts.iter().any(|t| t.starts_with(|c: char| c.is_ascii_digit()) || NUMBERS.contains(t));
    let mut units: Vec<(Sort, &str)> = texts.iter().filter_map(|t| sort_of(t)).collect();
    for pair in texts.windows(3) {
        let column = pair[1] == "of" && ["water", "mercury", "suction", "vacuum", "pressure"].contains(&pair[2]);
        // Inches are a pressure where a fluid is named, and a length behind a decimal fraction.
        if matches!(pair[0], "inch" | "inches") && column {
            units.push((Sort::Pressure, pair[2]));
        }
    }
    if texts.windows(2).any(|p| p[0].starts_with("0.0") && matches!(p[1], "in" | "inch" | "inches"))
        || texts.windows(3).any(|p| p[0].starts_with("thousandth") && p[2].starts_with("inch"))
    {
        units.push((Sort::Length, "inch"));
    }
    let of = |sort: Sort| units.iter().any(|(s, _)| *s == sort);
    let two = |sort: Sort| {
        let mut all = units.iter().filter(|(s, _)| *s == sort).map(|(_, u)| u.trim_end_matches('s'));
        let first = all.next();
        first.is_some() && all.any(|u| Some(u) != first)
    };
    let asked = number || has(&["how", "what", "which", "expected", "change"]);
    let inches = has(&["inch", "inches"]);
    let opening = has(&["hole", "leak", "leek", "opening", "orifice", "pinhole", "pinprick", "dia", "diameter"]);
    let falls = has(&["lost", "loses", "loss", "drop", "drops", "dropped", "fell", "falls", "fall", "decay", "bleed"]);
    let hot = has(&["hot", "warm", "cold", "frost", "winter", "temperature", "temp"]);
    // "How much pressure is that" asks for a value; "the pressure sensor" names a part.
    let how_much =
        |thing: &str| texts.windows(3).any(|p| matches!(p[0], "how" | "what" | "which") && p[1..].contains(&thing));
    let vacuum = has(&["vacuum", "vac", "suction", "inhg"]);
    let high = of(Sort::Height)
        || has(&["mountain", "mountains", "hill", "hills", "highveld", "plateau"])
        || number && has(&["feet", "ft", "meter", "meters", "m"]);
    (asked && (two(Sort::Pressure) || two(Sort::Length) || two(Sort::Flow)))
        || (number && falls && (of(Sort::Pressure) || inches) && of(Sort::Time))
        || (opening && number && (of(Sort::Flow) || falls && (of(Sort::Time) || of(Sort::Length))))
        || (of(Sort::Resistance) && (of(Sort::Temperature) || number && hot))
        || (units.iter().filter(|(s, _)| *s == Sort::Temperature).count() > 1)
        || (vacuum && high)
        || (number && of(Sort::Voltage) && (of(Sort::Pressure) || how_much("pressure")))
        || (number && opening && (of(Sort::Length) || of(Sort::Flow)) && of(Sort::Pressure))
        || (of(Sort::Power) && (of(Sort::Resistance) || of(Sort::Voltage)))
}

/// Numbers in words.
const NUMBERS: &[&str] = &[
    "half", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "twelve", "fifteen",
    "twenty", "thirty", "forty", "fifty", "hundred", "thousand",
];

#[cfg(test)]
mod tests {
    use super::super::words::plain_words;
    use super::*;

    #[test]
    fn quantities_that_want_a_computation_are_seen_and_others_are_not() {
        for text in [
            "14 inches of water in psi",
            "bar to kPa, how much",
            "0.020 in to mm",
            "dropped 3 mbar in 4 minutes",
            "250 cc per minute, which hole",
            "28 ohms hot, what is it at 20 degrees",
            "idle vacuum at 1500 metres",
            "2.1 volts from the tank sensor, how many kPa",
            "a 21 watt bulb behind half an ohm",
            "sensor signal is 1.9 volts, what pressure is that",
            "air through a 0.5 mm opening at two kPa",
            "18 inHg at 900 metres",
            "resistance at 20c of 31 ohms at 80c",
        ] {
            assert!(is_calculation(&plain_words(text)), "{text}");
        }
        for text in [
            "how many ohms should a purge valve have",
            "gas pump clicks off after two seconds",
            "12 volts at the plug but no click",
            "how many psi may I put on the tank",
            "P0442 small leak",
            "takes 15 minutes to fill",
            "5 volts at the pressure sensor, how do I go on",
            "suction at the purge valve at idle",
            "only when it is minus ten degrees",
            "used to get 40 to the gallon and now I get 30",
        ] {
            assert!(!is_calculation(&plain_words(text)), "{text}");
        }
    }
}
