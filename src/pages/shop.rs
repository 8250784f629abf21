//! A shop's page: how often the first suspect was right, what is dear, where the hours go. Each figure has its interval
//! and the command that prints it. Computes nothing.

use super::bars::{self, Bar, Bars};
use super::shell::{Page, said};
use knowledge::Base;
use learning::fit::Learned;
use learning::proportion::Beta;
use learning::replay::{Measure, Replayed};
use learning::scores::Mean;
use learning::year::{FEWEST, Took, Year};
use maud::{Markup, PreEscaped, html};
use screens::reliability;
use screens::text::{harmless, minutes, percent};
use serde_json::{Value, json};

/// What a tool would have saved on the shop's jobs.
#[derive(Clone, Debug, PartialEq)]
pub struct ToolSaves {
    /// Tool id.
    pub tool: String,
    /// Saved a job, over the jobs whose codes were planned for.
    pub each: Mean,
    /// How many jobs that is.
    pub jobs: usize,
}

/// Cars that came back, of the jobs that were closed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Comebacks {
    /// Jobs that were closed at least once.
    pub closed: usize,
    /// Of these, taken in again as comebacks.
    pub back: usize,
}

/// The figures of a page.
#[derive(Debug)]
pub struct ShopPage<'a> {
    /// The base.
    pub base: &'a Base,
    /// Hours and money.
    pub year: &'a Year,
    /// Forecasts against what happened; nothing where there are no later jobs to measure on.
    pub replayed: Option<&'a Replayed>,
    /// What was learned.
    pub learned: &'a Learned,
    /// What tools would have saved.
    pub tools: &'a [ToolSaves],
    /// Cars that came back.
    pub comebacks: Comebacks,
    /// Of an hour.
    pub rate: f64,
    /// Name or sign of money.
    pub currency: &'a str,
    /// Whether the rate is an example.
    pub example: bool,
    /// The day.
    pub day: String,
    /// How the replay is printed by `score`.
    pub score: &'a str,
}

/// Rows of a table.
const ROWS: usize = 8;
/// Level of intervals of shares.
const LEVEL: f64 = 0.90;

/// A share with its interval: Jeffreys' (H. Jeffreys 1961; L. Brown, T. Cai, A. DasGupta, Statistical Science 16, 2001).
fn share(hits: f64, of: f64) -> (f64, f64, f64) {
    let (low, high) = Beta { a: hits + 0.5, b: of - hits + 0.5 }.interval(LEVEL);
    (if of > 0.0 { hits / of } else { f64::NAN }, low, high)
}

