//! The steps of a plan as the page describes them: cautions first, then tools, what is done, what good and bad look like,
//! and the fields for what was found. In print a step stays on one sheet where it fits one; how many sheets that makes is
//! reckoned from how high the steps are.

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
    /// Sheets of A4 that they take in print, about: the browser breaks them, with the font that it has.
    pub printed: usize,
}

/// Room for steps on a sheet, in pixels: 273 mm.
const ROOM: f64 = 1030.0;

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
    let mut flow = Flow { sheets: 1, used: 40.0 };
    let mut list = vec![html! { h2 class="full-caution" { "The cautions in full" } }];
    for (c, drawn) in full.into_values() {
        let class = if drawn { "full-caution" } else { "full-caution rare" };
        list.push(html! { p class=(class) id=(format!("caution-{}", c.id)) { (harmless(&c.text)) } });
        if drawn {
            flow.add(4.0 + 16.0 * lines(TEXT, &c.text, WIDE));
        }
    }
    for (i, (t, (_, drawn))) in told.iter().zip(cards).enumerate() {
        // A step that is longer than a sheet is set closer.
        let (loose, dense) = (t.high(LOOSE), t.high(DENSE));
        let (high, class) = if loose <= ROOM { (loose, "card") } else { (dense, "card dense") };
        list.push(t.markup(page, i, class, *drawn));
        if *drawn {
            flow.add(high);
        }
    }
    Sheets { markup: html! { @for item in &list { (item) } }, printed: flow.sheets }
}

/// How a browser puts what may not be parted on sheets.
struct Flow {
    sheets: usize,
    used: f64,
}

impl Flow {
    fn add(&mut self, high: f64) {
        if self.used + high > ROOM {
            self.sheets += 1;
            self.used = 0.0;
        }
        self.used += high;
        while self.used > ROOM {
            self.sheets += 1;
            self.used -= ROOM;
        }
    }
}

/// Text in print with the height of its lines, in pixels: as a rule, and where a step would not fit a sheet. Sizes are
/// nine tenths of those of `page.css`, by which the measured font is wider than those that browsers take first.
const LOOSE: (Font, f64) = (TEXT, 16.0);
const DENSE: (Font, f64) = (Font::plain(9.45), 13.5);
const TEXT: Font = Font::plain(10.8);
/// Width of one of the two columns of steps and readings in print.
const COLUMN: f64 = (WIDE - 24.0) / 2.0;

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
                // The setups take their own time, which the walk adds.
                let alone = if done.setups.iter().any(|s| s.only_if.is_none()) { " once all is prepared" } else { "" };
                let setups = done.setups.iter().flat_map(|s| s.entry.does.iter().map(|step| s.say(step)));
                let readings = step.readings.iter();
                Self {
                    title: test.name.clone(),
                    facts: vec![
                        format!("{}{alone}", minutes(test.minutes.get())),
                        format!("Tools: {tools}"),
                        format!("In the record: {}", test.id),
                    ],
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
                    facts: vec![minutes(repair.minutes.get()), format!("In the record: {id}")],
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
                    dl { @for (_, r) in &self.readings { div {
                        dt { (harmless(&r.name)) }
                        dd { (good(r)) } dd { (bad(r)) }
                        @if let Some(b) = &r.between { dd { "In between: " (harmless(b)) } }
                    } } }
                    (fields(page, &self.readings))
                }
                @if !self.afterwards.is_empty() {
                    h3 { "Afterwards, unless the next step needs it as it is" }
                    ul { @for s in &self.afterwards { li { (harmless(s)) } } }
                }
            }
        }
    }

    /// How high it stands in print, in pixels, about; the heights of lines and the margins are those of `page.css`.
    fn high(&self, (font, lead): (Font, f64)) -> f64 {
        let list =
            |words: &[String], room: f64| words.iter().map(|w| lead * lines(font, w, room) + 2.0).sum::<f64>() + 4.0;
        let mut high = 16.0 + 18.0 * lines(Font::bold(12.6), &self.title, WIDE);
        if !self.facts.is_empty() {
            high += 4.0 + lead * lines(font, &self.facts.join(". "), WIDE);
        }
        if !self.cautions.is_empty() {
            let names: Vec<&str> = self.cautions.iter().map(|c| c.name.as_str()).collect();
            high += 16.0 + 16.0 + lead * lines(font, &names.join(" ··· "), WIDE - 44.0);
        }
        if !self.steps.is_empty() {
            // Two columns, which are seldom quite even.
            high += list(&self.steps, COLUMN - 23.0) / 2.0 + lead / 2.0;
        }
        let one = |r: &Reading| {
            let told = [good(r), bad(r)].into_iter().chain(r.between.as_ref().map(|b| format!("In between: {b}")));
            let name = lead * lines(Font::bold(font.size), &r.name, COLUMN);
            3.0 + name + told.map(|w| lead * lines(font, &w, COLUMN)).sum::<f64>()
        };
        let each: Vec<f64> = self.readings.iter().map(|(_, r)| one(r)).collect();
        if !each.is_empty() {
            // No reading is parted, so the longer column is at least the longest of them.
            let longest = each.iter().copied().fold(0.0, f64::max);
            high += 28.0 + (each.iter().sum::<f64>() / 2.0).max(longest);
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
            summary { @if asks { "Type a number, or answer each by itself" } @else { "Answer each by itself" } }
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
