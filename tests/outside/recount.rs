//! `kb export --json` and `rank --json`, through the program, against a calculator of our own that shares no line with
//! `src/inference`: inclusion and exclusion over levels (Heckerman 1989, Quickscore) in whole numbers of 2^-416. The signed sum
//! loses digits by the dozen; 125 decimal places outlast that.
//!
//! The same is done by `make/check_rank.py`, in Python with decimals: see the ignored test at the end.

use crate::whole::Signed;
use crate::{here, program};
use serde_json::Value;
use std::collections::BTreeMap;
use std::process::Command;

/// Questions as one would type them.
const QUESTIONS: [&str; 35] = [
    "P0455",
    "P0457",
    "P0442",
    "P0456",
    "P0440",
    "P0441",
    "P0443",
    "P0446",
    "P0449",
    "P0452",
    "P0496",
    "P0463",
    "P0466",
    "P04AB",
    "P0455 --codes-incomplete",
    "P0455 P0441",
    "P0455 P0446",
    "P0441 P0496",
    "P0442 P0443",
    "P0442 P0456 P0455",
    "P0443 P0449 P0452",
    "P0440 P0441 P0446 P0452 P0496",
    "P0455 --vehicle age=14,salt,screw-cap",
    "P0456 --vehicle age=3,capless,pump-check",
    "P0441 --vehicle 190000km,turbo-purge",
    "P0455 --symptom fuel-smell-outside --no-symptom cap-found-loose",
    "P0496 --symptom hard-start-after-refuel --result purge-valve-hold=fail",
    "P0442 --result cap-look-reseat=pass --result cap-leak-test=pass",
    "P0442 --result cap-leak-test=fail --symptom fuel-smell-outside",
    "P0480 --found fan-feed/fuse-blown",
    "P0455 --found filler-cap/loose --sound purge-valve/stuck-open",
    "P0442 --found canister/cracked=probably",
    "P0455 --already filler-cap/replace-cap",
    "P0446 --result vent-command:opens=fail --symptom slow-fill --vehicle age=11",
    "--symptom fuel-smell-outside --symptom slow-fill --symptom hard-start-after-refuel",
];

fn exact_list(list: &Value) -> Vec<Signed> {
    list.as_array().unwrap().iter().map(|x| Signed::exactly(x.as_f64().unwrap())).collect()
}

/// P(at or below each level): what is above is read as given, the lowest level is the rest.
fn at_most(levels: &Value) -> Vec<Signed> {
    let mut rest = Signed::one();
    let mut out = Vec::new();
    for p in exact_list(levels).iter().rev() {
        out.push(rest.clone());
        rest = rest.minus(p);
    }
    out.reverse();
    out
}

/// One observed finding: the levels that carry a signed term, the background and the suspects at or below each level.
struct Seen {
    terms: Vec<(usize, Signed)>,
    leak: Vec<Signed>,
    /// For each suspect one list, or one for each grade by name.
    links: BTreeMap<String, BTreeMap<String, Vec<Signed>>>,
}

/// The lists of a link by grade; `""` stands for all grades.
fn by_grade(link: &Value) -> BTreeMap<String, Vec<Signed>> {
    match link.as_object() {
        Some(grades) => grades.iter().map(|(grade, levels)| (grade.clone(), at_most(levels))).collect(),
        None => BTreeMap::from([(String::new(), at_most(link))]),
    }
}

/// One suspect of the export.
struct Suspect {
    id: String,
    prior: Signed,
    /// Name and share; one nameless grade where there are none.
    grades: Vec<(String, Signed)>,
    /// Victims with the chance of bringing them about, by place.
    brings: Vec<(usize, Signed)>,
}

fn suspects_of(network: &Value) -> Vec<Suspect> {
    let all = network["suspects"].as_array().unwrap();
    let place = |id: &str| all.iter().position(|s| s["id"] == id).unwrap();
    let grades = |s: &Value| match s.get("grades") {
        Some(list) => {
            let share = |g: &Value| Signed::exactly(g["share"].as_f64().unwrap());
            list.as_array().unwrap().iter().map(|g| (g["id"].as_str().unwrap().to_owned(), share(g))).collect()
        }
        None => vec![(String::new(), Signed::one())],
    };
    let brings = |s: &Value| match s.get("brings") {
        Some(victims) => {
            let victims = victims.as_object().unwrap().iter();
            victims.map(|(id, p)| (place(id), Signed::exactly(p.as_f64().unwrap()))).collect()
        }
        None => Vec::new(),
    };
    all.iter()
        .map(|s| Suspect {
            id: s["id"].as_str().unwrap().to_owned(),
            prior: Signed::exactly(s["prior"].as_f64().unwrap()),
            grades: grades(s),
            brings: brings(s),
        })
        .collect()
}

