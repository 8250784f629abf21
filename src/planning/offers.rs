//! What is on offer in a question: the repairs that touch its worlds, the tests that tell of them, and what their readings show.

use super::problem::{Backing, MOST, Problem, ReadingModel, RepairStep, TestStep};
use super::question::Question;
use super::shop::Spend;
use inference::RepairEvent;
use knowledge::base::Repair;
use network::{LIKELY_TO_FIT, Network};
use std::collections::{BTreeSet, HashMap};

/// Puts the repairs on offer that remove anything of `needed`; answers which lack a tool, and how many did not fit.
pub(super) fn offer_repairs(
    q: &Question<'_>,
    local: &HashMap<usize, usize>,
    needed: u128,
    problem: &mut Problem,
) -> (Lacking, usize) {
    let place: HashMap<&str, usize> = q.network.suspects.iter().enumerate().map(|(i, s)| (s.id.as_str(), i)).collect();
    let (mut lacking, mut left_out) = (Lacking::new(), 0);
    let of_part = |repair: &Repair| {
        let part = repair.id.split('/').next();
        let same = local.iter().filter(|(s, _)| q.network.suspects[**s].id.split('/').next() == part);
        same.fold(0_u128, |all, (_, i)| all | 1 << i)
    };
    for (_, repair) in q.base.repairs() {
        let removes = repair.removes.iter().filter_map(|s| local.get(place.get(s.as_str())?));
        let removes = removes.fold(0_u128, |all, i| all | 1 << i);
        if removes & needed == 0 {
            continue;
        }
        let missing = q.shop.missing_under(q.base, repair);
        if !missing.is_empty() {
            lacking.push((repair.id.clone(), missing.into_iter().map(str::to_owned).collect()));
            continue;
        }
        if problem.repairs.len() == MOST {
            left_out += 1;
            continue;
        }
        problem.repairs.push(RepairStep {
            id: repair.id.clone(),
            spend: q.shop.repair(repair) + q.shop.retest(),
            alone: q.shop.repair(repair),
            holds: held(repair, &problem.setups),
            after: 0,
            parts: q.shop.price(repair),
            vain: q.shop.in_vain(repair),
            backing: Backing::Codes,
            found_good: false,
            removes,
            part: of_part(repair),
            fails: repair.fails.get(),
        });
    }
    (lacking, left_out)
}

/// Tests that find the place for some repair: their own time counts as a setup that they leave behind.
pub(super) fn finders(q: &Question<'_>) -> Vec<(String, Spend)> {
    let named: BTreeSet<&str> = q.base.repairs().flat_map(|(_, r)| &r.locates).map(String::as_str).collect();
    q.base.tests.iter().filter(|t| named.contains(t.id.as_str())).map(|t| (t.id.clone(), q.shop.test(t))).collect()
}

/// What the labour of a repair holds that may be paid for elsewhere. What is saved by all of it is bounded by [`Problem::spend`].
fn held(repair: &Repair, setups: &[(String, Spend)]) -> u128 {
    let holds = |id: &String| repair.reaches.contains(id) || repair.locates.contains(id);
    setups.iter().enumerate().filter(|(_, (id, _))| holds(id)).fold(0, |all, (i, _)| all | 1 << i)
}

/// Tests and repairs whose tools are missing, with those tools.
type Lacking = Vec<(String, Vec<String>)>;