impl ShopPage<'_> {
    /// The page.
    #[must_use]
    pub fn html(&self) -> String {
        Page { title: "The shop's jobs", body: self.body(), data: None, script: None }.render()
    }

    fn body(&self) -> Markup {
        let year = self.year;
        html! {
            main class="shop" {
                h1 { "The shop's jobs" }
                p { (year.jobs) " closed jobs"
                    @if let Some((first, last)) = year.days { ", " (first.to_string()) " to " (last.to_string()) }
                    ", " (year.confirmed) " of them with one confirmed cause. Intervals hold nine times in ten." }
                @if self.example { p class="note" { "An hour is reckoned with " (self.money(self.rate)) ", which is an example: " code { "faultodds shop start" } " begins a file with your own rate." } }
                (self.first_suspect())
                (self.calibration())
                (self.more_than_expected())
                (self.dear())
                (self.hours())
                (self.saved())
                (self.came_back())
                p class="quiet small" { "Made on " (self.day) " by faultodds " (env!("CARGO_PKG_VERSION")) ". This file asks nothing of any network. All figures in one: "
                    code { "faultodds past report --json" } }
            }
        }
    }

    fn money(&self, x: f64) -> String {
        format!("{x:.0} {}", harmless(self.currency))
    }

    fn first_suspect(&self) -> Markup {
        let Some(r) = self.replayed else {
            return part("Was the first suspect right?", &too_few("later jobs with one confirmed cause"), self.score);
        };
        let bars: Vec<Bar> = [
            (0, Measure::Top1, "first of the list, as shipped"),
            (1, Measure::Top1, "first of the list, with what was learned"),
            (0, Measure::Top3, "among the first three, as shipped"),
            (1, Measure::Top3, "among the first three, with what was learned"),
        ]
        .into_iter()
        .map(|(k, m, name)| {
            let n = count(r.scored);
            let (mean, low, high) = share(r.mean(k, m) * n, n);
            Bar { name: name.to_owned(), share: mean, interval: Some((low, high)) }
        })
        .collect();
        let title = format!("How often the cause was where it should be, on {} jobs", r.scored);
        let notes = vec!["Each job was predicted from its codes before it was learned from.".to_owned()];
        let body = html! { (bars::figure(&Bars { title, notes, bars: bars.clone() })) (table(
            &["where the cause stood", "share", "90 % interval"],
            &bars.iter().map(|b| vec![b.name.clone(), percent(b.share), span(b.interval)]).collect::<Vec<_>>(),
        )) };
        part("Was the first suspect right?", &body, self.score)
    }

    fn calibration(&self) -> Markup {
        let Some(r) = self.replayed else { return html! {} };
        let rows = r.calibration[1].iter().map(|b| {
            let (_, low, high) = share(b.happened * count(b.count), count(b.count));
            vec![percent(b.predicted), percent(b.happened), span(Some((low, high))), b.count.to_string()]
        });
        let body = html! {
            p { "Where the odds say one in five, it should be the cause in one of five jobs." }
            figure class="plot" role="img" aria-label="Said against what happened; the same numbers stand in the table below" { (PreEscaped(reliability::svg(&r.calibration))) }
            (table(&["said", "happened", "90 % interval", "forecasts"], &rows.collect::<Vec<_>>()))
        };
        part("Do the odds hold?", &body, &format!("{} --svg reliability.svg", self.score))
    }

    fn more_than_expected(&self) -> Markup {
        let mut more: Vec<_> = self.learned.shares.iter().filter(|s| s.1 < s.3).collect();
        more.sort_by(|a, b| (b.2 - b.1).total_cmp(&(a.2 - a.1)).then_with(|| a.0.cmp(&b.0)));
        let rows: Vec<Vec<String>> = more
            .iter()
            .take(ROWS)
            .map(|(id, shipped, learned, low, high)| {
                vec![self.base.suspect_name(id), percent(*shipped), percent(*learned), span(Some((*low, *high)))]
            })
            .collect();
        let body = if rows.is_empty() {
            html! { p { "No fault is more frequent here than chance would explain." } }
        } else {
            html! { (table(&["fault", "expected share of jobs", "here", "90 % interval"], &rows)) @if more.len() > ROWS { p class="quiet" { "And " (more.len() - ROWS) " more." } } }
        };
        part("Seen more than expected", &body, "faultodds tune --dry-run --top 20")
    }

    fn part_name(&self, id: &str) -> String {
        self.base.part(id).map_or_else(|| id.to_owned(), |p| p.name.clone())
    }

    fn dear(&self) -> Markup {
        let rows: Vec<Vec<String>> = self
            .year
            .dearest()
            .into_iter()
            .take(ROWS)
            .filter_map(|t| {
                let m = t.money_each?;
                let ends = format!("{} to {}", self.money(m.low), self.money(m.high));
                Some(vec![self.part_name(&t.part), t.jobs.to_string(), self.money(m.mean), ends])
            })
            .collect();
        let body = if rows.is_empty() {
            too_few("jobs of one part with minutes and prices noted")
        } else {
            table(&["part at fault", "jobs", "labour and parts, each", "90 % interval"], &rows)
        };
        part("What is dear", &body, REPORT)
    }

    fn hours(&self) -> Markup {
        let timed: Vec<&Took> = self.year.parts.iter().filter(|t| t.timed > 0).take(ROWS).collect();
        let rows: Vec<Vec<String>> = timed
            .into_iter()
            .map(|t| {
                let each = t.minutes_each.map_or_else(
                    || ["too few".to_owned(), String::new()],
                    |m| [minutes(m.mean), format!("{} to {}", minutes(m.low), minutes(m.high))],
                );
                let [mean, ends] = each;
                vec![self.part_name(&t.part), t.jobs.to_string(), minutes(t.minutes), mean, ends]
            })
            .collect();
        let body = if rows.is_empty() {
            html! { p { "No minutes were noted." } }
        } else {
            html! {
                @if let Some(m) = self.year.minutes_each { p { "A job takes " (minutes(m.mean)) " on average (" (minutes(m.low)) " to " (minutes(m.high)) "); all together took " (minutes(self.year.minutes)) "." } }
                (table(&["part at fault", "jobs", "time in all", "each", "90 % interval"], &rows))
            }
        };
        part("Where the hours went", &body, REPORT)
    }

    fn saved(&self) -> Markup {
        let rows: Vec<Vec<String>> = self
            .tools
            .iter()
            .map(|t| {
                let name = self.base.tool(&t.tool).map_or_else(|| t.tool.clone(), |t| t.name.clone());
                let ends = format!("{} to {}", self.money(t.each.low), self.money(t.each.high));
                vec![name, self.money(t.each.mean), ends, t.jobs.to_string()]
            })
            .collect();
        let body = if rows.is_empty() {
            too_few("jobs with codes to plan for")
        } else {
            html! {
                p { "By plans for those of the shop's own jobs that have one of its most common sets of codes, with the tool and without it. The interval is over jobs; that plans are judgement is not in it." }
                (table(&["tool", "saves a job", "90 % interval", "jobs"], &rows))
            }
        };
        let tool = self.tools.first().map_or("TOOL", |t| t.tool.as_str());
        let command = format!("{REPORT} --tool {tool}; over more of the jobs: faultodds worth {tool} --own-jobs");
        part("What a tool would have saved", &body, &command)
    }

    fn came_back(&self) -> Markup {
        let c = self.comebacks;
        let body = if c.closed == 0 {
            html! { p { "No job recorded with " code { "faultodds job" } " was closed yet; of a spreadsheet's jobs it is not kept which car came back." } }
        } else {
            let (mean, low, high) = share(count(c.back), count(c.closed));
            html! { p { (c.back) " of " (c.closed) " jobs recorded with " code { "faultodds job" } " came back: " (percent(mean)) ", 90 % interval " (span(Some((low, high)))) "." } }
        };
        part("Comebacks", &body, REPORT)
    }

    /// `faultodds.past-report/1`.
    #[must_use]
    pub fn json(&self) -> Value {
        let mean = |m: Option<Mean>| m.map(|m| json!({"mean": m.mean, "low": m.low, "high": m.high}));
        let ratio = |hits: f64, of: f64| {
            let (mean, low, high) = share(hits, of);
            json!({"mean": if of > 0.0 { Some(mean) } else { None }, "low": low, "high": high})
        };
        let first = self.replayed.map(|r| {
            let n = count(r.scored);
            let of = |k: usize, m: Measure| ratio(r.mean(k, m) * n, n);
            json!({
                "jobs": r.scored, "command": self.score,
                "shipped": {"first": of(0, Measure::Top1), "first_three": of(0, Measure::Top3)},
                "tuned": {"first": of(1, Measure::Top1), "first_three": of(1, Measure::Top3)},
                "calibration": r.calibration[1].iter().map(|b| json!({
                    "said": b.predicted, "happened": ratio(b.happened * count(b.count), count(b.count)), "forecasts": b.count,
                })).collect::<Vec<_>>(),
            })
        });
        let parts: Vec<Value> = self.year.parts.iter().map(|t| json!({
            "part": t.part, "jobs": t.jobs, "timed": t.timed, "minutes": t.minutes, "minutes_each": mean(t.minutes_each),
            "money_each": mean(t.money_each),
        })).collect();
        let more = self.learned.shares.iter().filter(|s| s.1 < s.3);
        let more: Vec<Value> = more
            .map(|(id, shipped, learned, low, high)| json!({"suspect": id, "expected": shipped, "mean": learned, "low": low, "high": high}))
            .collect();
        let tools: Vec<Value> =
            self.tools.iter().map(|t| json!({"tool": t.tool, "saves": mean(Some(t.each)), "jobs": t.jobs})).collect();
        json!({
            "schema": "faultodds.past-report/1", "jobs": self.year.jobs, "confirmed": self.year.confirmed,
            "days": self.year.days.map(|(a, b)| [a.to_string(), b.to_string()]), "level": LEVEL, "currency": self.currency,
            "rate": self.rate, "example_rate": self.example, "first_suspect": first, "more_than_expected": more, "parts": parts,
            "minutes_each": mean(self.year.minutes_each), "minutes": self.year.minutes, "tools": tools,
            "comebacks": {"closed": self.comebacks.closed, "back": self.comebacks.back, "share": ratio(count(self.comebacks.back), count(self.comebacks.closed))},
        })
    }
}

