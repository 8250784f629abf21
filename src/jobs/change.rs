//! What an event did to the order of the suspects: what rose, what fell, and why.

use super::standing::Standing;
use inference::Observation;
use network::Finding;

/// Smaller moves are not told.
const NOTABLE: f64 = 0.005;

/// Why a suspect moved.
#[derive(Clone, Debug, PartialEq)]
pub enum Why {
    /// A finding that it can cause spoke for or against it.
    Finding {
        /// Finding id.
        finding: String,
        /// What it showed.
        level: String,
        /// P(what it showed | this suspect alone), up to the factor that `otherwise` shares.
        with: f64,
        /// P(what it showed | no suspect).
        otherwise: f64,
    },
    /// A finding that spoke is no longer there.
    Gone {
        /// Finding id.
        finding: String,
    },
    /// A repair removed it.
    Repaired,
    /// A repair that had removed it was taken back.
    TakenBack,
    /// It can cause none of what is new; it gives way to that suspect.
    GivesWay {
        /// Suspect id.
        to: String,
    },
    /// It can cause none of what is new; it takes the place of that suspect.
    TakesPlace {
        /// Suspect id.
        of: String,
    },
    /// What is known of the car changed its prevalence, and nothing else is new.
    Car,
}

/// One suspect's move.
#[derive(Clone, Debug, PartialEq)]
pub struct Move {
    /// Suspect id.
    pub suspect: String,
    /// P(present) before.
    pub before: f64,
    /// P(present) after.
    pub after: f64,
    /// Why.
    pub why: Why,
}

/// What changed.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Change {
    /// Suspects that rose, the largest rise first.
    pub rose: Vec<Move>,
    /// Suspects that fell, the largest fall first.
    pub fell: Vec<Move>,
    /// The probability that the car is fixed, before.
    pub fixed_before: Option<f64>,
    /// And after.
    pub fixed_after: Option<f64>,
}

impl Change {
    /// Compares two standings of one job.
    #[must_use]
    pub fn between(before: &Standing, after: &Standing) -> Self {
        let mut moves: Vec<(String, f64, f64)> = Vec::new();
        for (i, s) in after.network.suspects.iter().enumerate() {
            moves.push((s.id.clone(), before.now(&s.id), after.posterior.now[i]));
        }
        for (i, s) in before.network.suspects.iter().enumerate() {
            if after.network.suspect(&s.id).is_none() {
                moves.push((s.id.clone(), before.posterior.now[i], 0.0));
            }
        }
        moves.retain(|(_, b, a)| (a - b).abs() >= NOTABLE);
        moves.sort_by(|x, y| (y.2 - y.1).abs().total_cmp(&(x.2 - x.1).abs()).then_with(|| x.0.cmp(&y.0)));
        let largest = |rising: bool| moves.iter().find(|(_, b, a)| (a > b) == rising).map(|(id, ..)| id.as_str());
        let (riser, faller) = (largest(true), largest(false));
        let news = News::of(before, after);
        let mut out = Self { fixed_before: before.fixed, fixed_after: after.fixed, ..Self::default() };
        for (suspect, b, a) in &moves {
            let why = news.why(suspect, *b, *a, riser, faller);
            let one = Move { suspect: suspect.clone(), before: *b, after: *a, why };
            if a > b { out.rose.push(one) } else { out.fell.push(one) }
        }
        out
    }

    /// Whether no suspect moved notably.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rose.is_empty() && self.fell.is_empty()
    }
}

/// What is new between two standings.
struct News<'a> {
    before: &'a Standing,
    after: &'a Standing,
    added: Vec<(&'a Observation, &'a str)>,
    removed: Vec<&'a Observation>,
    repaired: Vec<&'a str>,
    taken_back: Vec<&'a str>,
    car: bool,
}

