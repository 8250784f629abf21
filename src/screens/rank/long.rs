//! All that `rank` can tell: codes in words, suspects with intervals, why, what to check, and what the numbers rest on.

use super::super::Look;
use super::super::paint::{BAR, CAUTION, HEADING, ID, QUIET, paint};
use super::super::text::{bar, cut_words, hanging, harmless, left, minutes, paragraph, percent, right};
use super::{RankScreen, factor, readings};
use evidence::Observed;
use knowledge::procedure;
use network::build::SEEN_PREFIX;
use ranking::{Check, Standing};
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// Below this width the table has no columns.
const NARROW: usize = 60;
/// Suspects shown, unless another number is said.
const TOP: usize = 10;
/// Suspects whose probability is below this are summed up.
const LEAST_SHOWN: f64 = 0.005;
/// Leaders that `--why` explains.
const LEADERS: usize = 3;
/// Checks shown.
const CHECKS: usize = 4;
/// A finding that changes no leader's odds by more than this factor is summed up.
const LEAST_FACTOR: f64 = 1.1;

impl RankScreen<'_> {
    /// All of it.
    pub(super) fn all(&self, look: Look) -> String {
        let mut out = String::new();
        self.codes_in_words(&mut out, look);
        self.conflict(&mut out, look);
        self.suspects(&mut out, look);
        readings::section(self, &mut out, look);
        if self.why {
            self.why(&mut out, look);
        }
        self.together(&mut out, look);
        self.basis(&mut out, look);
        self.first_checks(&mut out, look);
        out
    }

    fn codes_in_words(&self, out: &mut String, look: Look) {
        for id in self.codes {
            let Some(code) = self.base.code(id) else { continue };
            let mut words = String::new();
            paragraph(&mut words, &format!("{id}  "), &code.title, look.width);
            out.push_str(&words.replacen(id.as_str(), &paint(ID, id), 1));
            paragraph(out, "       ", &code.saw, look.width);
            if let Some(note) = &code.note {
                paragraph(out, "       ", &format!("Note: {note}"), look.width);
            }
        }
        for stranger in self.strangers {
            paragraph(
                out,
                &format!("{}  ", stranger.code),
                &stranger.in_words()[stranger.code.len() + 2..],
                look.width,
            );
        }
        let lower: Vec<&String> =
            self.codes.iter().filter(|c| !self.told.what.iter().any(|w| w.level == **c)).collect();
        for code in lower {
            let higher = self.base.code(code).and_then(|c| {
                self.told.what.iter().find(|w| w.finding.strip_prefix("monitor:") == Some(c.monitor.as_str()))
            });
            if let Some(higher) = higher {
                let text = format!("{code} adds nothing: {} is the graver result of the same check.", higher.level);
                paragraph(out, "       ", &text, look.width);
            }
        }
        if !self.told.suspended.is_empty() {
            let names =
                self.told.suspended.iter().map(|m| self.base.monitor(m).map_or(m.as_str(), |m| m.name.as_str()));
            let text = format!(
                "Likely not run while a fault above is stored, so that silence is not counted: {}.",
                names.collect::<Vec<_>>().join(", ")
            );
            paragraph(out, "       ", &text, look.width);
        }
        for silent in &self.told.silent {
            let why = match self.told.repeated.contains(silent) {
                true if silent.starts_with("symptom:") => {
                    "recorded; what was said of the vehicle is the same fact, and it is not counted twice."
                }
                true => "recorded; it repeats what the codes read after the same drive say, and is not counted again.",
                false => "recorded, but it tells nothing here.",
            };
            paragraph(out, "       ", &format!("{silent}: {why}"), look.width);
        }
        if !self.codes.is_empty() {
            out.push('\n');
        }
    }

    pub(super) fn conflict(&self, out: &mut String, look: Look) {
        let Some(conflict) = &self.ranking.conflict else { return };
        let again = conflict.check_again.and_then(|i| self.told.what.get(i)).map(|w| self.in_words(w));
        let mut text = format!(
            "These findings rarely go together ({:.1} times rarer than if they were unrelated).",
            conflict.times_rarer
        );
        if let Some(again) = again {
            let _ = write!(text, " Check this one again: {again}.");
        }
        hanging(out, "Look again  ", "            ", &text, look.width);
        *out = out.replacen("Look again  ", &format!("{}  ", paint(CAUTION, "Look again")), 1);
        out.push('\n');
    }

    fn suspects(&self, out: &mut String, look: Look) {
        // What the evidence leaves where it was on any such car is no suspect of this job. Where nothing is raised, for
        // instance with sound readings alone, all are shown.
        let (raised, others): (Vec<&Standing>, Vec<&Standing>) = self.ranking.standings.iter().partition(|s| s.raised);
        let (raised, others) = if raised.is_empty() { (others, raised) } else { (raised, others) };
        let shown: Vec<&Standing> =
            raised.iter().copied().filter(|s| s.probability >= LEAST_SHOWN).take(self.top.unwrap_or(TOP)).collect();
        let bar_width = if look.width >= 100 { 20 } else { 10 };
        let name_width = look.width.saturating_sub(bar_width + 24);
        let head = format!("{}  {}  {}", right("", 6), left("Suspect", name_width), "90 % interval");
        if look.width >= NARROW {
            let _ = writeln!(out, "{}", paint(HEADING, head.trim_end()));
        }
        for s in &shown {
            let id = &self.network.suspects[s.suspect].id;
            let name = harmless(&self.base.suspect_name(id));
            let drawn = bar(s.probability, bar_width);
            let interval = s.interval.map_or(String::new(), |(low, high)| {
                format!("{}–{}", percent(low).trim_end_matches(" %"), percent(high))
            });
            if look.width < NARROW {
                // No room for columns: the interval stands beside the id.
                hanging(out, &format!("{}  ", right(&percent(s.probability), 6)), "        ", &name, look.width);
                hanging(out, "        ", "        ", &format!("{id} {interval}"), look.width);
                continue;
            }
            let _ = writeln!(
                out,
                "{}  {}  {} {}",
                right(&percent(s.probability), 6),
                left(&cut_words(&name, name_width), name_width),
                left(&interval, 13),
                paint(BAR, &drawn),
            );
            let _ = writeln!(out, "        {}", paint(QUIET, id));
            if let Some(because) = self.because(s.suspect) {
                hanging(out, "        ", "          ", &because, look.width);
            }
        }
        if let Some(size) = self.leak_size() {
            hanging(out, "        ", "        ", &size, look.width);
        }
        let mut rest = Vec::new();
        if raised.len() > shown.len() {
            let sum: f64 = raised.iter().skip(shown.len()).map(|s| s.probability).sum();
            let count = raised.len() - shown.len();
            let suspects = if count == 1 { "suspect" } else { "suspects" };
            rest.push(format!("{count} other {suspects}, together {}", percent(sum.min(1.0))));
        }
        if !others.is_empty() {
            rest.push(format!("{} more no likelier here than on any such car", others.len()));
        }
        if !rest.is_empty() {
            hanging(out, "        ", "        ", &format!("{}.", rest.join("; ")), look.width);
        }
        let unlisted = format!(
            "Causes this base does not list: {}. The first suspect stays first in {} of the draws behind the intervals.",
            percent(self.ranking.not_listed),
            percent(self.ranking.leader_stays),
        );
        hanging(out, "        ", "        ", &unlisted, look.width);
        out.push('\n');
    }

    pub(super) fn in_words(&self, what: &Observed) -> String {
        if let Some(symptom) = what.finding.strip_prefix("symptom:") {
            let name = self.base.symptom(symptom).map_or(symptom, |s| s.name.as_str());
            return format!("{name}: {}", what.level);
        }
        if let Some(monitor) = what.finding.strip_prefix("monitor:") {
            if what.by_absence {
                let name = self.base.monitor(monitor).map_or(monitor, |m| m.name.as_str());
                return format!("no code of the {name}");
            }
            return what.level.clone();
        }
        if let Some(suspect) = what.finding.strip_prefix(SEEN_PREFIX) {
            return format!("{}: {}", self.base.suspect_name(suspect), what.level);
        }
        format!("{} = {}", what.finding, what.level)
    }

    pub(super) fn why(&self, out: &mut String, look: Look) {
        let Some(weights) = &self.ranking.weights else { return };
        let leaders: Vec<usize> = self.ranking.standings.iter().take(LEADERS).map(|s| s.suspect).collect();
        heading(out, "Why: how each finding multiplied the odds of the leaders", look);
        for (i, s) in leaders.iter().enumerate() {
            let prior = self.network.suspects[*s].prior;
            let name = self.base.suspect_name(&self.network.suspects[*s].id);
            let text = format!("{name} (before any finding {} of such cars)", percent(prior));
            paragraph(out, &format!("   [{}] ", i + 1), &text, look.width);
        }
        let column = 8;
        let name_width = look.width.saturating_sub(leaders.len() * column + 3);
        let mut rows: Vec<(f64, String, Vec<f64>)> = Vec::new();
        let mut minor = vec![0.0; leaders.len()];
        let mut minor_count = 0;
        for (what, ln_odds) in self.told.what.iter().zip(&weights.ln_odds) {
            let own: Vec<f64> = leaders.iter().map(|s| ln_odds[*s]).collect();
            let most = own.iter().fold(0.0_f64, |m, w| m.max(w.abs()));
            if what.by_absence && most < LEAST_FACTOR.ln() {
                minor_count += 1;
                for (sum, w) in minor.iter_mut().zip(&own) {
                    *sum += w;
                }
            } else {
                rows.push((most, self.in_words(what), own));
            }
        }
        for before in &self.ranking.before {
            let own: Vec<f64> = leaders.iter().map(|s| before.ln_odds[*s]).collect();
            let most = own.iter().fold(0.0_f64, |m, w| m.max(w.abs()));
            rows.push((most, self.done_before(before), own));
        }
        rows.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
        if minor_count > 0 {
            rows.push((0.0, format!("{minor_count} other checks without a code, together"), minor));
        }
        let heads: String = (1..=leaders.len()).map(|i| right(&format!("[{i}]"), column)).collect();
        let _ = writeln!(out, "   {}{heads}", left("", name_width));
        for (_, words, own) in rows {
            let cells: String = own.iter().map(|w| right(&factor(*w), column)).collect();
            let _ = writeln!(out, "   {}{cells}", left(&cut_words(&harmless(&words), name_width), name_width));
        }
        self.moved_before(out, look);
        out.push('\n');
    }

    fn together(&self, out: &mut String, look: Look) {
        let several = self.ranking.explanations.iter().any(|e| e.suspects.len() > 1 && e.probability >= 0.05);
        if !several {
            return;
        }
        let _ = writeln!(out, "{}", paint(HEADING, "Most likely together"));
        for e in self.ranking.explanations.iter().take(4) {
            let names: Vec<String> =
                e.suspects.iter().map(|s| self.base.suspect_name(&self.network.suspects[*s].id)).collect();
            let text =
                if names.is_empty() { "none of the suspects: chance alone".to_owned() } else { names.join(" + ") };
            paragraph(out, &format!("{}  ", right(&percent(e.probability), 6)), &text, look.width);
        }
        out.push('\n');
    }

    fn first_checks(&self, out: &mut String, look: Look) {
        let shown = &self.checks[..self.checks.len().min(CHECKS)];
        if shown.is_empty() {
            let text = "No test with the tools at hand can tell more: consider handing the car on.";
            hanging(out, "", "", text, look.width);
            out.push('\n');
            return;
        }
        self.cautions(out, shown, look);
        heading(out, "First checks worth doing, the most news for the time", look);
        for (i, c) in shown.iter().enumerate() {
            let Some(test) = self.base.test(&c.test) else { continue };
            let tools = if test.tools.is_empty() {
                "no tools".to_owned()
            } else {
                let names: Vec<&str> =
                    test.tools.iter().map(|t| self.base.tool(t).map_or(t.as_str(), |t| t.name.as_str())).collect();
                names.join(", ")
            };
            paragraph(out, &format!("   {}  ", i + 1), &test.name, look.width);
            let facts =
                format!("{}; {}; finds something in {} of such cars", minutes(c.minutes), tools, percent(c.abnormal));
            paragraph(out, "      ", &facts, look.width);
            hanging(out, "      ", "      ", &format!("faultodds kb show {}", test.id), look.width);
        }
        out.push('\n');
    }

    fn cautions(&self, out: &mut String, shown: &[Check], look: Look) {
        let tests = shown.iter().filter_map(|c| self.base.test(&c.test));
        let all = tests.flat_map(|t| procedure::of_test(self.base, t, &self.network.vehicle).cautions);
        let names: BTreeSet<&str> = all.map(|c| c.entry.name.as_str()).collect();
        let names: Vec<&str> = names.into_iter().collect();
        let mut text = "the vehicle maker's procedure, local rules and licensed practice come first.".to_owned();
        if !names.is_empty() {
            let _ = write!(
                text,
                " These checks carry cautions: {}. Read them with the test before you begin.",
                names.join(", ")
            );
        }
        let mut words = String::new();
        hanging(&mut words, "Before you start: ", "   ", &text, look.width);
        out.push_str(&words.replacen("Before you start:", &paint(CAUTION, "Before you start:"), 1));
        out.push('\n');
    }

    fn basis(&self, out: &mut String, look: Look) {
        let text = "What this rests on: priors and test qualities are judgement, not measurements; the total share of \
            cars with a vapour leak follows a published table. The intervals show how far that judgement could move \
            the answer. `faultodds kb show ID` gives each number's basis.";
        let mut words = String::new();
        hanging(&mut words, "", "", text, look.width);
        for line in words.lines() {
            let _ = writeln!(out, "{}", paint(QUIET, line));
        }
    }
}

/// A heading, wrapped where it must be.
fn heading(out: &mut String, text: &str, look: Look) {
    let mut lines = String::new();
    hanging(&mut lines, "", "", text, look.width);
    for line in lines.lines() {
        let _ = writeln!(out, "{}", paint(HEADING, line));
    }
}