/// Puts the tests on offer that tell anything of the worlds, with their readings; answers which lack tools, which equipment nobody
/// asked about would open more, and how many did not fit.
pub(super) fn offer_tests(
    q: &Question<'_>,
    local: &HashMap<usize, usize>,
    now: &[f64],
    problem: &mut Problem,
    findings: &mut Vec<usize>,
) -> (Lacking, BTreeSet<String>, usize) {
    let place: HashMap<&str, usize> = q.network.findings.iter().enumerate().map(|(i, f)| (f.id.as_str(), i)).collect();
    let setup: HashMap<String, usize> = problem.setups.iter().enumerate().map(|(i, s)| (s.0.clone(), i)).collect();
    // Epoch in which each finding was last read.
    let mut read: HashMap<usize, usize> = HashMap::new();
    for o in &q.evidence.observations {
        let at = read.entry(o.finding).or_default();
        *at = o.epoch.max(*at);
    }
    let (mut lacking, mut unasked, mut left_out) = (Vec::new(), BTreeSet::new(), 0);
    for t in &q.base.tests {
        let own: Vec<usize> = t.readings.iter().filter_map(|r| place.get(r.id.as_str()).copied()).collect();
        let setups = t.setups.iter().filter_map(|s| setup.get(s)).fold(0_u128, |all, s| all | 1 << s);
        let silent = q.silent.iter().any(|s| s == &t.id || s.split(':').next() == Some(&t.id));
        let leaves = setup.get(&t.id).map_or(setups, |own| setups | 1 << own);
        let begun = silent || own.iter().any(|f| read.contains_key(f));
        // What a repair since then has touched may look different now. Readings that were not noted are still
        // open.
        let stands = |f: &usize| {
            let touched = |r: &RepairEvent| {
                r.suspects.iter().any(|s| q.network.findings[*f].links.iter().any(|l| l.suspect == *s))
            };
            read.get(f).is_some_and(|&epoch| !q.evidence.repairs.iter().skip(epoch).any(touched))
        };
        let open: Vec<usize> = own.iter().copied().filter(|f| !stands(f)).collect();
        let found = |f: &usize| {
            let last = q.evidence.observations.iter().rev().find(|o| o.finding == *f);
            stands(f) && last.is_some_and(|o| o.likelihood[0] < 0.5 * o.likelihood.iter().copied().fold(0.0, f64::max))
        };
        // After something was found the rest of the same test is not what comes next, and the place is known.
        let done = silent || open.is_empty() || own.iter().any(found);
        if begun {
            problem.paid |= if done { leaves } else { setups };
        }
        let tells = own.iter().any(|f| q.network.findings[*f].links.iter().any(|l| local.contains_key(&l.suspect)));
        if !tells {
            continue;
        }
        if q.network.fit(&t.id, now) < LIKELY_TO_FIT {
            unasked.extend(q.network.unsure.iter().filter(|u| u.test == t.id).flat_map(|u| u.options.iter().cloned()));
            continue;
        }
        let missing = q.shop.missing(t);
        if !missing.is_empty() {
            lacking.push((t.id.clone(), missing.into_iter().map(str::to_owned).collect()));
            continue;
        }
        if problem.tests.len() == MOST {
            left_out += 1;
            continue;
        }
        if done {
            problem.done |= 1 << problem.tests.len();
        }
        let readings = if open.is_empty() { &own } else { &open }.iter().map(|&f| {
            findings.push(f);
            problem.readings.push(model(q.network, f, local, now));
            problem.readings.len() - 1
        });
        let readings = readings.collect();
        let looks_at = own.iter().flat_map(|f| &q.network.findings[*f].links).filter_map(|l| local.get(&l.suspect));
        let looks_at = looks_at.fold(0_u128, |all, i| all | 1 << i);
        for (again, repair) in problem.again.iter_mut().zip(&problem.repairs) {
            if repair.removes & looks_at != 0 {
                *again |= 1 << problem.tests.len();
            }
        }
        for repair in problem.repairs.iter_mut().filter(|_| !begun) {
            if q.base.repair(&repair.id).is_some_and(|(_, r)| r.after.contains(&t.id)) {
                repair.after |= 1 << problem.tests.len();
            }
        }
        problem.tests.push(TestStep { id: t.id.clone(), spend: q.shop.test(t), setups, leaves, begun, readings });
    }
    (lacking, unasked, left_out)
}

/// Suspects outside the worlds go into the background with their posterior: `prod (1 - q + q P(level <= l))`. That is
/// exact for a single reading where the evidence does not tie them to the worlds, and they are rare where it does.
fn model(network: &Network, finding: usize, local: &HashMap<usize, usize>, now: &[f64]) -> ReadingModel {
    let f = &network.findings[finding];
    let cumulative = |levels: &[f64]| -> Vec<f64> {
        let mut sum = 0.0;
        let mut out: Vec<f64> = levels
            .iter()
            .map(|p| {
                sum += p;
                sum.min(1.0)
            })
            .collect();
        // The highest level bounds everything, whatever rounding made of the sum.
        if let Some(top) = out.last_mut() {
            *top = 1.0;
        }
        out
    };
    let mut background = cumulative(&f.leak);
    let mut links = Vec::new();
    for l in &f.links {
        let cdf = cumulative(&l.levels);
        if let Some(&i) = local.get(&l.suspect) {
            links.push((i, cdf));
        } else {
            let q = now[l.suspect];
            background.iter_mut().zip(&cdf).for_each(|(b, c)| *b *= 1.0 - q + q * c);
        }
    }
    ReadingModel { id: f.id.clone(), background, links }
}