/// Suspects that causes tie together, those that bring others about first; each suspect in one group.
fn groups_of(suspects: &[Suspect]) -> Vec<(Vec<usize>, Vec<usize>)> {
    let mut group: Vec<usize> = (0..suspects.len()).collect();
    for (cause, s) in suspects.iter().enumerate() {
        for (victim, _) in &s.brings {
            let (a, b) = (group[cause], group[*victim]);
            group.iter_mut().filter(|g| **g == a).for_each(|g| *g = b);
        }
    }
    let mut out: BTreeMap<usize, (Vec<usize>, Vec<usize>)> = BTreeMap::new();
    for (i, s) in suspects.iter().enumerate() {
        let own = out.entry(group[i]).or_default();
        if s.brings.is_empty() { own.1.push(i) } else { own.0.push(i) }
    }
    out.into_values().collect()
}

/// Total weight of a group, and that of the worlds in which each member is present: every combination of those that bring
/// others about; the others are independent then. `reach` is what presence multiplies the weight by.
fn weigh(
    suspects: &[Suspect],
    (causes, others): &(Vec<usize>, Vec<usize>),
    reach: &[Signed],
) -> (Signed, Vec<(usize, Signed)>) {
    assert!(causes.len() <= 14, "too many causes in one group");
    let mut total = Signed::zero();
    let mut joint: Vec<(usize, Signed)> = causes.iter().chain(others).map(|i| (*i, Signed::zero())).collect();
    for set in 0..1_u32 << causes.len() {
        let there = |i: usize| causes.iter().position(|c| *c == i).is_some_and(|k| set >> k & 1 == 1);
        let absent = |i: usize| {
            let spared = causes.iter().filter(|c| there(**c)).flat_map(|c| &suspects[*c].brings);
            let spared = spared.filter(|b| b.0 == i).map(|b| Signed::one().minus(&b.1));
            spared.fold(Signed::one().minus(&suspects[i].prior), |all, s| all.times(&s))
        };
        let mut weight = Signed::one();
        for &c in causes {
            let not = absent(c);
            weight = weight.times(&if there(c) { Signed::one().minus(&not).times(&reach[c]) } else { not });
        }
        let parts: Vec<(Signed, Signed)> = others
            .iter()
            .map(|&i| {
                let not = absent(i);
                let present = Signed::one().minus(&not).times(&reach[i]);
                (not.plus(&present), present)
            })
            .collect();
        let mut behind = vec![Signed::one()];
        for (either, _) in parts.iter().rev() {
            let last = behind[behind.len() - 1].times(either);
            behind.push(last);
        }
        let all = weight.times(&behind[behind.len() - 1]);
        total = total.plus(&all);
        for (k, &c) in causes.iter().enumerate() {
            if there(c) {
                joint[k].1 = joint[k].1.plus(&all);
            }
        }
        let mut before = weight;
        for (k, (either, present)) in parts.iter().enumerate() {
            let own = before.times(present).times(&behind[parts.len() - 1 - k]);
            joint[causes.len() + k].1 = joint[causes.len() + k].1.plus(&own);
            before = before.times(either);
        }
    }
    (total, joint)
}

fn seen(network: &Value, entry: &Value) -> Seen {
    let finding = network["findings"].as_array().unwrap().iter().find(|f| f["id"] == entry["finding"]).unwrap();
    let likelihoods: Vec<Signed> = match entry.get("level") {
        Some(level) => {
            let names = finding["levels"].as_array().unwrap();
            assert!(names.contains(level), "{entry}");
            names.iter().map(|l| if l == level { Signed::one() } else { Signed::zero() }).collect()
        }
        None => exact_list(&entry["likelihoods"]),
    };
    // sum L(l) P(Y = l) = sum (L(l) - L(l + 1)) P(Y <= l).
    let next = likelihoods.iter().skip(1).cloned().chain([Signed::zero()]);
    let steps = likelihoods.iter().zip(next).map(|(here, next)| here.minus(&next));
    Seen {
        terms: steps.enumerate().filter(|(_, c)| !c.is_zero()).collect(),
        leak: at_most(&finding["leak"]),
        links: finding["links"].as_object().unwrap().iter().map(|(id, l)| (id.clone(), by_grade(l))).collect(),
    }
}

