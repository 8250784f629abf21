//! What belongs to the question: which tests look at the systems that the codes speak of, and which repairs a reading
//! speaks for.

use super::problem::{Backing, Problem, bits};
use super::question::Question;
use super::universe::Truth;
use inference::Observation;
use network::{FindingKind, Link};
use std::collections::{BTreeMap, BTreeSet};

/// A suspect with less than this share of the chance that anything keeps the complaint up is not in question.
const IN_QUESTION: f64 = 0.02;

/// Share of what a test looks at that must be in question where its system is not.
const SHARE: f64 = 0.25;

/// Or this share of the chance of all that is in question, for a test that belongs to so many systems that it belongs to none: a
/// look along the loom sees the wires of all of them, and where a wire is in question it is about that.
const MOST_OF_IT: f64 = 0.5;
const MANY_SYSTEMS: usize = 4;

/// A reading speaks for a suspect that it shows at least this often,
const SHOWS: f64 = 0.3;

/// and one that was normal shows as good as all that a test shows no more often than by this factor.
const AS_SURELY: f64 = 0.9;

/// what was measured by itself is found good where it would have shown this often,
const SURELY: f64 = 0.85;

/// and where the part was measured by itself, by this one.
const BY_ITSELF: f64 = 0.8;

/// A second look shows less than this share of what it can show for the first time.
const FRESH: f64 = 0.2;

/// Tests of systems that none of the suspects in question belongs to are taken off: they could only tell something by
/// the way, about what they share with the system in question. So are second looks at parts that were found good. What
/// speaks for each repair is marked.
pub(super) fn mark(q: &Question<'_>, problem: &mut Problem, worlds: &[(Truth, f64)]) {
    let mut chance = vec![0.0; problem.suspects.len()];
    for (truth, p) in worlds {
        bits(truth.need).for_each(|s| chance[s] += p);
    }
    let id = |local: usize| q.network.suspects[problem.suspects[local]].id.as_str();
    let family = |suspect: &str| {
        let part = suspect.split('/').next().unwrap_or_default();
        q.base.part(part).map(|p| p.family.as_str())
    };
    // Where the complaint may well be nothing at all, what it is if it is something is asked all the same.
    let something: f64 = worlds.iter().filter(|(truth, _)| truth.need != 0).map(|(_, p)| p).sum();
    let least = IN_QUESTION * something;
    let in_question: BTreeSet<usize> = (0..chance.len()).filter(|&s| chance[s] >= least && chance[s] > 0.0).collect();
    let families: BTreeSet<&str> = in_question.iter().filter_map(|&s| family(id(s))).collect();
    let all: f64 = in_question.iter().map(|&s| chance[s]).sum();
    let asked: BTreeSet<usize> = in_question.iter().map(|&s| problem.suspects[s]).collect();
    let related = |test: &str| {
        let Some(t) = q.base.test(test) else { return true };
        let links =
            || t.readings.iter().filter_map(|r| q.network.finding(&r.id)).flat_map(|f| &q.network.findings[f].links);
        let looked: BTreeSet<usize> = links().map(|l| l.suspect).collect();
        #[expect(clippy::cast_precision_loss, reason = "numbers of suspects")]
        let share = looked.intersection(&asked).count() as f64 / looked.len().max(1) as f64;
        let well = links().filter(|l| 1.0 - l.levels[0] >= SHOWS).map(|l| l.suspect);
        let well: BTreeSet<usize> = well.collect();
        let seen = |s: &usize| well.contains(&problem.suspects[*s]);
        let held: f64 = in_question.iter().filter(|s| seen(s)).map(|s| chance[*s]).sum();
        let systems: BTreeSet<&str> = well.iter().filter_map(|&s| family(&q.network.suspects[s].id)).collect();
        let of_all = systems.len() >= MANY_SYSTEMS && held >= MOST_OF_IT * all;
        families.contains(t.family.as_str()) || share >= SHARE || of_all
    };
    let off: Vec<usize> = (0..problem.tests.len()).filter(|&t| !related(&problem.tests[t].id)).collect();
    take_off(problem, &off);
    let read = Read::of(q);
    let likely: BTreeMap<usize, f64> = in_question.iter().map(|&s| (problem.suspects[s], chance[s])).collect();
    let again: Vec<usize> = (0..problem.tests.len()).filter(|&t| read.second_look(q, problem, t, &likely)).collect();
    take_off(problem, &again);
    // The place of a fault that was seen is known: its repair asks for no test that finds it.
    let finders = problem.tests.iter().fold(0, |all, t| all | (t.leaves & !t.setups)) & !problem.paid;
    let suspects = &problem.suspects;
    let seen = |removes: u128| bits(removes).any(|s| read.seen.contains(&suspects[s]));
    problem.repairs.iter_mut().filter(|r| seen(r.removes)).for_each(|r| r.holds &= !finders);
    let marks: Vec<Backing> = problem.repairs.iter().map(|r| read.backing(problem, r.removes)).collect();
    problem.repairs.iter_mut().zip(marks).for_each(|(r, mark)| r.backing = mark);
    let asked = in_question.iter().fold(0_u128, |all, s| all | 1 << s);
    let good = |s: usize| read.found_good(problem.suspects[s]);
    let good: Vec<bool> =
        problem.repairs.iter().map(|r| r.removes & asked != 0 && bits(r.removes & asked).all(good)).collect();
    problem.repairs.iter_mut().zip(good).for_each(|(r, good)| r.found_good = good);
}

