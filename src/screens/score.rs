//! Whether learning helped, with how sure that is.

use super::Look;
use super::paint::{HEADING, QUIET, paint};
use super::text::{hanging, left, percent, right};
use learning::replay::{FORECASTS, Measure, Replayed, Spent, TOO_FEW, Verdict};
use learning::scores::Mean;
use serde_json::{Value, json};
use std::fmt::Write as _;

fn words(m: Measure, currency: &str) -> String {
    match m {
        Measure::Log => "log score (lower is better)".to_owned(),
        Measure::Brier => "Brier score (lower is better)".to_owned(),
        Measure::Top1 => "cause ranked first".to_owned(),
        Measure::Top3 => "cause among the first three".to_owned(),
        Measure::Money => format!("cost of the plan, {currency}"),
        Measure::Minutes => "minutes of the plan".to_owned(),
    }
}

fn show(m: Measure, x: f64) -> String {
    match m {
        Measure::Log | Measure::Brier => format!("{x:.3}"),
        Measure::Top1 | Measure::Top3 => percent(x),
        Measure::Money | Measure::Minutes => format!("{x:.0}"),
    }
}

fn show_gain(m: Measure, x: f64) -> String {
    match m {
        Measure::Log | Measure::Brier => format!("{x:+.3}"),
        Measure::Top1 | Measure::Top3 => format!("{:+.1} %", 100.0 * x),
        Measure::Money | Measure::Minutes => format!("{x:+.1}"),
    }
}

/// The comparison as text.
#[must_use]
pub fn text(r: &Replayed, left_out: usize, currency: &str, look: Look) -> String {
    let mut out = String::new();
    hanging(&mut out, "", "", &verdict(r), look.width);
    out.push('\n');
    let dates = r.dates.map_or(String::new(), |(a, b)| format!(" from {a} to {b}"));
    // Writing to a text cannot fail.
    let _ = writeln!(
        out,
        "{}",
        paint(HEADING, format!("{} jobs{dates}, each predicted before it was learned from", r.scored))
    );
    let mut told = format!("learned from {} earlier jobs first", r.learned_from);
    for (n, what) in [
        (r.without_cause, "without one confirmed cause"),
        (r.unknown, "with causes or codes that the base cannot explain"),
        (left_out, "older ones left out"),
    ] {
        if n > 0 {
            let _ = write!(told, "; {n} {what}");
        }
    }
    hanging(&mut out, "", "", &told, look.width);
    if r.scored > 0 {
        let _ = writeln!(out, "\n{}{}", left("", 34), paint(HEADING, FORECASTS.map(|f| right(f, 10)).concat()));
        for (m, _) in r.measures() {
            let cells = [0, 1, 2].map(|k| right(&show(m, r.mean(k, m)), 10)).concat();
            let _ = writeln!(out, "{}{cells}", left(&words(m, currency), 34));
        }
        plans(&mut out, r, look);
        let _ = writeln!(out, "\n{}", paint(HEADING, "gain of tuned, 90 % interval"));
        for (over, name) in [(0, "over shipped"), (2, "over base-rate")] {
            for (m, _) in r.measures() {
                let g = r.gain(1, over, m);
                let clear = match (r.enough(m), g.is_clear()) {
                    (false, _) => "  too few to tell",
                    (true, false) => "  may be chance",
                    (true, true) => "",
                };
                let _ = writeln!(
                    out,
                    "  {}{}  {} to {}{clear}",
                    left(&format!("{name}, {}", short(m)), 32),
                    right(&show_gain(m, g.mean), 9),
                    show_gain(m, g.low),
                    show_gain(m, g.high)
                );
            }
        }
        let _ = writeln!(out, "\n{}", paint(HEADING, "calibration of tuned: said, and what happened"));
        for b in &r.calibration[1] {
            let _ = writeln!(
                out,
                "  {}  {}  {}",
                right(&percent(b.predicted), 7),
                right(&percent(b.happened), 7),
                paint(QUIET, format!("{} forecasts", b.count))
            );
        }
    }
    out
}

