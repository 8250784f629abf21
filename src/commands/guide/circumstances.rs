//! What is known of the car, the tools and the limit, as typed at a prompt: `9 years, capless, no smoke machine, limit
//! 200`. Also which of it decides most on a job, and which suspects some words mean.

use crate::Stop;
use crate::job_input::merge;
use evidence::parse_vehicle;
use jobs::{Arranged, Car, Job, Standing};
use knowledge::Base;
use knowledge::base::Vehicle;
use screens::failure::Failure;
use search::EntryKind;

/// One thing said.
#[derive(Clone, Debug, PartialEq)]
pub enum Circumstance {
    /// Words about the vehicle, as `parse_vehicle` reads them.
    Car(String),
    /// All tools at hand, by id.
    Tools(Vec<String>),
    /// A tool that is at hand.
    With(String),
    /// A tool that is not.
    Without(String),
    /// What the customer will pay at most; 0 for no limit.
    Limit(f64),
}

/// What a line says, or nothing where a part of it says nothing of the kind: then none of it is taken.
#[must_use]
pub fn circumstances(line: &str, base: &Base) -> Option<Vec<Circumstance>> {
    if let Some(tools) = strip_word(line, &["tools", "tools:"]) {
        if ["none", "no"].contains(&tools.to_lowercase().as_str()) {
            return Some(vec![Circumstance::Tools(Vec::new())]);
        }
        let tools: Option<Vec<String>> = tools.split(',').map(|t| tool_called(t, base)).collect();
        return tools.map(|t| vec![Circumstance::Tools(t)]);
    }
    let pieces: Vec<&str> = line.split([',', ';']).map(str::trim).filter(|p| !p.is_empty()).collect();
    if pieces.is_empty() {
        return None;
    }
    pieces.into_iter().map(|p| one(p, base)).collect()
}

fn one(piece: &str, base: &Base) -> Option<Circumstance> {
    if let Some(tool) = strip_word(piece, &["no", "without"]) {
        if tool.eq_ignore_ascii_case("limit") {
            return Some(Circumstance::Limit(0.0));
        }
        return tool_called(tool, base).map(Circumstance::Without);
    }
    if let Some(tool) = strip_word(piece, &["with", "have", "got"])
        && let Some(tool) = tool_called(tool, base)
    {
        return Some(Circumstance::With(tool));
    }
    if let Some(limit) = strip_word(piece, &["limit"]) {
        let amount: f64 = limit.split_whitespace().next()?.parse().ok()?;
        return (amount.is_finite() && (0.0..=1e6).contains(&amount)).then_some(Circumstance::Limit(amount));
    }
    let words = vehicle_words(piece);
    // The year only bounds what a model year may be; it is read again when it is taken.
    parse_vehicle(std::slice::from_ref(&words), base, 9999 / 4).ok().filter(|v| *v != Vehicle::default())?;
    Some(Circumstance::Car(words))
}

/// The way `parse_vehicle` wants what people type: `age 9` and `9 years old` for `age=9`, `140000 km`.
fn vehicle_words(piece: &str) -> String {
    let small = piece.to_lowercase();
    if let Some(age) = strip_word(&small, &["age"]) {
        return format!("age={age}");
    }
    if let Some(year) = strip_word(&small, &["year"]) {
        return format!("year={year}");
    }
    let mut words = small.split_whitespace();
    match (words.next(), words.next(), words.next(), words.next()) {
        (Some(n), Some("years" | "year" | "y"), None | Some("old"), None) if n.parse::<f64>().is_ok() => {
            format!("age={n}")
        }
        _ => small,
    }
}

/// What stands after one of the words.
fn strip_word<'a>(text: &'a str, words: &[&str]) -> Option<&'a str> {
    let (word, rest) = text.trim().split_once(char::is_whitespace)?;
    let rest = rest.trim();
    (words.iter().any(|w| w.eq_ignore_ascii_case(word)) && !rest.is_empty()).then_some(rest)
}