/// The command that prints what no other command does.
const REPORT: &str = "faultodds past report --json";

fn count(n: usize) -> f64 {
    f64::from(u32::try_from(n).unwrap_or(u32::MAX))
}

fn span(ends: Option<(f64, f64)>) -> String {
    ends.map_or(String::new(), |(low, high)| format!("{} to {}", percent(low), percent(high)))
}

fn too_few(of: &str) -> Markup {
    html! { p { "There are too few " (of) " to say (at least " (FEWEST) ")." } }
}

/// A part of the page with the command that prints its figures.
fn part(heading: &str, body: &Markup, command: &str) -> Markup {
    html! { section { h2 { (heading) } (body) p class="quiet small" { "Printed by " code { (command) } } } }
}

/// A table: words to the left, numbers to the right.
fn table(head: &[&str], rows: &[Vec<String>]) -> Markup {
    html! {
        div class="wide" tabindex="0" role="region" aria-label=(head.join(", ")) {
            table {
                thead { tr { @for (i, h) in head.iter().enumerate() { th scope="col" class=[(i > 0).then_some("n")] { (h) } } } }
                tbody { @for row in rows { tr { @for (i, cell) in row.iter().enumerate() {
                    @if i == 0 { th scope="row" { (said(cell)) } } @else { td class="n" { (said(cell)) } }
                } } } }
            }
        }
    }
}
