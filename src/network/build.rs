//! From a base and a vehicle to the network that inference uses: priors after factors and equipment, monitors as
//! noisy-MAX findings, symptoms and readings. The only place where knowledge becomes a network.

use super::{Bring, Finding, FindingKind, Link, Network, Suspect, Unsure, openings};
use knowledge::base::{Base, Monitor, NOT_LISTED_PREFIX, Reading, Section, Seen, Senses, Symptom, Test, Vehicle, When};
use std::collections::HashMap;

/// Never let factors push a prior beyond this: `kb check` refuses bases where that would happen often.
const HIGHEST_PRIOR: f64 = 0.5;

/// A prior's weight counts jobs in which its suspect was in question; of those about one in so many proved to be it.
/// A prior worth 24 jobs is thus known as well as if four such faults had been found: within a factor of about two.
pub const JOBS_PER_FAULT: f64 = 6.0;

/// How many cars a prior worth so many jobs is known from: Beta(prior × cars, (1 − prior) × cars) then has
/// jobs / [`JOBS_PER_FAULT`] faults found among them.
fn cars(jobs: f64, prior: f64) -> f64 {
    jobs / JOBS_PER_FAULT / prior
}

/// The network of the base for this vehicle.
///
/// Suspects that the vehicle cannot have (another choice of equipment was stated) are left out, and so are readings
/// of tests that make no sense on it. Where equipment is unknown, the prior is multiplied by its share.
#[must_use]
pub fn build(base: &Base, vehicle: &Vehicle) -> Network {
    let mut network = Network { vehicle: vehicle.clone(), ..Network::default() };
    let mut index: HashMap<&str, usize> = HashMap::new();
    for (_, s) in base.suspects() {
        let Some(share) = share(base, vehicle, &s.requires) else { continue };
        let factors: f64 = s.factors.iter().filter_map(|f| base.factor(f)).map(|f| f.multiplier(vehicle)).product();
        let prior = (s.prior.get() * factors * share).min(HIGHEST_PRIOR);
        index.insert(&s.id, network.suspects.len());
        let plain = Suspect::plain(s.id.clone(), prior, cars(s.weight.get(), prior));
        let grades = s.opening.as_ref().map_or_else(Vec::new, openings::grades);
        network.suspects.push(Suspect { grades, ..plain });
    }
    let mut not_listed: HashMap<&str, usize> = HashMap::new();
    for m in &base.monitors {
        not_listed.insert(&m.id, network.suspects.len());
        let (id, prior) = (format!("{NOT_LISTED_PREFIX}{}", m.id), m.not_listed.prior.get());
        network.suspects.push(Suspect::plain(id, prior, cars(m.weight.get(), prior)));
    }
    let leaks = Leaks::of(base, &index);
    let (suspects, of) = (&network.suspects, (&leaks, &network.suspects[..]));
    let monitors_and_symptoms = || {
        let mut findings: Vec<Finding> =
            base.monitors.iter().map(|m| monitor(base, m, &index, of, not_listed[m.id.as_str()])).collect();
        findings.extend(symptoms(base, &index, &not_listed));
        findings
    };
    let fitting = || base.tests.iter().filter_map(|t| Some((t, share(base, vehicle, &t.requires)?)));
    let each = |(test, _): (&Test, f64)| -> Vec<Finding> {
        test.readings.iter().map(|r| reading(r, &index, of, test.weight.get())).collect()
    };
    let readings = || -> Vec<Finding> { fitting().flat_map(each).collect() };
    let (mut findings, readings) = rayon::join(monitors_and_symptoms, readings);
    findings.extend(readings);
    let looks = base.suspects().filter_map(|(_, s)| {
        let suspect = *index.get(s.id.as_str())?;
        Some(seen(&s.id, &s.seen, suspect, suspects[suspect].prior))
    });
    findings.extend(looks);
    let unsure = fitting().filter(|(_, share)| *share < 1.0).map(|(t, share)| unsure(base, vehicle, t, share, &index));
    network.unsure = unsure.collect();
    network.findings = findings;
    for (_, s) in base.suspects() {
        let Some(&cause) = index.get(s.id.as_str()) else { continue };
        for b in &s.brings {
            let Some(&victim) = index.get(b.suspect.as_str()) else { continue };
            let (p, later) = (b.p.get(), b.when == When::Later);
            network.brings.push(Bring { cause, victim, p, weight: b.weight.get(), later });
        }
    }
    network
}

/// The symptoms with all that show them.
fn symptoms(base: &Base, index: &HashMap<&str, usize>, not_listed: &HashMap<&str, usize>) -> Vec<Finding> {
    let mut shows: HashMap<&str, Vec<Link>> = HashMap::new();
    for (_, s) in base.suspects() {
        let Some(&suspect) = index.get(s.id.as_str()) else { continue };
        for l in &s.symptoms {
            shows.entry(&l.symptom).or_default().push(two_level(suspect, l.p.get(), l.weight.get()));
        }
    }
    for m in &base.monitors {
        for l in &m.not_listed.symptoms {
            let link = two_level(not_listed[m.id.as_str()], l.p.get(), l.weight.get());
            shows.entry(&l.symptom).or_default().push(link);
        }
    }
    base.symptoms.iter().map(|s| symptom(s, shows.remove(s.id.as_str()).unwrap_or_default())).collect()
}