fn plain(text: &str) -> String {
    text.to_lowercase().replace(['-', '_'], " ").split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The tool of that id or name, or the only one in whose names all the words stand.
#[must_use]
pub fn tool_called(words: &str, base: &Base) -> Option<String> {
    let said = plain(words);
    let said = said.strip_prefix("a ").or_else(|| said.strip_prefix("the ")).unwrap_or(&said);
    if said.is_empty() {
        return None;
    }
    let names = |t: &knowledge::base::Tool| -> Vec<String> {
        [&t.id, &t.name].into_iter().chain(&t.also).map(|n| plain(n)).collect()
    };
    if let Some(tool) = base.tools.iter().find(|t| names(t).iter().any(|n| n == said)) {
        return Some(tool.id.clone());
    }
    // One word of a longer name is not its name: "no way", "no smoke" may mean anything.
    let inside = |name: &String| said.contains(' ') && said.split(' ').all(|w| name.split(' ').any(|n| n == w));
    let mut fits = base.tools.iter().filter(|t| names(t).iter().any(inside));
    let first = fits.next()?;
    fits.next().is_none().then(|| first.id.clone())
}

/// What was said, ready to be stored.
pub struct Taken {
    /// The car as it is now known, if that changes.
    pub car: Option<Car>,
    /// Tools and limit.
    pub arranged: Arranged,
    /// All of it in words.
    pub told: String,
}

impl Taken {
    /// Reads it against what is known of the car.
    ///
    /// # Errors
    /// Two answers to one question.
    pub fn of(said: &[Circumstance], car: &Car, base: &Base, year: i16) -> Result<Self, Stop> {
        let mut words: Vec<String> = Vec::new();
        let mut arranged = Arranged::default();
        let mut told: Vec<String> = Vec::new();
        for one in said {
            match one {
                Circumstance::Car(text) => {
                    words.push(text.clone());
                    told.push(text.replace('=', " "));
                }
                Circumstance::Tools(tools) => {
                    told.push(format!("tools: {}", if tools.is_empty() { "none".into() } else { tools.join(", ") }));
                    arranged.tools = Some(tools.clone());
                }
                Circumstance::With(tool) => {
                    told.push(format!("at hand: {tool}"));
                    arranged.with.push(tool.clone());
                }
                Circumstance::Without(tool) => {
                    told.push(format!("not at hand: {tool}"));
                    arranged.without.push(tool.clone());
                }
                Circumstance::Limit(limit) => {
                    told.push(if *limit > 0.0 { format!("limit {limit}") } else { "no limit".to_owned() });
                    arranged.limit = Some(*limit);
                }
            }
        }
        if let Some(both) = arranged.with.iter().find(|t| arranged.without.contains(t)) {
            return Err(Failure::new(format!("{both} is said to be at hand and not to be")).into());
        }
        let vehicle = parse_vehicle(&words, base, year)?;
        let mut known = car.clone();
        merge(&mut known, vehicle, base);
        Ok(Self { car: (known != *car).then_some(known), arranged, told: told.join("; ") })
    }
}

/// Equipment choices asked for at most; more would be a form to fill in.
const CHOICES: usize = 2;

/// What decides most on this job and is not known: topic, and how it is said. Of the equipment those choices on which
/// the suspects of the complaint and their tests depend, by how much of the probability hangs on them.
#[must_use]
pub fn topics(job: &Job, standing: &Standing, base: &Base) -> Vec<(String, String)> {
    let mut out = Vec::new();
    if job.car.age.is_none() {
        out.push(("age".to_owned(), "such as: 9 years, or year 2017".to_owned()));
    }
    let mut choices: Vec<(f64, &knowledge::base::Equipment)> = Vec::new();
    for choice in &base.equipment {
        if choice.options.iter().any(|o| job.car.equipment.contains(&o.id)) {
            continue;
        }
        let hangs = |requires: &[String]| requires.iter().any(|r| choice.options.iter().any(|o| o.id == *r));
        let mut weight = 0.0;
        for suspect in &standing.complaint {
            let s = &standing.network.suspects[*suspect];
            let own = base.suspect(&s.id).is_some_and(|(_, s)| hangs(&s.requires));
            let tested = base
                .tests
                .iter()
                .any(|t| hangs(&t.requires) && t.readings.iter().any(|r| r.detects.iter().any(|l| l.suspect == s.id)));
            weight += standing.posterior.now[*suspect] * (f64::from(u8::from(own)) + 0.5 * f64::from(u8::from(tested)));
        }
        if weight >= 0.05 {
            choices.push((weight, choice));
        }
    }
    choices.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.id.cmp(&b.1.id)));
    for (_, choice) in choices.into_iter().take(CHOICES) {
        let options: Vec<&str> = choice.options.iter().map(|o| o.id.as_str()).collect();
        out.push(("has".to_owned(), format!("{} ({})", options.join(" or "), choice.name)));
    }
    if job.terms.tools.is_none() && job.terms.without.is_empty() {
        out.push(("tools".to_owned(), "such as: no smoke machine".to_owned()));
    }
    if job.terms.limit.is_none() {
        out.push(("limit".to_owned(), "what the customer will pay at most, such as: limit 200".to_owned()));
    }
    out
}

/// Suspects shown for words.
const SUSPECTS: usize = 5;

/// The suspects that the words may mean, best first: as the search finds them, those of this car only.
///
/// # Errors
/// The search cannot be made.
pub fn suspects_called(words: &str, standing: &Standing, base: &Base) -> Result<Vec<String>, Stop> {
    // A conversation does not know which base it is about; packing it takes less than a person notices.
    let index = search::pack(base).map_err(crate::search::failed)?;
    let finder = crate::search::finder(&index)?;
    let found = finder.search(words, &[EntryKind::Suspect], 20).map_err(crate::search::failed)?;
    let here = |id: &String| standing.network.suspect(id).is_some();
    Ok(found.hits.into_iter().map(|h| h.id).filter(here).take(SUSPECTS).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn circumstances_are_read_as_people_type_them_and_all_or_none() {
        let base = shipped::base().unwrap();
        let said = circumstances("9 years, capless, no smoke machine, limit 200", &base).unwrap();
        assert_eq!(said.len(), 4);
        assert_eq!(said[0], Circumstance::Car("age=9".into()));
        assert_eq!(said[2], Circumstance::Without("smoke-machine".into()));
        assert_eq!(said[3], Circumstance::Limit(200.0));
        assert!(circumstances("140000km", &base).is_some());
        assert!(circumstances("have a multimeter", &base).is_some());
        for line in ["no", "yes", "9", "no way", "capless, hello", "limit", "limit x", "2", "normal", "no smoke"] {
            assert_eq!(circumstances(line, &base), None, "{line}");
        }
    }
}