/// ln P(evidence) and the posterior of every suspect.
fn recount(network: &Value, evidence: &Value) -> (f64, BTreeMap<String, f64>) {
    let suspects = suspects_of(network);
    let groups = groups_of(&suspects);
    let all: Vec<Seen> = evidence.as_array().unwrap().iter().map(|e| seen(network, e)).collect();
    let (single, several): (Vec<Seen>, Vec<Seen>) = all.into_iter().partition(|s| s.terms.len() == 1);
    assert!(several.iter().map(|s| s.terms.len()).product::<usize>() <= 1024, "too many terms");
    // What presence multiplies the weight by, for each grade of each suspect.
    let take = |s: &Seen, level: usize, reach: &mut [Vec<Signed>]| {
        for (suspect, own) in suspects.iter().zip(reach) {
            let Some(link) = s.links.get(&suspect.id) else { continue };
            for ((grade, _), r) in suspect.grades.iter().zip(own) {
                *r = r.times(&link.get(grade).unwrap_or_else(|| &link[""])[level]);
            }
        }
    };
    let mut constant = Signed::one();
    let mut spread: Vec<Vec<Signed>> = suspects.iter().map(|s| vec![Signed::one(); s.grades.len()]).collect();
    for s in &single {
        let (level, c) = &s.terms[0];
        constant = constant.times(c).times(&s.leak[*level]);
        take(s, *level, &mut spread);
    }
    let (mut total, mut joint) = (Signed::zero(), vec![Signed::zero(); suspects.len()]);
    let mut choice = vec![0_usize; several.len()];
    loop {
        let (mut factor, mut reach) = (constant.clone(), spread.clone());
        for (s, k) in several.iter().zip(&choice) {
            let (level, c) = &s.terms[*k];
            factor = factor.times(c).times(&s.leak[*level]);
            take(s, *level, &mut reach);
        }
        let mean = |(s, own): (&Suspect, &Vec<Signed>)| {
            s.grades.iter().zip(own).fold(Signed::zero(), |sum, ((_, share), r)| sum.plus(&share.times(r)))
        };
        let reach: Vec<Signed> = suspects.iter().zip(&reach).map(mean).collect();
        let weighed: Vec<(Signed, Vec<(usize, Signed)>)> = groups.iter().map(|g| weigh(&suspects, g, &reach)).collect();
        // Products of all before and all behind, so that nothing need be divided.
        let mut behind = vec![Signed::one()];
        for (either, _) in weighed.iter().rev() {
            let last = behind[behind.len() - 1].times(either);
            behind.push(last);
        }
        let mut before = factor;
        for (k, (either, members)) in weighed.iter().enumerate() {
            let around = before.times(&behind[weighed.len() - 1 - k]);
            for (i, x) in members {
                joint[*i] = joint[*i].plus(&around.times(x));
            }
            before = before.times(either);
        }
        total = total.plus(&before);
        let Some(k) = (0..choice.len()).find(|k| choice[*k] + 1 < several[*k].terms.len()) else { break };
        choice[k] += 1;
        choice[..k].fill(0);
    }
    assert!(total.is_positive());
    let posterior = suspects.iter().zip(joint).map(|(s, j)| (s.id.clone(), j.size.over(&total.size))).collect();
    (total.size.ln_over(&Signed::one().size), posterior)
}

/// The network that the program exports for the vehicle and the earlier repairs of a question, and its answer.
fn asked(question: &str) -> (Vec<u8>, Vec<u8>) {
    let words: Vec<&str> = question.split(' ').collect();
    let mut export = vec!["kb", "export", "--json"];
    for pair in words.windows(2).filter(|p| matches!(p[0], "--vehicle" | "--already")) {
        export.extend(pair);
    }
    let rank: Vec<&str> = ["rank", "--json"].into_iter().chain(words.iter().copied()).collect();
    let answer = program(&rank);
    // What the evidence settles about the car's equipment is said in the answer.
    let said: Value = serde_json::from_slice(&answer).unwrap();
    let settled: Vec<String> =
        said["settled"].as_array().unwrap().iter().map(|w| w.as_str().unwrap().to_owned()).collect();
    for word in &settled {
        export.extend(["--vehicle", word]);
    }
    (program(&export), answer)
}