/// What finding ids of looks start with.
pub const SEEN_PREFIX: &str = "seen:";

/// People do not take what is rare to be found as often as what is common: of fifty who say that they found it, at most
/// about one is wrong, whatever it is (judgement).
const FOUND_PER_MISTAKE: f64 = 50.0;

/// How many jobs the numbers of a look are worth.
const LOOK_WEIGHT: f64 = 30.0;

fn seen(id: &str, look: &Seen, suspect: usize, prior: f64) -> Finding {
    let false_alarm = look.false_alarm.get().min(prior / FOUND_PER_MISTAKE);
    Finding {
        id: format!("{SEEN_PREFIX}{id}"),
        kind: FindingKind::Seen,
        levels: vec!["normal".to_owned(), "abnormal".to_owned()],
        leak: vec![1.0 - false_alarm, false_alarm],
        leak_weight: cars(LOOK_WEIGHT, false_alarm),
        links: vec![two_level(suspect, look.detects.get(), LOOK_WEIGHT)],
    }
}

/// Share of vehicles that have all of these options: 1 for what is stated, the shipped share for what is unknown,
/// nothing when the vehicle states another option of the same choice.
fn share(base: &Base, vehicle: &Vehicle, requires: &[String]) -> Option<f64> {
    let mut share = 1.0;
    for option in requires {
        let Some((choice, found)) = base.equipment_option(option) else { continue };
        if vehicle.equipment.contains(option) {
            continue;
        }
        if choice.options.iter().any(|o| vehicle.equipment.contains(&o.id)) {
            return None;
        }
        share *= found.share.get();
    }
    Some(share)
}

fn unsure(base: &Base, vehicle: &Vehicle, test: &Test, share: f64, index: &HashMap<&str, usize>) -> Unsure {
    let options: Vec<String> = test.requires.iter().filter(|o| !vehicle.equipment.contains(*o)).cloned().collect();
    let only = base.suspects().filter(|(_, s)| options.iter().all(|o| s.requires.contains(o)));
    let suspects = only.filter_map(|(_, s)| index.get(s.id.as_str()).copied()).collect();
    Unsure { test: test.id.clone(), options, share, suspects }
}

fn two_level(suspect: usize, p: f64, weight: f64) -> Link {
    Link::plain(suspect, vec![1.0 - p, p], weight)
}

/// The distribution over levels whose abnormal part is given: the rest is the lowest level.
fn with_rest(abnormal: impl Iterator<Item = f64> + Clone) -> Vec<f64> {
    let rest = (1.0 - abnormal.clone().sum::<f64>()).max(0.0);
    std::iter::once(rest).chain(abnormal).collect()
}

fn monitor(
    base: &Base,
    m: &Monitor,
    index: &HashMap<&str, usize>,
    (leaks, suspects): (&Leaks, &[Suspect]),
    not_listed: usize,
) -> Finding {
    let codes: Vec<_> = m.levels.iter().filter_map(|c| base.code(c)).collect();
    let mut links: HashMap<usize, (Vec<f64>, f64)> = HashMap::new();
    for (level, code) in codes.iter().enumerate() {
        for l in &code.sets {
            let Some(&suspect) = index.get(l.suspect.as_str()) else { continue };
            let (abnormal, weight) = links.entry(suspect).or_insert_with(|| (vec![0.0; codes.len()], 0.0));
            abnormal[level] = l.p.first().map_or(0.0, |p| p.get());
            // One suspect's codes come from entries of like weight; the largest speaks for all.
            *weight = weight.max(l.weight.get());
        }
    }
    let mut unlisted = vec![0.0; codes.len()];
    for (code, p) in &m.not_listed.sets {
        if let Some(level) = m.levels.iter().position(|l| l == code) {
            unlisted[level] = p.get();
        }
    }
    links.insert(not_listed, (unlisted, m.weight.get()));
    let sensed = m.senses.as_ref().map_or_else(Vec::new, |senses| {
        // What a code past the last limit gives as its `p` is the share of what passes that limit.
        let beyond = |suspect: usize| -> Vec<f64> {
            let typed = links.get(&suspect).map_or(&[][..], |(abnormal, _)| &abnormal[senses.limits_mm.len()..]);
            if typed.is_empty() { vec![0.0; codes.len() - senses.limits_mm.len()] } else { typed.to_vec() }
        };
        let typed = |suspect: usize| {
            links.get(&suspect).is_some_and(|(a, _)| a[..senses.limits_mm.len()].iter().any(|p| *p > 0.0))
        };
        leaks.sensed(senses, suspects, m.weight.get(), &beyond, &typed)
    });
    for link in &sensed {
        links.remove(&link.suspect);
    }
    let mut links: Vec<Link> = links
        .into_iter()
        .map(|(suspect, (abnormal, weight))| Link::plain(suspect, with_rest(abnormal.into_iter()), weight))
        .chain(sensed)
        .collect();
    links.sort_by_key(|l| l.suspect);
    Finding {
        id: format!("monitor:{}", m.id),
        kind: FindingKind::Monitor,
        levels: std::iter::once(NO_CODE.to_owned()).chain(m.levels.iter().cloned()).collect(),
        leak: with_rest(codes.iter().map(|c| c.leak.get())),
        leak_weight: m.weight.get(),
        links,
    }
}

