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
    /// Whether the shop has it; then it is what it saves.
    pub there: bool,
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
    /// Past jobs with a cause, and those of them that a later row names as the job it came back from.
    pub past: (usize, usize),
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
    /// What tools would have saved, and in what: money, or minutes where the shop keeps those small.
    pub tools: &'a [ToolSaves],
    /// See above.
    pub saved_in: &'a str,
    /// Cars that came back.
    pub comebacks: Comebacks,
    /// Of an hour.
    pub rate: f64,
    /// The command that prints all figures of this page, with what it was asked for.
    pub command: &'a str,
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
                    ", " (year.confirmed) " of them with one confirmed cause. The truth lies outside a 90 % interval one time in ten." }
                @if self.example { p class="note" { "An hour is reckoned with " (self.money(self.rate)) ", which is an example: " code { "faultodds shop start" } " begins a file with your own rate." } }
                (self.first_suspect())
                (self.calibration())
                (self.came_back())
                (self.more_than_expected())
                (self.dear())
                (self.hours())
                (self.saved())
                p class="quiet small" { "Made on " (self.day) " by faultodds " (env!("CARGO_PKG_VERSION")) ". This file asks nothing of any network. All figures and intervals in one: "
                    code { (self.command) } }
            }
        }
    }

    fn money(&self, x: f64) -> String {
        format!("{x:.0} {}", harmless(self.currency))
    }

    /// The words of a head of a column with the unit of its numbers.
    fn in_money(&self, words: &str) -> String {
        format!("{words}, {}", harmless(self.currency))
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
        let title = format!("Where the cause stood in the list, share of {} jobs", r.scored);
        let rows: Vec<Vec<String>> =
            bars.iter().map(|b| vec![b.name.clone(), percent(b.share), span(b.interval)]).collect();
        // The drawing shows the numbers too; where there is no room for it the table stands in for it.
        let body = html! {
            p { (r.scored) " later jobs with one confirmed cause, each predicted from its codes before it was learned from. As shipped: with the numbers that come with the program." }
            (bars::figure(&Bars { title, notes: Vec::new(), bars: bars.clone() }))
            div class="unseen pictured" { (table(&["where the cause stood", "share", "90 % interval"], &rows)) }
        };
        part("Was the first suspect right?", &body, self.score)
    }

    fn calibration(&self) -> Markup {
        let Some(r) = self.replayed else { return html! {} };
        let rows = r.calibration[1].iter().map(|b| {
            let (_, low, high) = share(b.happened * count(b.count), count(b.count));
            vec![percent(b.predicted), percent(b.happened), span(Some((low, high))), b.count.to_string()]
        });
        let body = html! {
            p { "Where the odds say one in five, it should be the cause in one of five jobs. The table is for what was learned (in the drawing: tuned); base-rate is the list by how often each fault came before, whatever the codes." }
            div class="pair" {
            figure class="plot" role="img" aria-label="Said against what happened; the same numbers stand in the table below" { (PreEscaped(reliability::svg(&r.calibration))) }
            (table(&["said", "happened", "90 % interval", "times said"], &rows.collect::<Vec<_>>()))
            }
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
            html! {
                p { "In what share of jobs the fault is the cause: as the shipped base expects it, and as learned from this shop's jobs. Those whose whole interval lies above what is expected, the largest gap first." }
                (table(&["fault", "expected", "here", "90 % interval"], &rows))
                @if more.len() > ROWS { p class="quiet" { "And " (more.len() - ROWS) " more, which the command prints too." } }
            }
        };
        part(
            "Seen more than expected",
            &body,
            &format!("{}; counted in jobs: faultodds tune --dry-run --top 20", self.command),
        )
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
                let ends = format!("{:.0} to {:.0}", m.low, m.high);
                Some(vec![self.part_name(&t.part), t.jobs.to_string(), format!("{:.0}", m.mean), ends])
            })
            .collect();
        let body = if rows.is_empty() {
            too_few("jobs of one part with minutes and prices noted")
        } else {
            html! {
                p { "Labour at " (self.money(self.rate)) " an hour and parts, of jobs with minutes and parts noted, the dearest part first." }
                (table(&["part at fault", "jobs", &self.in_money("a job"), "90 % interval"], &rows))
            }
        };
        part("What is dear", &body, self.command)
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
                vec![self.part_name(&t.part), t.timed.to_string(), hours(t.minutes), mean, ends]
            })
            .collect();
        let body = if rows.is_empty() {
            html! { p { "No minutes were noted." } }
        } else {
            html! {
                @if let Some(m) = self.year.minutes_each { p { "A job takes " (minutes(m.mean)) " on average (" (minutes(m.low)) " to " (minutes(m.high)) "); all together took " (hours(self.year.minutes)) ". By part, most time first; jobs with minutes noted." } }
                (table(&["part at fault", "jobs", "in all", "a job", "90 % interval"], &rows))
            }
        };
        part("Where the hours went", &body, self.command)
    }

    fn saved(&self) -> Markup {
        let rows: Vec<Vec<String>> = self
            .tools
            .iter()
            .map(|t| {
                let name = self.base.tool(&t.tool).map_or_else(|| t.tool.clone(), |t| t.name.clone());
                let ends = format!("{:.1} to {:.1}", t.each.low, t.each.high);
                let there = if t.there { ", which you have" } else { "" };
                vec![format!("{name}{there}"), format!("{:.1}", t.each.mean), ends, t.jobs.to_string()]
            })
            .collect();
        let body = if rows.is_empty() {
            too_few("jobs with codes to plan for")
        } else {
            html! {
                p { "What the best plan costs less with the tool than without it, for those of the shop's jobs that have one of its most common sets of codes. The interval is over jobs; that plans are judgement is not in it." }
                (table(&["tool", &format!("saves a job, {}", harmless(self.saved_in)), "90 % interval", "jobs"], &rows))
            }
        };
        let tool = self.tools.first().map_or("TOOL", |t| t.tool.as_str());
        let command = format!("{}; over more of the jobs: faultodds worth {tool} --own-jobs", self.command);
        part("What a tool would have saved", &body, &command)
    }

    fn came_back(&self) -> Markup {
        let c = self.comebacks;
        let told = |of: usize, back: usize| {
            let (mean, low, high) = share(count(back), count(of));
            let words = [percent(mean), span(Some((low, high)))].map(|w| unparted(&w));
            format!("{back} of {of} came back: {}, 90\u{a0}% interval {}.", words[0], words[1])
        };
        let (of, back) = c.past;
        let body = html! {
            @if of > 0 && back > 0 { p { "Past jobs with a cause: " (told(of, back)) " Counted are those that a later row of the spreadsheet names as the job that it came back from." } }
            @else if of > 0 { p { "No row of past jobs names the job that it came back from, so nothing is known of their comebacks." } }
            @if c.closed > 0 { p { "Jobs recorded with " code { "faultodds job" } ": " (told(c.closed, c.back)) } }
            @else { p { "No job recorded with " code { "faultodds job" } " was closed yet." } }
        };
        part("Comebacks", &body, self.command)
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
        let tools: Vec<Value> = self
            .tools
            .iter()
            .map(|t| json!({"tool": t.tool, "there": t.there, "saves": mean(Some(t.each)), "jobs": t.jobs}))
            .collect();
        json!({
            "schema": "faultodds.past-report/1", "jobs": self.year.jobs, "confirmed": self.year.confirmed,
            "days": self.year.days.map(|(a, b)| [a.to_string(), b.to_string()]), "level": LEVEL, "currency": self.currency,
            "rate": self.rate, "example_rate": self.example, "first_suspect": first, "more_than_expected": more, "parts": parts,
            "minutes_each": mean(self.year.minutes_each), "minutes": self.year.minutes, "tools": tools, "tools_unit": self.saved_in,
            "comebacks": {"closed": self.comebacks.closed, "back": self.comebacks.back, "share": ratio(count(self.comebacks.back), count(self.comebacks.closed)),
                "past": {"with_cause": self.comebacks.past.0, "back": self.comebacks.past.1, "share": ratio(count(self.comebacks.past.1), count(self.comebacks.past.0))}},
        })
    }
}

fn count(n: usize) -> f64 {
    f64::from(u32::try_from(n).unwrap_or(u32::MAX))
}

/// A sum of minutes; of many hours the minutes tell nothing.
fn hours(sum: f64) -> String {
    if sum < 600.0 { minutes(sum) } else { format!("{:.0} h", sum / 60.0) }
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

/// A cell that may break only between the ends of an interval.
fn unparted(cell: &str) -> String {
    cell.split(" to ").map(|end| end.replace(' ', "\u{a0}")).collect::<Vec<_>>().join(" to\u{a0}")
}

/// A table: words to the left, numbers to the right.
fn table(head: &[&str], rows: &[Vec<String>]) -> Markup {
    html! {
        div class=(if head.len() > 4 { "wide many" } else { "wide" }) tabindex="0" role="region" aria-label=(head.join(", ")) {
            table {
                thead { tr { @for (i, h) in head.iter().enumerate() { th scope="col" class=[(i > 0).then_some("n")] { (h) } } } }
                tbody { @for row in rows { tr { @for (i, cell) in row.iter().enumerate() {
                    @if i == 0 { th scope="row" { (said(cell)) } } @else { td class="n" { (said(&unparted(cell))) } }
                } } } }
            }
        }
    }
}