/// Largest difference of a posterior.
fn check(question: &str) -> f64 {
    let (network, answer) = asked(question);
    let network: Value = serde_json::from_slice(&network).unwrap();
    let answer: Value = serde_json::from_slice(&answer).unwrap();
    let (ln, posterior) = recount(&network, &answer["evidence"]);
    let said = answer["suspects"].as_array().unwrap();
    assert_eq!(said.len(), posterior.len(), "{question}");
    let off = (answer["log_evidence"].as_f64().unwrap() - ln).abs();
    assert!(off <= 1e-9, "{question}: ln P(evidence) {} recounted {ln}", answer["log_evidence"]);
    let mut worst = 0.0_f64;
    for s in said {
        let (id, p) = (s["id"].as_str().unwrap(), s["probability"].as_f64().unwrap());
        let off = (p - posterior[id]).abs();
        assert!(off <= 1e-9, "{question}: {id} has {p}, recounted {}", posterior[id]);
        let (low, high) = (s["low"].as_f64().unwrap(), s["high"].as_f64().unwrap());
        assert!(0.0 <= low && low <= p && p <= high && high <= 1.0, "{question}: {id}: {low}, {p}, {high}");
        worst = worst.max(off);
    }
    worst
}

#[test]
fn the_exported_network_gives_the_answer() {
    // Two halves side by side: each question starts the program twice.
    let halves = QUESTIONS.split_at(QUESTIONS.len() / 2);
    let worst = |half: &[&str]| half.iter().map(|q| check(q)).fold(0.0, f64::max);
    let worst = std::thread::scope(|s| {
        let other = s.spawn(|| worst(halves.1));
        worst(halves.0).max(other.join().unwrap())
    });
    println!("{} questions, posteriors apart by {worst:.1e} at most", QUESTIONS.len());
}

#[test]
fn the_calculator_knows_a_case_done_by_hand() {
    let network = serde_json::json!({"suspects": [{"id": "a", "prior": 0.5}, {"id": "b", "prior": 0.25}], "findings": [
        {"id": "f", "levels": ["none", "low", "high"], "leak": [1.0, 0.0, 0.0], "links": {"a": [0.5, 0.5, 0.0], "b": [0.5, 0.25, 0.25]}}]});
    // P(Y <= low) = 1 - 0.25 * 0.25 = 15/16, P(Y <= none) = (1/2 + 1/4) (3/4 + 1/8) = 21/32, so P(low) = 9/32.
    let (ln, posterior) = recount(&network, &serde_json::json!([{"finding": "f", "level": "low"}]));
    assert!((ln - (9.0_f64 / 32.0).ln()).abs() < 1e-15);
    // With a: 1/2 (15/16 - 1/2 * 7/8) = 1/4; with b: 1/4 (3/4 - 3/8) = 3/32.
    assert!((posterior["a"] - 8.0 / 9.0).abs() < 1e-15);
    assert!((posterior["b"] - 1.0 / 3.0).abs() < 1e-15);
}

/// The same questions to the calculator in Python: `cargo test --test outside -- --ignored`. By hand:
/// `faultodds kb export --json > n.json; faultodds rank P0455 --json > r.json; python3 tests/outside/make/check_rank.py n.json r.json`.
#[test]
#[ignore = "needs python3"]
fn the_calculator_in_python_agrees() {
    let folder = tempfile::tempdir().unwrap();
    let (network, answer) = (folder.path().join("network.json"), folder.path().join("rank.json"));
    for question in QUESTIONS {
        let (exported, ranked) = asked(question);
        std::fs::write(&network, exported).unwrap();
        std::fs::write(&answer, ranked).unwrap();
        let done = Command::new("python3").arg(here("make/check_rank.py")).args([&network, &answer]).output().unwrap();
        let told = String::from_utf8_lossy(&done.stdout);
        print!("{question}: {told}");
        assert!(done.status.success(), "{question}: {told}{}", String::from_utf8_lossy(&done.stderr));
    }
}
