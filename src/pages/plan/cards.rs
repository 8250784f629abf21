//! The steps of a plan as the page describes them: cautions first, then tools, what is done, what good and bad look like,
//! and the fields for what was found. In print they are put on sheets by how high they are.

use super::PlanPage;
use super::data::Card;
use super::numbers::NumberForm;
use crate::metrics::Font;
use crate::poster::WIDE;
use knowledge::base::Reading;
use knowledge::procedure::{self, Procedure};
use maud::{Markup, html};
use screens::proof::CLEARING;
use screens::text::{harmless, minutes};
use std::collections::BTreeMap;

/// The steps on their sheets.
pub struct Sheets {
    /// All of them; those that the drawing has come first.
    pub markup: Markup,
    /// Sheets of A4 that they take in print.
    pub printed: usize,
}

/// Room for steps on a sheet, in pixels: 273 mm less a reserve for what browsers set differently.
const ROOM: f64 = 990.0;

/// What a re-test asks for before it, which is no caution of a single test or repair.
const CLEARED: &str = "clearing-codes";

/// A caution as a card names it.
#[derive(Clone)]
struct Caution {
    id: String,
    name: String,
    text: String,
}

impl Caution {
    fn clearing() -> Self {
        Self { id: CLEARED.into(), name: "Clearing codes for the re-test".into(), text: CLEARING.into() }
    }
}

/// Puts the cautions in full and then the steps, which name them, on sheets. A step itself has its cautions first; its
/// page's script puts the full words there when they come for the first time on a way.
pub fn sheets(page: &PlanPage<'_>, cards: &[(Card, bool)]) -> Sheets {
    let told: Vec<Told<'_>> = cards.iter().map(|(card, _)| Told::of(page, card)).collect();
    let mut full: BTreeMap<&str, (&Caution, bool)> = BTreeMap::new();
    for (t, (_, drawn)) in told.iter().zip(cards) {
        for c in &t.cautions {
            full.entry(&c.id).or_insert((c, false)).1 |= *drawn;
        }
    }
    // Height, markup, and whether it is printed.
    let mut items: Vec<(f64, Markup, bool)> = Vec::new();
    let heading = html! { h2 class="full-caution" { "The cautions in full" } };
    items.push((40.0, heading, true));
    for (c, drawn) in full.into_values() {
        let markup = html! {
            p class=(if drawn { "full-caution" } else { "full-caution rare" }) id=(format!("caution-{}", c.id)) { (harmless(&c.text)) }
        };
        items.push((4.0 + 16.0 * lines(TEXT, &c.text, WIDE), markup, drawn));
    }
    for (i, (t, (_, drawn))) in told.iter().zip(cards).enumerate() {
        // A step that is longer than a sheet is set closer; one that is still longer goes on, on a sheet of its own.
        let (loose, dense) = (t.high(LOOSE), t.high(DENSE));
        let (high, class) = match (loose <= ROOM, dense <= ROOM) {
            (true, _) => (loose, "card"),
            (false, true) => (dense, "card dense"),
            (false, false) => (2.0 * ROOM, "card dense parted"),
        };
        items.push((high, t.markup(page, i, class, *drawn), *drawn));
    }
    let mut sheets: Vec<(f64, Vec<Markup>)> = Vec::new();
    let mut rare = Vec::new();
    for (high, markup, printed) in items {
        match sheets.last_mut() {
            _ if !printed => rare.push(markup),
            Some((used, list)) if *used + high <= ROOM => {
                *used += high;
                list.push(markup);
            }
            _ => sheets.push((high, vec![markup])),
        }
    }
    let printed = sheets.iter().map(|(used, _)| if *used > ROOM { 2 } else { 1 }).sum();
    let last = sheets.len();
    let markup = html! {
        @for (i, (_, list)) in sheets.iter().enumerate() {
            div class=(if i + 1 == last { "sheet last" } else { "sheet" }) { @for card in list { (card) } }
        }
        @for card in &rare { (card) }
    };
    Sheets { markup, printed }
}

/// Text in print with the height of its lines, in pixels: as a rule, and where a step would not fit a sheet.
const LOOSE: (Font, f64) = (TEXT, 16.0);
const DENSE: (Font, f64) = (Font::plain(10.0), 13.0);
const TEXT: Font = Font::plain(12.0);

