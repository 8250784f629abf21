//! The rules of safety: what an entry does and the tools it takes bring hazards, each of which needs a caution; a
//! caution needs a hazard; what the steps say must be among the acts; nothing is unplugged before it is dead.

use super::desk::Desk;
use crate::acts::{Act, Said};
use crate::base::{Base, Hazard, Setup};
use crate::problem::ProblemCode;
use crate::procedure;
use std::collections::{BTreeMap, BTreeSet};

/// Words that make a plug dead.
const MAKES_DEAD: [&str; 13] = [
    "ignition off",
    "ignition is off",
    "switch off",
    "engine off",
    "while the ignition is off",
    "key off",
    "key away",
    "key out",
    "battery off",
    "dead",
    "no voltage",
    "disconnect the battery",
    "battery disconnected",
];
/// Words that bring it to life again.
const MAKES_LIVE: [&str; 7] = [
    "ignition on",
    "switch on",
    "start the engine",
    "let the engine idle",
    "start it",
    "key on",
    "connect the battery",
];
const UNPLUGS: [&str; 6] =
    ["unplug ", "pull the fuse", "take the fuse out", "take out the relay", "pull the relay", "swap in "];

/// Gives every test the setups that its acts call for, before those it names: what a car must have for a setup to be
/// needed is not known here, so setups with a condition are left to [`procedure`] and cost nothing in a plan.
pub(super) fn call_setups(base: &mut Base) {
    let setups = std::mem::take(&mut base.setups);
    for test in &mut base.tests {
        let own: Vec<&Setup> = test.setups.iter().filter_map(|id| setups.iter().find(|s| s.id == *id)).collect();
        let acts: BTreeSet<Act> = test.acts.iter().chain(own.iter().flat_map(|s| &s.acts)).copied().collect();
        let called = setups.iter().filter(|s| s.requires.is_empty() && s.called_by.iter().any(|a| acts.contains(a)));
        let mut all: Vec<String> = called.map(|s| s.id.clone()).filter(|id| !test.setups.contains(id)).collect();
        all.append(&mut test.setups);
        test.setups = all;
    }
    base.setups = setups;
}

/// One entry that does something, as the rules see it.
struct Doing<'a> {
    id: &'a str,
    /// What the entry is remembered as where it has no list of cautions.
    kind: &'static str,
    acts: &'a [Act],
    cautions: &'a [String],
    tools: &'a [String],
    /// Setups as the entry names them, of which some may not be there.
    named: &'a [String],
    setups: Vec<&'a Setup>,
    /// Setups whose work a repair holds: what they bring it brings too, and nobody else tells of it.
    reached: Vec<&'a Setup>,
    steps: Vec<&'a str>,
}

pub(super) fn check(desk: &mut Desk, base: &Base) {
    // An entry that could not be read may be the one that carries a caution: its own fault is told first.
    let whole = desk.nothing_told();
    let mut carried: BTreeSet<&str> = BTreeSet::new();
    let mut all: Vec<Doing<'_>> = Vec::new();
    for t in &base.tests {
        let setups = procedure::setups_of_test(base, t);
        let steps = t.steps.iter().map(String::as_str).collect();
        all.push(Doing {
            id: &t.id,
            kind: "test",
            acts: &t.acts,
            cautions: &t.cautions,
            tools: &t.tools,
            named: &t.setups,
            setups,
            reached: Vec::new(),
            steps,
        });
    }
    for s in &base.setups {
        let steps = s.does.iter().chain(&s.afterwards).map(String::as_str).collect();
        let setups = Vec::new();
        let (id, acts, cautions) = (&s.id, &s.acts[..], &s.cautions[..]);
        let reached = Vec::new();
        all.push(Doing { id, kind: "setup", acts, cautions, tools: &[], named: &[], setups, reached, steps });
    }
    for (_, r) in base.repairs() {
        let setups = procedure::called(base, &r.acts, &[]);
        let steps = vec![r.does.as_str()];
        let (id, acts, cautions) = (&r.id, &r.acts[..], &r.cautions[..]);
        let reached = r.reaches.iter().filter_map(|id| base.setup(id)).collect();
        all.push(Doing { id, kind: "repair", acts, cautions, tools: &[], named: &[], setups, reached, steps });
    }
    for doing in &all {
        carried.extend(doing.cautions.iter().map(String::as_str));
        hazards(desk, base, doing);
        acts_said(desk, doing);
        if doing.kind == "test" {
            dead_first(desk, doing);
        }
    }
    for c in base.cautions.iter().filter(|c| whole && !carried.contains(c.id.as_str())) {
        let (file, place) = desk.place_of("caution", &c.id);
        let message = format!("no test, setup or repair carries the caution `{}`", c.id);
        desk.at(ProblemCode::IdleCaution, &file, place, 1, message, None);
    }
}

