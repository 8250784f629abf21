//! What belongs to the question: which tests look at the systems that the codes speak of, and which repairs a reading
//! speaks for.

use super::pose::Question;
use super::problem::{Problem, bits};
use super::universe::Truth;
use crate::network::FindingKind;
use std::collections::BTreeSet;

/// A suspect with less than this chance to keep the complaint up is not in question.
const IN_QUESTION: f64 = 0.02;

/// Share of what a test looks at that must be in question where its system is not.
const SHARE: f64 = 0.25;

/// A reading speaks for a suspect that it shows at least this often.
const SHOWS: f64 = 0.3;

/// Tests of systems that none of the suspects in question belongs to are taken off: they could only tell something by
/// the way, about what they share with the system in question. Repairs for which an abnormal reading speaks are marked.
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
    let in_question: BTreeSet<usize> = (0..chance.len()).filter(|&s| chance[s] >= IN_QUESTION).collect();
    let families: BTreeSet<&str> = in_question.iter().filter_map(|&s| family(id(s))).collect();
    let asked: BTreeSet<usize> = in_question.iter().map(|&s| problem.suspects[s]).collect();
    let related = |test: &str| {
        let Some(t) = q.base.test(test) else { return true };
        let links =
            t.readings.iter().filter_map(|r| q.network.finding(&r.id)).flat_map(|f| &q.network.findings[f].links);
        let looked: BTreeSet<usize> = links.map(|l| l.suspect).collect();
        #[expect(clippy::cast_precision_loss, reason = "numbers of suspects")]
        let share = looked.intersection(&asked).count() as f64 / looked.len().max(1) as f64;
        families.contains(t.family.as_str()) || share >= SHARE
    };
    let off: Vec<usize> = (0..problem.tests.len()).filter(|&t| !related(&problem.tests[t].id)).collect();
    for t in off {
        problem.done |= 1 << t;
        problem.again.iter_mut().for_each(|a| *a &= !(1 << t));
    }
    let mut spoken: BTreeSet<usize> = BTreeSet::new();
    for o in &q.evidence.observations {
        let f = &q.network.findings[o.finding];
        let top = o.likelihood.iter().copied().fold(0.0, f64::max);
        if matches!(f.kind, FindingKind::Reading) && o.likelihood[0] < 0.5 * top {
            let shows = |l: &&crate::network::Link| 1.0 - l.levels[0] >= SHOWS;
            spoken.extend(f.links.iter().filter(shows).map(|l| l.suspect));
        }
    }
    let backed = |removes: u128| bits(removes).any(|s| spoken.contains(&problem.suspects[s]));
    let marks: Vec<bool> = problem.repairs.iter().map(|r| backed(r.removes)).collect();
    problem.repairs.iter_mut().zip(marks).for_each(|(r, mark)| r.backed = mark);
}