fn take_off(problem: &mut Problem, tests: &[usize]) {
    for t in tests {
        problem.done |= 1 << t;
        problem.again.iter_mut().for_each(|a| *a &= !(1 << t));
    }
}

/// What the readings and looks so far speak of.
struct Read {
    /// For each abnormal one the suspects that it often shows and that were not renewed since.
    abnormal: Vec<Abnormal>,
    /// Suspects that would have shown up in a normal one, with the chance that they would and when that was last so.
    normal: BTreeMap<usize, (f64, usize)>,
    /// The same for those that were about one part alone: it was measured by itself, whatever else speaks for it.
    by_itself: BTreeMap<usize, (f64, usize)>,
    /// Suspects that were seen.
    seen: BTreeSet<usize>,
}

/// What an abnormal reading often shows.
struct Abnormal {
    suspects: BTreeSet<usize>,
    /// When it was read.
    at: usize,
    /// Whether nothing else that it shows was renewed since: that may have been all there was to it.
    alone: bool,
}

impl Read {
    fn of(q: &Question<'_>) -> Self {
        let mut it =
            Self { abnormal: Vec::new(), normal: BTreeMap::new(), by_itself: BTreeMap::new(), seen: BTreeSet::new() };
        let renewed = |from: usize| q.evidence.repairs.iter().skip(from).flat_map(|r| &r.suspects);
        let all = &q.evidence.observations;
        let test = |o: &Observation| q.network.findings[o.finding].id.split(':').next();
        for o in all {
            let f = &q.network.findings[o.finding];
            // The readings of one test are taken at one time, in whatever order they were told.
            let at = all.iter().rposition(|x| x.epoch == o.epoch && test(x) == test(o)).unwrap_or_default();
            if !matches!(f.kind, FindingKind::Reading | FindingKind::Seen) {
                continue;
            }
            let gone: BTreeSet<usize> = renewed(o.epoch).copied().collect();
            let top = o.likelihood.iter().copied().fold(0.0, f64::max);
            if o.likelihood[0] < 0.5 * top {
                let as_read =
                    |l: &Link| -> f64 { l.levels.iter().zip(&o.likelihood).map(|(p, like)| p * like / top).sum() };
                let often = f.links.iter().filter(|l| as_read(l) >= SHOWS).map(|l| l.suspect);
                if f.kind == FindingKind::Seen {
                    it.seen.extend(f.links.iter().map(|l| l.suspect));
                }
                let (renewed, suspects): (BTreeSet<usize>, BTreeSet<usize>) = often.partition(|s| gone.contains(s));
                it.abnormal.push(Abnormal { suspects, at, alone: renewed.is_empty() });
            } else if o.likelihood[0] >= top {
                let part = |l: &Link| q.network.suspects[l.suspect].id.split('/').next().unwrap_or_default();
                let alone = f.links.windows(2).all(|l| part(&l[0]) == part(&l[1]));
                for l in f.links.iter().filter(|l| !gone.contains(&l.suspect)) {
                    for map in [Some(&mut it.normal), alone.then_some(&mut it.by_itself)].into_iter().flatten() {
                        let p = map.entry(l.suspect).or_default();
                        *p = (p.0.max(1.0 - l.levels[0]), at);
                    }
                }
            }
        }
        it
    }

