//! The report of a job: one sheet of A4 for the customer in plain words, and on request the workshop's record behind it.

use super::metrics::Font;
use super::poster::WIDE;
use super::shell::{Page, said};
use jiff::ZonedDateTime;
use jobs::{Job, Standing, Status};
use knowledge::Base;
use maud::{Markup, html};
use planning::Shop;
use screens::job_words::{car_words, day};
use screens::sheet;
use screens::text::{cut_words, harmless, minutes, percent};
use screens::workshop::{self, Story};

/// What a report is made of.
#[derive(Debug)]
pub struct ReportPage<'a> {
    /// The job.
    pub job: &'a Job,
    /// Where it stands.
    pub standing: &'a Standing,
    /// The base.
    pub base: &'a Base,
    /// The shop's rates; nothing where they are only an example, which no customer should read.
    pub shop: Option<&'a Shop>,
    /// How the job went, for the workshop's record; nothing where it is not wanted.
    pub story: Option<&'a Story>,
    /// Now.
    pub now: &'a ZonedDateTime,
}

/// A part of the page.
#[derive(Clone, Debug)]
struct Part {
    heading: &'static str,
    lines: Vec<Line>,
}

/// A line, and in small print below it what it means.
#[derive(Clone, Debug)]
struct Line {
    words: String,
    means: Option<String>,
}

/// How tightly a page is set in print: size and height of a line in pixels, the most columns of a line of text and the
/// most lines of a part. What is left out is said, and stands in the workshop's record.
#[derive(Clone, Copy, Debug)]
struct Fit {
    class: &'static str,
    size: f64,
    lead: f64,
    columns: usize,
    lines: usize,
}

const FITS: [Fit; 5] = [
    Fit { class: "fit-0", size: 13.0, lead: 17.5, columns: 1_000, lines: 40 },
    Fit { class: "fit-1", size: 12.0, lead: 16.0, columns: 600, lines: 30 },
    Fit { class: "fit-2", size: 11.0, lead: 14.5, columns: 400, lines: 16 },
    Fit { class: "fit-3", size: 10.0, lead: 13.0, columns: 240, lines: 10 },
    Fit { class: "fit-3", size: 10.0, lead: 13.0, columns: 110, lines: 5 },
];

/// Height of a sheet within its margins, less a reserve, in pixels.
const HIGH: f64 = 1000.0;
/// Columns of a reference or a car on the page.
const FACT: usize = 160;