/// Lines that words take.
fn lines(font: Font, words: &str, room: f64) -> f64 {
    f64::from(u32::try_from(font.wrap(&harmless(words), room).len()).unwrap_or(u32::MAX))
}

/// A step in words.
struct Told<'b> {
    title: String,
    facts: Vec<String>,
    cautions: Vec<Caution>,
    steps: Vec<String>,
    readings: Vec<(usize, &'b Reading)>,
    afterwards: Vec<String>,
}

impl<'b> Told<'b> {
    fn of(page: &PlanPage<'b>, card: &Card) -> Self {
        let (base, problem) = (page.screen.base, &page.screen.posed.problem);
        match card {
            Card::Test(t) => {
                let step = &problem.tests[*t];
                let Some(test) = base.test(&step.id) else { return Self::plain(&step.id, Vec::new()) };
                let done = procedure::of_test(base, test, page.vehicle());
                let tools: Vec<String> =
                    test.tools.iter().map(|t| base.tool(t).map_or_else(|| t.clone(), |t| t.name.clone())).collect();
                let tools = if tools.is_empty() { "none".to_owned() } else { tools.join(", ") };
                let setups = done.setups.iter().flat_map(|s| s.entry.does.iter().map(|step| s.say(step)));
                let readings = step.readings.iter();
                Self {
                    title: test.name.clone(),
                    facts: vec![minutes(test.minutes.get()), format!("Tools: {tools}"), test.id.clone()],
                    cautions: cautions(&done),
                    steps: setups.chain(done.steps.iter().map(|s| (*s).to_owned())).collect(),
                    readings: readings.filter_map(|&r| Some((r, base.reading(&problem.readings[r].id)?.1))).collect(),
                    afterwards: done.afterwards.clone(),
                }
            }
            Card::Repair(r) => {
                let id = &problem.repairs[*r].id;
                let Some((_, repair)) = base.repair(id) else { return Self::plain(id, Vec::new()) };
                let done = procedure::of_repair(base, repair, page.vehicle());
                let mut cautions = cautions(&done);
                cautions.push(Caution::clearing());
                Self {
                    title: repair.does.clone(),
                    facts: vec![minutes(repair.minutes.get()), id.clone()],
                    cautions,
                    steps: done.in_order(),
                    readings: Vec::new(),
                    afterwards: Vec::new(),
                }
            }
            Card::Verify => {
                Self::plain("Clear any codes and re-test: it may be gone already", vec![Caution::clearing()])
            }
            Card::HandOn => Self::plain("Hand the vehicle on with the cause unknown", Vec::new()),
        }
    }

    fn plain(title: &str, cautions: Vec<Caution>) -> Self {
        Self {
            title: title.to_owned(),
            facts: Vec::new(),
            cautions,
            steps: Vec::new(),
            readings: Vec::new(),
            afterwards: Vec::new(),
        }
    }

    fn markup(&self, page: &PlanPage<'_>, at: usize, class: &str, drawn: bool) -> Markup {
        html! {
            section id=(format!("card-{at}")) class=(if drawn { class.to_owned() } else { format!("{class} rare") }) {
                h2 tabindex="-1" { (harmless(&self.title)) }
                @if !self.facts.is_empty() { p class="quiet" { (harmless(&self.facts.join(". "))) } }
                @if !self.cautions.is_empty() {
                    div class="cautions" {
                        h3 { "Caution" }
                        ul { @for c in &self.cautions { li data-caution=(c.id) { span class="name" { (harmless(&c.name)) } span class="full" {} } } }
                        button type="button" class="in-full walk-only no-print" { "These in full" }
                    }
                }
                @if !self.steps.is_empty() { ol { @for s in &self.steps { li { (harmless(s)) } } } }
                @if !self.readings.is_empty() {
                    h3 class="look" { "What to look at" }
                    dl { @for (_, r) in &self.readings {
                        dt { (harmless(&r.name)) }
                        dd { (good(r)) } dd { (bad(r)) }
                        @if let Some(b) = &r.between { dd { "In between: " (harmless(b)) } }
                    } }
                    (fields(page, &self.readings))
                }
                @if !self.afterwards.is_empty() {
                    h3 { "Afterwards, unless the next step needs it as it is" }
                    ul { @for s in &self.afterwards { li { (harmless(s)) } } }
                }
            }
        }
    }