    fn backing(&self, problem: &Problem, removes: u128) -> Backing {
        let removes: BTreeSet<usize> = bits(removes).map(|s| problem.suspects[s]).collect();
        let speaks = |shown: &&Abnormal| !shown.suspects.is_disjoint(&removes);
        let mut speaking = self.abnormal.iter().filter(speaks).peekable();
        if speaking.peek().is_none() {
            return Backing::Codes;
        }
        if speaking.any(|shown| shown.alone && shown.suspects.is_subset(&removes)) {
            Backing::Shown
        } else {
            Backing::Reading
        }
    }

    /// Whether the suspect was measured by itself and found good, and nothing that was read later spoke for it. What another reading
    /// of the same test says of several parts counts less than the one about this part alone.
    fn found_good(&self, suspect: usize) -> bool {
        let last = self.by_itself.get(&suspect).filter(|n| n.0 >= SURELY).map(|n| n.1);
        last.is_some_and(|last| !self.abnormal.iter().any(|shown| shown.at > last && shown.suspects.contains(&suspect)))
    }

    /// Whether the test shows next to nothing in question but what a normal reading would have shown as surely.
    fn second_look(&self, q: &Question<'_>, problem: &Problem, test: usize, chance: &BTreeMap<usize, f64>) -> bool {
        // What was not as it should be since it was last looked at is worth another look.
        let last = |s: usize| self.normal.get(&s).map_or(0, |n| n.1);
        let bad = |s: usize| self.abnormal.iter().any(|shown| shown.at >= last(s) && shown.suspects.contains(&s));
        let Some(t) = q.base.test(&problem.tests[test].id) else { return false };
        let links =
            t.readings.iter().filter_map(|r| q.network.finding(&r.id)).flat_map(|f| &q.network.findings[f].links);
        let mut looked: BTreeMap<usize, f64> = BTreeMap::new();
        for l in links.filter(|l| chance.contains_key(&l.suspect) && 1.0 - l.levels[0] >= SHOWS) {
            let p = looked.entry(l.suspect).or_default();
            *p = p.max(1.0 - l.levels[0]);
        }
        // What is more likely there than not though it was found good comes and goes, or was missed: another test may see it.
        let still = |s: usize| chance.get(&s).is_some_and(|c| *c >= 0.5);
        let good = |s: usize, p: f64| {
            let at_least =
                |map: &BTreeMap<usize, (f64, usize)>, share: f64| map.get(&s).is_some_and(|n| n.0 >= share * p);
            at_least(&self.by_itself, BY_ITSELF) || !bad(s) && !still(s) && at_least(&self.normal, AS_SURELY)
        };
        let (mut all, mut fresh) = (0.0, 0.0);
        for (s, p) in looked {
            let there = chance.get(&s).copied().unwrap_or_default() * p;
            all += there;
            fresh += if good(s, p) { 0.0 } else { there };
        }
        all > 0.0 && fresh < FRESH * all
    }
}