/// Name of a monitor's lowest level.
pub const NO_CODE: &str = "none";

fn symptom(s: &Symptom, mut links: Vec<Link>) -> Finding {
    links.sort_by_key(|l| l.suspect);
    Finding {
        id: format!("symptom:{}", s.id),
        kind: FindingKind::Symptom,
        levels: vec!["normal".to_owned(), "abnormal".to_owned()],
        leak: vec![1.0 - s.background.get(), s.background.get()],
        leak_weight: s.weight.get(),
        links,
    }
}

/// The suspects of this vehicle that open the system.
struct Leaks {
    each: Vec<Leak>,
    /// Sizes that stand for the classes of each kind of opening; many suspects make openings of one kind.
    kinds: Vec<Vec<Vec<f64>>>,
}

struct Leak {
    suspect: usize,
    at: Section,
    kind: usize,
}

impl Leaks {
    fn of(base: &Base, index: &HashMap<&str, usize>) -> Self {
        let (mut kinds, mut known): (Vec<_>, Vec<(f64, f64)>) = (Vec::new(), Vec::new());
        let leak = |(_, s): (_, &knowledge::base::Suspect)| {
            let opening = s.opening.as_ref()?;
            let suspect = *index.get(s.id.as_str())?;
            let own = (opening.median_mm, opening.spread);
            let kind = known.iter().position(|k| *k == own).unwrap_or_else(|| {
                known.push(own);
                kinds.push((0..openings::CLASSES).map(|class| openings::sizes(opening, class)).collect());
                kinds.len() - 1
            });
            Some(Leak { suspect, at: opening.at, kind })
        };
        let each = base.suspects().filter_map(leak).collect();
        Self { each, kinds }
    }

    /// The links that follow from the size of the openings in the sections sensed. A number that was typed stands, for what
    /// physics does not reach. `beyond` gives a suspect's shares of the levels past the last limit.
    fn sensed(
        &self,
        senses: &Senses,
        suspects: &[Suspect],
        weight: f64,
        beyond: &dyn Fn(usize) -> Vec<f64>,
        typed: &dyn Fn(usize) -> bool,
    ) -> Vec<Link> {
        let mut of_kind: Vec<Option<Vec<Vec<f64>>>> = vec![None; self.kinds.len()];
        let sensed = self.each.iter().filter(|leak| senses.sections.contains(&leak.at) && !typed(leak.suspect));
        let link = |leak: &Leak| {
            let rows = of_kind[leak.kind].get_or_insert_with(|| openings::by_grade(senses, &self.kinds[leak.kind]));
            let beyond = beyond(leak.suspect);
            let by_grade: Vec<Vec<f64>> = rows.iter().map(|row| openings::with_beyond(row.clone(), &beyond)).collect();
            let mut levels = vec![0.0; senses.limits_mm.len() + 1 + beyond.len()];
            for (row, grade) in by_grade.iter().zip(&suspects[leak.suspect].grades) {
                levels.iter_mut().zip(row).for_each(|(m, p)| *m += p * grade.share);
            }
            Link { suspect: leak.suspect, levels, weight, by_grade }
        };
        sensed.map(link).collect()
    }
}

fn reading(r: &Reading, index: &HashMap<&str, usize>, (leaks, suspects): (&Leaks, &[Suspect]), weight: f64) -> Finding {
    let mut links: Vec<Link> = r
        .detects
        .iter()
        .filter_map(|l| {
            let suspect = *index.get(l.suspect.as_str())?;
            Some(Link::plain(suspect, with_rest(l.p.iter().map(|p| p.get())), l.weight.get()))
        })
        .collect();
    if let Some(senses) = &r.senses {
        let none = vec![0.0; r.levels.len() - 1 - senses.limits_mm.len()];
        let typed: Vec<usize> = links.iter().map(|l| l.suspect).collect();
        let is_typed = |suspect: usize| typed.contains(&suspect);
        links.extend(leaks.sensed(senses, suspects, weight, &|_| none.clone(), &is_typed));
    }
    links.sort_by_key(|l| l.suspect);
    Finding {
        id: r.id.clone(),
        kind: FindingKind::Reading,
        levels: r.levels.clone(),
        leak: with_rest(r.false_alarm.iter().map(|p| p.get())),
        leak_weight: weight,
        links,
    }
}