fn hazards(desk: &mut Desk, base: &Base, doing: &Doing<'_>) {
    // A name that leads nowhere is told as such; what it stands for is not known, so nothing follows from it.
    let known = doing.cautions.iter().all(|id| base.caution(id).is_some());
    if !known || doing.named.iter().any(|id| base.setup(id).is_none()) {
        return;
    }
    let mut brings: BTreeMap<Hazard, String> = BTreeMap::new();
    for act in doing.acts {
        for h in act.hazards() {
            brings.entry(*h).or_insert_with(|| format!("`{}`", act.word()));
        }
    }
    for s in &doing.reached {
        for h in s.acts.iter().flat_map(|act| act.hazards()) {
            brings.entry(*h).or_insert_with(|| format!("the setup `{}`, which it reaches,", s.id));
        }
    }
    for tool in doing.tools.iter().filter_map(|id| base.tool(id)) {
        for h in &tool.hazards {
            brings.entry(*h).or_insert_with(|| format!("the tool `{}`", tool.id));
        }
    }
    let covers = |id: &String| base.caution(id).map_or(&[][..], |c| &c.covers[..]);
    let theirs = || doing.setups.iter().flat_map(|s| &s.cautions);
    let covered: BTreeSet<Hazard> = doing.cautions.iter().chain(theirs()).flat_map(covers).copied().collect();
    for (hazard, by) in brings.iter().filter(|(h, _)| !covered.contains(h)) {
        let (mut file, mut place) = desk.place_of("cautions", doing.id);
        if file.is_empty() {
            (file, place) = desk.place_of(doing.kind, doing.id);
        }
        let fitting: Vec<&str> =
            base.cautions.iter().filter(|c| c.covers.contains(hazard)).map(|c| c.id.as_str()).collect();
        let message = format!("{by} brings the hazard `{}`, and no caution of `{}` covers it", hazard.word(), doing.id);
        let hint = (!fitting.is_empty()).then(|| format!("cautions that do: {}", fitting.join(", ")));
        desk.at(ProblemCode::MissingCaution, &file, place, 1, message, hint);
    }
    let called_for = |h: &Hazard| {
        brings.contains_key(h) || doing.setups.iter().flat_map(|s| &s.acts).any(|a| a.hazards().contains(h))
    };
    for id in doing.cautions {
        let Some(caution) = base.caution(id) else { continue };
        if !caution.covers.iter().any(called_for) {
            let (file, place) = desk.place_of("caution of", &format!("{} {id}", doing.id));
            let message = format!("nothing that `{}` does calls for the caution `{id}`", doing.id);
            let hint = Some("name the act that does, or leave the caution out".to_owned());
            desk.at(ProblemCode::IdleCaution, &file, place, id.chars().count(), message, hint);
        }
    }
}

fn acts_said(desk: &mut Desk, doing: &Doing<'_>) {
    let theirs = doing.setups.iter().flat_map(|s| &s.acts);
    let acts: BTreeSet<Act> = doing.acts.iter().chain(theirs).copied().collect();
    for (i, step) in doing.steps.iter().enumerate() {
        let said = Said::of(step);
        for act in Act::all().filter(|a| !acts.iter().any(|named| named.holds(*a))) {
            let Some(phrase) = said.says(act.told_by()) else { continue };
            let (mut file, mut place) = desk.place_of("step", &format!("{} {i}", doing.id));
            if file.is_empty() {
                (file, place) = desk.place_of(doing.kind, doing.id);
            }
            let message = format!("this says \"{phrase}\", and `{}` does not name the act `{}`", doing.id, act.word());
            let hint = Some(format!("add `{}` to its acts, or say it otherwise", act.word()));
            desk.at(ProblemCode::UnsaidAct, &file, place, 1, message, hint);
        }
    }
}

/// Follows the state of the ignition through setups and steps: what is unplugged while it was last switched on, or
/// before it was ever switched off, is told.
fn dead_first(desk: &mut Desk, doing: &Doing<'_>) {
    let before = doing.setups.iter().flat_map(|s| s.does.iter().map(move |step| (s.id.as_str(), step.as_str())));
    let own = doing.steps.iter().enumerate().map(|(i, step)| (doing.id, *step, Some(i)));
    let mut dead = false;
    for (_, step, own) in before.map(|(id, step)| (id, step, None)).chain(own) {
        let lower = step.to_lowercase();
        let mut events: Vec<(usize, Event)> = Vec::new();
        let all = |phrases: &[&str], event: Event, events: &mut Vec<(usize, Event)>| {
            for phrase in phrases {
                events.extend(lower.match_indices(phrase).map(|(at, _)| (at, event)));
            }
        };
        all(&MAKES_DEAD, Event::Dead, &mut events);
        all(&MAKES_LIVE, Event::Live, &mut events);
        if let Some(phrase) = Said::of(step).says(&UNPLUGS) {
            all(&[phrase], Event::Pulled, &mut events);
        }
        events.sort_by_key(|(at, event)| (*at, *event));
        for (_, event) in events {
            match event {
                Event::Dead => dead = true,
                Event::Live => dead = false,
                Event::Pulled if dead => {}
                Event::Pulled => {
                    let (mut file, mut place) = desk.place_of("cautions", doing.id);
                    if let Some(i) = own {
                        (file, place) = desk.place_of("step", &format!("{} {i}", doing.id));
                    }
                    let message = format!("in `{}` something is unplugged that no step before has made dead", doing.id);
                    let hint = Some("say first that the ignition is off, or how it is made dead".to_owned());
                    desk.at(ProblemCode::LiveUnplug, &file, place, 1, message, hint);
                    return;
                }
            }
        }
    }
}

/// What a step does to the plug that is looked at.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Event {
    Dead,
    Pulled,
    Live,
}