/// What stands behind the plans' figures, and what the shop really spent.
fn plans(out: &mut String, r: &Replayed, look: Look) {
    let n = r.plans[0].len();
    if n == 0 {
        return;
    }
    out.push('\n');
    let which = if n < r.scored { format!("{n} of these jobs, taken by lot") } else { format!("all {n} jobs") };
    let told = format!(
        "Plans were made on {which}: each with its own beliefs, then followed on a car with the recorded cause, averaged \
         over what its tests can show; minutes and prices are the shop's, and tests tell as shipped, for all three."
    );
    hanging(out, "", "", &told, look.width);
    if r.spent.is_empty() {
        hanging(out, "", "", "The shop noted no minutes on these jobs.", look.width);
        return;
    }
    let mean = |of: &dyn Fn(&Spent) -> f64| r.spent.iter().map(of).sum::<f64>() / r.spent.len() as f64;
    let over = r.noted_over_plan(1);
    let told = format!(
        "On {} of them the shop noted its minutes: {:.0} on average, where the plans would have taken {:.0} (shipped), \
         {:.0} (tuned) and {:.0} (base-rate). Noted less tuned: {:+.0}, 90 % interval {:+.0} to {:+.0}{}.",
        r.spent.len(),
        mean(&|s| s.noted),
        mean(&|s| s.plans[0]),
        mean(&|s| s.plans[1]),
        mean(&|s| s.plans[2]),
        over.mean,
        over.low,
        over.high,
        match (r.spent.len() >= TOO_FEW, over.is_clear()) {
            (false, _) => ", too few to tell",
            (true, false) => ", may be chance",
            (true, true) => "",
        }
    );
    hanging(out, "", "", &told, look.width);
}

fn short(m: Measure) -> &'static str {
    Measure::ALL.iter().find(|x| x.0 == m).map_or("", |x| x.1)
}

fn verdict(r: &Replayed) -> String {
    match r.verdict() {
        Verdict::Better => "The tuned base is better than the shipped one on jobs it had not seen.".to_owned(),
        Verdict::Worse => {
            "The tuned base is worse than the shipped one on jobs it had not seen: do not use it.".to_owned()
        }
        Verdict::NotShown => {
            "The jobs do not show that the tuned base is better: the difference can as well be chance.".to_owned()
        }
        Verdict::TooFew => {
            format!("Too few jobs to tell: {} could be scored, and fewer than {TOO_FEW} say nothing.", r.scored)
        }
    }
}

/// The comparison as JSON.
#[must_use]
pub fn json(r: &Replayed, left_out: usize, currency: &str) -> Value {
    let told =
        |m: Mean, enough: bool| json!({"mean": m.mean, "low": m.low, "high": m.high, "clear": enough && m.is_clear()});
    let means = |k: usize| {
        r.measures().iter().map(|(m, w)| ((*w).to_owned(), r.mean(k, *m).into())).collect::<serde_json::Map<_, _>>()
    };
    let gains = |over: usize| {
        r.measures()
            .iter()
            .map(|(m, w)| ((*w).to_owned(), told(r.gain(1, over, *m), r.enough(*m))))
            .collect::<serde_json::Map<_, _>>()
    };
    let bins = |k: usize| {
        r.calibration[k]
            .iter()
            .map(|b| json!({"predicted": b.predicted, "happened": b.happened, "count": b.count}))
            .collect::<Vec<_>>()
    };
    let by_name = |of: &dyn Fn(usize) -> Value| {
        FORECASTS.iter().enumerate().map(|(k, n)| ((*n).to_owned(), of(k))).collect::<serde_json::Map<_, _>>()
    };
    let verdict = match r.verdict() {
        Verdict::Better => "better",
        Verdict::Worse => "worse",
        Verdict::NotShown => "not-shown",
        Verdict::TooFew => "too-few",
    };
    if r.scored == 0 {
        return json!({"schema": "faultodds.score/2", "verdict": verdict, "scored": 0, "learned_from": r.learned_from,
            "without_cause": r.without_cause, "unknown": r.unknown, "left_out": left_out});
    }
    json!({
        "schema": "faultodds.score/2",
        "verdict": verdict, "scored": r.scored, "learned_from": r.learned_from, "without_cause": r.without_cause, "unknown": r.unknown, "left_out": left_out,
        "from": r.dates.map(|d| d.0.to_string()), "to": r.dates.map(|d| d.1.to_string()),
        "means": by_name(&|k| means(k).into()),
        "gain_over_shipped": gains(0),
        "gain_over_base_rate": gains(2),
        "plans": r.plans[0].len(), "currency": currency,
        "minutes_noted": (!r.spent.is_empty()).then(|| json!({
            "jobs": r.spent.len(),
            "mean": r.spent.iter().map(|s| s.noted).sum::<f64>() / r.spent.len() as f64,
            "plan_means": by_name(&|k| (r.spent.iter().map(|s| s.plans[k]).sum::<f64>() / r.spent.len() as f64).into()),
            "noted_less_plan": by_name(&|k| told(r.noted_over_plan(k), r.spent.len() >= TOO_FEW)),
        })),
        "calibration": by_name(&|k| bins(k).into()),
    })
}
