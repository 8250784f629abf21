//! The first screen of `rank`: the codes, the leading suspects, what is most dangerous, and last what to do now. It fits
//! 24 rows of 80 columns; everything else is on `--long`.

use super::super::Look;
use super::super::first;
use super::super::paint::{BAR, ID, paint};
use super::super::text::{bar, cut_words, hanging, harmless, left, paragraph, percent, right};
use super::RankScreen;
use knowledge::procedure;
use ranking::Standing;
use std::fmt::Write as _;

/// Suspects shown, unless another number is said.
const TOP: usize = 5;
/// Codes told in words; more are told by number.
const CODES: usize = 3;
/// Columns of a bar.
const BAR_COLUMNS: usize = 8;
/// From this on a pair of faults is worth a line.
const PAIR: f64 = 0.25;

impl RankScreen<'_> {
    /// The screen.
    pub(super) fn first(&self, look: Look) -> String {
        let mut out = String::new();
        self.titles(&mut out, look);
        self.leaders(&mut out, look);
        self.pair(&mut out, look);
        self.conflict(&mut out, look);
        if self.why {
            self.why(&mut out, look);
        }
        self.now(&mut out, look);
        out
    }

    fn titles(&self, out: &mut String, look: Look) {
        for id in self.codes.iter().take(CODES) {
            let title = self.base.code(id).map_or("", |c| c.title.as_str());
            let line = format!("{id}  {}", cut_words(title, look.width.saturating_sub(id.len() + 2)));
            let _ = writeln!(out, "{}", line.replacen(id.as_str(), &paint(ID, id), 1));
        }
        if self.codes.len() > CODES {
            paragraph(out, "and    ", &self.codes[CODES..].join(" "), look.width);
        }
        for stranger in self.strangers {
            let words = stranger.in_words();
            paragraph(out, &format!("{}  ", stranger.code), words[stranger.code.len() + 1..].trim(), look.width);
        }
        // What was typed and tells nothing is never passed over in silence.
        if !self.told.silent.is_empty() {
            let text = format!("recorded, but it tells nothing here: {}", self.told.silent.join(", "));
            paragraph(out, "note   ", &text, look.width);
        }
        if !out.is_empty() {
            out.push('\n');
        }
    }

    fn leaders(&self, out: &mut String, look: Look) {
        let all = &self.ranking.standings;
        let raised: Vec<&Standing> = all.iter().filter(|s| s.raised).collect();
        let list: Vec<&Standing> = if raised.is_empty() { all.iter().collect() } else { raised };
        let shown = &list[..list.len().min(self.top.unwrap_or(TOP))];
        for s in shown {
            let id = &self.network.suspects[s.suspect].id;
            let lead = format!(
                "{} {} ",
                right(&percent(s.probability), 6),
                left(&bar(s.probability, BAR_COLUMNS), BAR_COLUMNS)
            );
            let room = look.width.saturating_sub(super::super::text::columns(&lead));
            let name = harmless(&self.base.suspect_name(id));
            let drawn = bar(s.probability, BAR_COLUMNS);
            let painted = lead.replacen(&drawn, &paint(BAR, &drawn), 1);
            let _ = writeln!(out, "{painted}{}", cut_words(&name, room));
            if let Some(because) = self.because(s.suspect) {
                hanging(out, &" ".repeat(16), &" ".repeat(18), &because, look.width);
            }
        }
        if let Some(size) = self.leak_size() {
            paragraph(out, "       ", &size, look.width);
        }
        let rest: f64 = list[shown.len()..].iter().map(|s| s.probability).sum();
        let mut text = Vec::new();
        if list.len() > shown.len() {
            text.push(format!("{} others, together {}", list.len() - shown.len(), percent(rest.min(1.0))));
        }
        text.push(format!("causes not listed here {}", percent(self.ranking.not_listed)));
        paragraph(out, "       ", &format!("{}. --long shows all.", text.join("; ")), look.width);
    }

    /// Two faults at once, where that is likely.
    fn pair(&self, out: &mut String, look: Look) {
        let pair = self.ranking.explanations.iter().find(|e| e.suspects.len() > 1 && e.probability >= PAIR);
        if let Some(e) = pair {
            let names: Vec<String> =
                e.suspects.iter().map(|s| self.base.suspect_name(&self.network.suspects[*s].id)).collect();
            let text = format!("{}  ({})", names.join(" + "), percent(e.probability));
            hanging(out, "Together: ", "  ", &text, look.width);
        }
        out.push('\n');
    }

    fn now(&self, out: &mut String, look: Look) {
        let Some((check, test)) = self.checks.iter().find_map(|c| Some((c, self.base.test(&c.test)?))) else {
            let text = "No test with the tools at hand can tell more: consider handing the car on.";
            hanging(out, "", "", text, look.width);
            return;
        };
        first::danger(out, &procedure::of_test(self.base, test, &self.network.vehicle), look);
        out.push('\n');
        first::test(out, "Check first", test, check.minutes, self.base, look);
    }
}