impl<'a> News<'a> {
    fn of(before: &'a Standing, after: &'a Standing) -> Self {
        let seen = |s: &'a Standing| s.told.evidence.observations.iter().zip(&s.told.what);
        let has = |s: &'a Standing, o: &Observation, id: &str| {
            seen(s).any(|(other, w)| w.finding == id && other.epoch == o.epoch && other.likelihood == o.likelihood)
        };
        let added =
            seen(after).filter(|(o, w)| !has(before, o, &w.finding)).map(|(o, w)| (o, w.level.as_str())).collect();
        let removed = seen(before).filter(|(o, w)| !has(after, o, &w.finding)).map(|(o, _)| o).collect();
        let repaired = repaired_since(before, after);
        let taken_back = repaired_since(after, before);
        let car = before.network.suspects != after.network.suspects;
        Self { before, after, added, removed, repaired, taken_back, car }
    }

    /// The strongest new finding that the suspect can cause and that points the way it moved; else what else is new.
    fn why(&self, suspect: &str, before: f64, now: f64, riser: Option<&str>, faller: Option<&str>) -> Why {
        let rising = now > before;
        if !rising && self.repaired.contains(&suspect) {
            return Why::Repaired;
        }
        if rising && self.taken_back.contains(&suspect) {
            return Why::TakenBack;
        }
        let index = self.after.network.suspect(suspect);
        let mut best: Option<(f64, Why)> = None;
        for (o, level) in &self.added {
            let finding = &self.after.network.findings[o.finding];
            let Some((with, otherwise)) = index.and_then(|s| speaks(finding, s, &o.likelihood)) else { continue };
            let strength = (with / otherwise).ln();
            if (strength > 0.0) == rising && best.as_ref().is_none_or(|(b, _)| strength.abs() > *b) {
                let (finding, level) = (finding.id.clone(), (*level).to_owned());
                best = Some((strength.abs(), Why::Finding { finding, level, with, otherwise }));
            }
        }
        if let Some((_, why)) = best {
            return why;
        }
        if self.added.is_empty()
            && let Some(finding) = self.gone(suspect, rising)
        {
            return Why::Gone { finding };
        }
        // A finding settles what the car has, too: then it is the finding that did it.
        let nothing_else =
            self.added.is_empty() && self.removed.is_empty() && self.repaired.is_empty() && self.taken_back.is_empty();
        if self.car && nothing_else {
            return Why::Car;
        }
        match (rising, riser, faller) {
            (true, _, Some(of)) => Why::TakesPlace { of: of.to_owned() },
            (false, Some(to), _) => Why::GivesWay { to: to.to_owned() },
            // All moved one way: the first news is what did it.
            _ if self.added.is_empty() && !self.removed.is_empty() => {
                Why::Gone { finding: self.before.network.findings[self.removed[0].finding].id.clone() }
            }
            _ => self.added.first().map_or(Why::Car, |(o, level)| {
                let finding = &self.after.network.findings[o.finding];
                let otherwise = expected(&finding.leak, &o.likelihood);
                Why::Finding { finding: finding.id.clone(), level: (*level).to_owned(), with: otherwise, otherwise }
            }),
        }
    }
}

impl News<'_> {
    /// The finding that is no longer there and spoke most for a suspect that fell, or against one that rose.
    fn gone(&self, suspect: &str, rising: bool) -> Option<String> {
        let network = &self.before.network;
        let index = network.suspect(suspect)?;
        let told = self.removed.iter().filter_map(|o| {
            let finding = &network.findings[o.finding];
            let (with, otherwise) = speaks(finding, index, &o.likelihood)?;
            let strength = (with / otherwise).ln();
            ((strength > 0.0) != rising && strength != 0.0).then_some((strength.abs(), &finding.id))
        });
        told.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, id)| id.clone())
    }
}

/// Suspects that the repairs remove which the one has beyond those of the other.
fn repaired_since<'a>(before: &Standing, after: &'a Standing) -> Vec<&'a str> {
    let repairs = after.told.evidence.repairs.iter().skip(before.told.evidence.repairs.len());
    repairs.flat_map(|r| &r.suspects).map(|s| after.network.suspects[*s].id.as_str()).collect()
}

/// P(data | that suspect alone) and P(data | no suspect), up to a common factor; none when it cannot cause the finding.
fn speaks(finding: &Finding, suspect: usize, likelihood: &[f64]) -> Option<(f64, f64)> {
    let at = finding.links.binary_search_by_key(&suspect, |l| l.suspect).ok()?;
    let alone = highest_of(&finding.leak, &finding.links[at].levels);
    let (with, otherwise) = (expected(&alone, likelihood), expected(&finding.leak, likelihood));
    (with.is_finite() && otherwise > 0.0).then_some((with, otherwise))
}

/// Distribution of the higher of two independent levels: P(max <= s) = P(a <= s) P(b <= s).
fn highest_of(a: &[f64], b: &[f64]) -> Vec<f64> {
    let (mut below_a, mut below_b, mut below) = (0.0, 0.0, 0.0);
    a.iter()
        .zip(b)
        .map(|(pa, pb)| {
            below_a += pa;
            below_b += pb;
            let (upto, before) = (below_a * below_b, below);
            below = upto;
            upto - before
        })
        .collect()
}

fn expected(levels: &[f64], likelihood: &[f64]) -> f64 {
    levels.iter().zip(likelihood).map(|(p, l)| p * l).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_higher_of_two_levels() {
        let max = highest_of(&[0.5, 0.5, 0.0], &[0.2, 0.3, 0.5]);
        for (got, want) in max.iter().zip([0.1, 0.4, 0.5]) {
            assert!((got - want).abs() < 1e-12, "{max:?}");
        }
    }
}