    /// How high it stands in print, in pixels, by the widths of a font that is wider than what browsers take; the
    /// heights of lines and the margins are those of `page.css`.
    fn high(&self, (font, lead): (Font, f64)) -> f64 {
        let list =
            |words: &[String], room: f64| words.iter().map(|w| lead * lines(font, w, room) + 2.0).sum::<f64>() + 4.0;
        let mut high = 16.0 + 18.0 * lines(Font::bold(14.0), &self.title, WIDE);
        if !self.facts.is_empty() {
            high += 4.0 + lead * lines(font, &self.facts.join(". "), WIDE);
        }
        if !self.cautions.is_empty() {
            let names: Vec<&str> = self.cautions.iter().map(|c| c.name.as_str()).collect();
            high += 16.0 + 16.0 + lead * lines(font, &names.join(" ··· "), WIDE - 44.0);
        }
        if !self.steps.is_empty() {
            high += list(&self.steps, WIDE - 23.0);
        }
        for (_, r) in &self.readings {
            high += 3.0 + lead * lines(Font::bold(font.size), &r.name, WIDE);
            let told = [good(r), bad(r)].into_iter().chain(r.between.as_ref().map(|b| format!("In between: {b}")));
            high += told.map(|w| lead * lines(font, &w, WIDE)).sum::<f64>();
        }
        if !self.readings.is_empty() {
            high += 28.0;
        }
        if !self.afterwards.is_empty() {
            high += 24.0 + list(&self.afterwards, WIDE - 23.0);
        }
        high
    }
}

fn good(r: &Reading) -> String {
    format!("Good: {}", harmless(&r.normal))
}

fn bad(r: &Reading) -> String {
    format!("Bad: {}", harmless(&r.abnormal))
}

fn cautions(done: &Procedure<'_>) -> Vec<Caution> {
    done.cautions
        .iter()
        .map(|c| {
            let (name, text) = (&c.entry.name, &c.entry.text);
            let told = text.to_lowercase().starts_with(&name.to_lowercase());
            let full = if told { text.clone() } else { format!("{name}: {text}") };
            Caution { id: c.entry.id.clone(), name: c.say(name), text: c.say(&full) }
        })
        .collect()
}

/// Fields for what was found, where the outcomes that the plan names are not all that can be said.
fn fields(page: &PlanPage<'_>, readings: &[(usize, &Reading)]) -> Markup {
    let model = |r: usize| &page.screen.posed.problem.readings[r].id;
    let number = |r: &Reading| r.measure.as_ref().and_then(NumberForm::of);
    if let [(_, only)] = readings
        && only.levels.len() == 2
        && only.measure.is_none()
    {
        return html! {};
    }
    let asks = readings.iter().any(|(_, r)| r.measure.is_some());
    html! {
        details class="ask walk-only no-print" open[asks] {
            summary { @if asks { "A number, or each by itself" } @else { "Each by itself" } }
            @for (at, r) in readings {
                fieldset data-reading=(at) {
                    legend { (harmless(&r.name)) }
                    @if let Some(form) = number(r) { (number_fields(*at, &form)) }
                    div class="levels" {
                        @for (l, level) in r.levels.iter().enumerate() {
                            label { input type="radio" name=(format!("r{at}")) value=(l); span { (harmless(level)) } }
                        }
                        label { input type="radio" name=(format!("r{at}")) value="" checked; span { "not looked at, or it told nothing" } }
                    }
                    span hidden { (model(*at)) }
                }
            }
            p class="said" role="alert" {}
            div class="row" { button type="button" class="answer" { "Go on with these answers" } }
        }
    }
}

fn number_fields(at: usize, form: &NumberForm) -> Markup {
    html! {
        div class="number" {
            label { span class="small" { (harmless(&form.what)) }
                input type="text" inputmode="decimal" autocomplete="off" name=(format!("n{at}")); }
            label { span class="small" { "unit" }
                select name=(format!("u{at}")) { @for (symbol, ..) in &form.units { option { (symbol) } } } }
            label { span class="small" { "the gauge showed" }
                select name=(format!("k{at}")) {
                    option value="exact" { "this number" }
                    option value="above" { "more: its end" }
                    option value="below" { "less" }
                } }
            @if let Some((what, unit)) = form.under {
                label { span class="small" { (what) ", in " (unit) }
                    input type="text" inputmode="decimal" autocomplete="off" name=(format!("a{at}")); }
            }
        }
    }
}