impl ReportPage<'_> {
    /// The page.
    #[must_use]
    pub fn html(&self) -> String {
        let title = format!("Job {}: what was done", self.job.number);
        Page { title: &title, body: self.body(), data: None, script: None }.render()
    }

    fn body(&self) -> Markup {
        let parts = self.parts();
        let (fit, parts) = fitted(self, &parts);
        html! {
            main {
              div class=(format!("report {}", fit.class)) {
                h1 { "What was done on the car" }
                dl class="head" { @for (name, words) in self.facts() { div { dt { (name) } dd { (said(&words)) } } } }
                @for part in &parts {
                    section {
                        h2 { (part.heading) }
                        ul { @for line in &part.lines {
                            li { (said(&line.words)) @if let Some(m) = &line.means { br; span class="quiet small" { (said(m)) } } }
                        } }
                    }
                }
                p class="quiet small" { "Written by faultodds from the workshop's record." }
              }
              @if let Some(story) = self.story { (self.record(story)) }
            }
        }
    }

    fn facts(&self) -> Vec<(&'static str, String)> {
        let facts =
            [("Job", self.days()), ("Reference", self.job.reference.clone().unwrap_or_default()), ("Car", self.car())];
        let kept = facts.into_iter().filter(|f| !f.1.is_empty());
        kept.map(|(name, words)| (name, cut_words(&words, FACT))).collect()
    }

    /// The number with the day on which it was opened, and those on which it was closed and the car came back.
    fn days(&self) -> String {
        let job = self.job;
        let opened = day(job.opened_at(), self.now);
        let mut words = format!("{}, {opened}", job.number);
        if let Status::Closed { at, .. } = &job.status
            && day(*at, self.now) != opened
        {
            words += &format!(", closed {}", day(*at, self.now));
        }
        match job.visits.len() {
            0 | 1 => words,
            2 => words + ", the car came back once",
            n => words + &format!(", the car came back {} times", n - 1),
        }
    }

    /// The car as its owner knows it; what the workshop has to know of its equipment stands in the record.
    fn car(&self) -> String {
        let car = &self.job.car;
        let mut words = vec![car.line()];
        words.extend(car.age.map(|a| format!("{a} years old")));
        words.extend(car.mileage_km.map(|m| format!("{m:.0} km")));
        words.extend(car.vin.as_ref().map(|v| format!("VIN {v}")));
        words.retain(|w| !w.is_empty());
        if words.is_empty() { car_words(self.job) } else { words.join(", ") }
    }

    fn parts(&self) -> Vec<Part> {
        let (job, base) = (self.job, self.base);
        let looked = sheet::looked(job, base);
        let plain = |lines: Vec<String>| lines.into_iter().map(|words| Line { words, means: None }).collect::<Vec<_>>();
        let mut found: Vec<Line> =
            looked.wrong.into_iter().map(|w| Line { words: w.words, means: w.meaning }).collect();
        if !looked.fine.is_empty() {
            found.push(Line { words: format!("In order: {}", looked.fine.join("; ")), means: None });
        }
        let mut sure = sheet::cause(job, self.standing, base);
        sure.extend(sheet::gone(self.standing));
        let proved = if self.standing.epoch() > 0 { sheet::proved(job, base) } else { Vec::new() };
        let parts = [
            ("What the car reported", plain(sheet::reported(job, base))),
            ("What was found", found),
            ("What was done", plain(sheet::repairs(job, base))),
            ("How sure this is", plain(sure)),
            ("What it took", plain(self.costs())),
            ("What was proved, and how", plain(proved)),
            ("What to watch", plain(sheet::left(job, self.standing, base))),
        ];
        parts.into_iter().filter(|p| !p.1.is_empty()).map(|(heading, lines)| Part { heading, lines }).collect()
    }

    fn costs(&self) -> Vec<String> {
        let (time, parts) = (self.job.minutes, self.job.cost);
        if time <= 0.0 && parts <= 0.0 {
            return Vec::new();
        }
        let none = sheet::NO_PARTS.replacen('n', "N", 1);
        let Some(shop) = self.shop else {
            let spent =
                if parts > 0.0 { format!("Parts and materials: {parts:.2} in the shop's currency") } else { none };
            return vec![format!("Labour: {}", minutes(time)), spent];
        };
        let (rate, unit) = (shop.labour_rate, harmless(&shop.currency));
        let labour = time * rate / 60.0;
        vec![
            format!("Labour: {} at {rate:.0} {unit} an hour: {labour:.2} {unit}", minutes(time)),
            if parts > 0.0 { format!("Parts and materials: {parts:.2} {unit}") } else { none },
            format!("Together: {:.2} {unit}", labour + parts),
        ]
    }

    /// The workshop's record: every step and figure, and the cautions in full.
    fn record(&self, story: &Story) -> Markup {
        let (job, base) = (self.job, self.base);
        let steps = workshop::steps(job, story, base, self.now);
        let ruled = workshop::ruled_out(job, self.standing, story, base);
        let end = workshop::conclusion(job, self.standing, base);
        html! {
            article class="record" {
                h1 { "The workshop's record, job " (job.number) }
                dl { @for (name, words) in workshop::facts(job, base, self.now) { dt { (name) } dd { (said(&words)) } } }
                h2 { "What the car reported" }
                ul { @for (code, words) in workshop::reported(job, base) { li { @if !code.is_empty() { b { (said(&code)) } " " } (said(&words)) } } }
                h2 { "What was done, in order" }
                @if steps.is_empty() { p { "Nothing yet." } }
                ol { @for step in &steps { li {
                    @for (i, line) in step.lines.iter().enumerate() { @if i > 0 { br; } (said(line)) }
                    br; span class="quiet small" { (said(&step.facts)) }
                } } }
                @if !ruled.is_empty() { h2 { "Ruled out" } p { (said(&ruled.join("; "))) } }
                h2 { "Conclusion" }
                @for line in &end.before { p { (said(line)) } }
                @if !end.likely.is_empty() { ul { @for (name, p) in &end.likely { li { (percent(*p)) "  " (said(name)) } } } }
                @for line in &end.after { p { (said(line)) } }
                h2 { "Cautions and limits" }
                ul { @for line in workshop::cautions(job, base).iter().map(String::as_str).chain(workshop::LIMITS) { li { (said(line)) } } }
            }
        }
    }
}

/// The loosest setting in which the page is one sheet, with what is then shown.
fn fitted(page: &ReportPage<'_>, parts: &[Part]) -> (Fit, Vec<Part>) {
    let mut out = (FITS[0], parts.to_vec());
    for fit in FITS {
        out = (fit, parts.iter().map(|p| shortened(p, fit)).collect());
        if high(page, &out.1, fit) <= HIGH {
            break;
        }
    }
    out
}

fn shortened(part: &Part, fit: Fit) -> Part {
    let short = |words: &str| cut_words(words, fit.columns);
    let mut lines: Vec<Line> = part
        .lines
        .iter()
        .take(fit.lines)
        .map(|l| Line { words: short(&l.words), means: l.means.as_deref().map(short) })
        .collect();
    let more = part.lines.len() - lines.len();
    if more > 0 {
        lines.push(Line { words: format!("And {more} more, in the workshop's record"), means: None });
    }
    Part { heading: part.heading, lines }
}

/// How high the page stands in print, by the widths of a font that is wider than what browsers take. The margins are
/// those of `page.css`.
fn high(page: &ReportPage<'_>, parts: &[Part], fit: Fit) -> f64 {
    let count = |font: Font, words: &str, room: f64| {
        f64::from(u32::try_from(font.wrap(&harmless(words), room).len().max(1)).unwrap_or(u32::MAX))
    };
    let (text, small) = (Font::plain(fit.size), Font::plain(fit.size * 0.9));
    let mut high = 23.0 + 8.0;
    for (_, words) in page.facts() {
        high += fit.lead * count(text, &words, WIDE - 100.0);
    }
    for part in parts {
        high += 12.0 + 18.0 + 6.0;
        for line in &part.lines {
            high += 2.0 + fit.lead * count(text, &line.words, WIDE - 24.0);
            high += line.means.as_ref().map_or(0.0, |m| fit.lead * count(small, m, WIDE - 24.0));
        }
    }
    high + 2.0 * fit.lead
}
