//! The plan to carry: one page in which the next step follows from what was found, with its cautions first, and which
//! prints as the drawing and the steps. The walk itself is the page's script; what it works on is in `data`.

mod cards;
mod data;
mod numbers;

use super::poster;
use super::shell::{Page, said};
use knowledge::base::Vehicle;
use maud::{Markup, html};
use network::Network;
use screens::plan::PlanScreen;
use screens::text::{harmless, percent};

/// What a page needs beside the plan.
#[derive(Debug)]
pub struct PlanPage<'a> {
    /// The plan, cut as the page shows it.
    pub screen: &'a PlanScreen<'a>,
    /// The same, cut as it is drawn.
    pub drawn: &'a PlanScreen<'a>,
    /// The network of the vehicle.
    pub network: &'a Network,
    /// Whose plan it is, in words.
    pub about: &'a str,
    /// How the record begins: the command that opens the job or names it.
    pub opening: &'a str,
    /// What is recorded when the complaint is still there.
    pub again: &'a str,
    /// The question for what to do next, to which results are added; empty for a job.
    pub next: &'a str,
    /// The day on which it was made.
    pub day: String,
    /// Whether rates and prices are an example.
    pub example: bool,
}

/// Suspects of which the page without its script shows the odds at the start.
const SHOWN: usize = 8;

impl PlanPage<'_> {
    /// The page; nothing when there is nothing to plan.
    #[must_use]
    pub fn html(&self) -> Option<String> {
        let data = data::data(self)?;
        let title = self.title();
        let body = self.body(&data);
        Some(Page { title: &title, body, data: Some(&data.value), script: Some(include_str!("plan.js")) }.render())
    }

    fn title(&self) -> String {
        let codes = self.screen.codes;
        if codes.is_empty() { "Plan".to_owned() } else { format!("Plan for {}", codes.join(" ")) }
    }

    fn vehicle(&self) -> &Vehicle {
        &self.network.vehicle
    }

    fn body(&self, data: &data::Data) -> Markup {
        let poster = self.drawn.drawn();
        let drawing = poster::sheets(&poster);
        let sheets = cards::sheets(self, &data.cards);
        let (drawn, told) = (drawing.len(), sheets.printed);
        html! {
            main {
                header class="no-print" {
                    h1 { (self.title()) }
                    @if !self.about.is_empty() { p { (said(self.about)) } }
                    p { (self.screen.expectation()) }
                    @for note in poster.notes.iter().skip(1).take(poster.notes.len().saturating_sub(2)) { p { (note) } }
                    p { "The vehicle maker's procedure, local rules and licensed practice come before anything on this page." }
                    p class="plain-only note" { "With scripts switched off this page is a list of the steps; the way through them is in the drawing above them." }
                }
                p class="walk-only no-print" {
                    button type="button" id="show" aria-expanded="false" aria-controls="drawing" { "The whole plan as a drawing" }
                }
                section id="drawing" class="drawings" tabindex="0" role="region" aria-label="The plan as a drawing" {
                    @for sheet in &drawing { (sheet) }
                }
                // Stays in reach of a thumb however long the step is.
                nav class="way-bar walk-only no-print" aria-label="Way through the plan" {
                    button type="button" id="back" { "Back" }
                    button type="button" id="jump" { "To the answers" }
                }
                div id="walk" class="walk-only no-print" {
                    p id="where" class="quiet" role="status" {}
                }
                div id="cards" { (sheets.markup) }
                div id="rest" class="no-print" {
                    div id="ask" class="walk-only" {}
                    section aria-labelledby="suspects-title" {
                        h2 id="suspects-title" { "What it may be" }
                        p id="suspects-note" class="quiet small" { "Before the first step." }
                        ul id="suspects" class="bars" {
                            @for (name, p) in data.leaders.iter().take(SHOWN) { li { (said(name)) " " (percent(*p)) } }
                        }
                    }
                    section class="walk-only" aria-labelledby="path-title" {
                        h2 id="path-title" { "The way so far, for the record" }
                        p class="quiet small" { "These lines put it into the job; what stands behind # is a remark." }
                        textarea id="path" readonly aria-labelledby="path-title" {}
                        div class="row" {
                            button type="button" id="copy" { "Copy" }
                            // Far from the buttons of the way, which it would throw away.
                            button type="button" id="again" { "Start again" }
                            span id="copied" role="status" {}
                        }
                    }
                    (self.limits(data, drawn, told))
                }
            }
        }
    }

    fn limits(&self, data: &data::Data, drawn: usize, told: usize) -> Markup {
        let cut = self.screen.cut;
        html! {
            section aria-labelledby="limits-title" {
                h2 id="limits-title" { "How far this plan goes" }
                ul {
                    li { "It follows " (percent(data.followed)) " of such cars to the end of the job; the others leave it at a result that fewer than " (percent(cut.least)) " of cars show, or after " (cut.depth) " steps." }
                    li { "The bars are reckoned over the likeliest sets of faults, which hold " (percent(data.covered)) " of the probability. A cause that the base does not list is counted in." }
                    li { "Off the plan: record what was found, with the lines above, and ask "
                        code { "faultodds next" } ". Whatever was found, the odds here go on by the same likelihoods as there." }
                    li { "The probabilities are judgement about parts and tests in general, not about this very car." }
                    @if self.example { li { "Rates and prices are an example: " code { "faultodds shop start" } " begins a file with your own." } }
                    li { "Printed on A4: the drawing on " (sheets_of(drawn)) ", then the cautions and the steps in it on about " (told) "; about " span id="sheets" { (drawn + told) } " together." }
                    li { "Made on " (harmless(&self.day)) " by faultodds " (env!("CARGO_PKG_VERSION")) ". This file asks nothing of any network." }
                }
            }
        }
    }
}

/// The first sheets that a printer puts out.
fn sheets_of(n: usize) -> String {
    if n == 1 { "sheet 1".to_owned() } else { format!("sheets 1 to {n}") }
}
