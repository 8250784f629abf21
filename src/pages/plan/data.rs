//! What the page's script works on: the plan as a list of nodes, and the worlds, readings and repairs by which the odds
//! go on. The shape is private to the page; scripts ask `plan --json`.

use super::PlanPage;
use super::numbers::{NumberForm, short};
use planning::{Branch, Node, Shows, Spend, Step};
use screens::next::{amount, kind};
use screens::text::{harmless, minutes, percent};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// Worlds that a page carries at most, and their least probability.
const MOST_WORLDS: usize = 2_000;
const LEAST_WORLD: f64 = 2e-6;

/// A step that the page describes once, wherever it stands in the plan.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Card {
    /// A test, by its place in the problem.
    Test(usize),
    /// A repair, by its place.
    Repair(usize),
    /// A re-test alone.
    Verify,
    /// Handing on.
    HandOn,
}

/// The data with what the page says of it.
#[derive(Debug)]
pub struct Data {
    /// For the script.
    pub value: Value,
    /// What is described, in the order in which it comes, and whether the drawing has it.
    pub cards: Vec<(Card, bool)>,
    /// Share of what may be the case that the worlds hold.
    pub covered: f64,
    /// Share of cars that the plan follows to an ending.
    pub followed: f64,
    /// Suspects by name with their probability at the start, the likeliest first.
    pub leaders: Vec<(String, f64)>,
}

/// The data of a page; nothing when there is no plan.
pub fn data(page: &PlanPage<'_>) -> Option<Data> {
    let screen = page.screen;
    let root = screen.plan.root.as_ref()?;
    let mut drawn = BTreeSet::new();
    seen(page.drawn.plan.root.as_ref()?, page, 0, &mut drawn);
    let mut nodes = Nodes { page, list: Vec::new(), cards: Vec::new(), followed: 0.0 };
    nodes.add(root, 0, Spend::default());
    let (worlds, covered, used) = worlds(page);
    let place: BTreeMap<usize, usize> = used.iter().enumerate().map(|(i, s)| (*s, i)).collect();
    let name = |s: usize| screen.base.suspect_name(&page.network.suspects[screen.posed.problem.suspects[s]].id);
    let mut leaders: Vec<(String, f64)> = used.iter().map(|s| (harmless(&name(*s)), 0.0)).collect();
    for (present, _, mass) in &worlds {
        present.iter().for_each(|s| leaders[place[s]].1 += mass / covered);
    }
    let suspects: Vec<&String> = leaders.iter().map(|l| &l.0).collect();
    let of = |list: &[usize]| list.iter().map(|s| place[s]).collect::<Vec<usize>>();
    let worlds: Vec<Value> = worlds
        .iter()
        .map(|(present, need, mass)| {
            let (p, m) = (of(present), short(*mass));
            if present == need { json!([m, p]) } else { json!([m, p, of(need)]) }
        })
        .collect();
    let problem = &screen.posed.problem;
    let repairs: BTreeMap<usize, Value> = nodes
        .cards
        .iter()
        .filter_map(|c| if let Card::Repair(r) = c { Some(*r) } else { None })
        .map(|r| {
            let it = &problem.repairs[r];
            let removes: Vec<usize> = used.iter().filter(|s| it.removes >> **s & 1 == 1).map(|s| place[s]).collect();
            (r, json!({"id": it.id, "removes": removes, "fails": short(it.fails)}))
        })
        .collect();
    let tests: BTreeSet<usize> =
        nodes.cards.iter().filter_map(|c| if let Card::Test(t) = c { Some(*t) } else { None }).collect();
    let readings = tests.iter().flat_map(|t| &problem.tests[*t].readings).map(|&r| (r, reading(page, r, &place)));
    let readings: BTreeMap<usize, Value> = readings.collect();
    let tests: BTreeMap<usize, Value> = tests
        .iter()
        .map(|&t| {
            let step = &problem.tests[t];
            // Whether the readings asked for are all that the test has.
            let whole = screen.base.test(&step.id).is_some_and(|test| test.readings.len() == step.readings.len());
            (t, json!({"id": step.id, "readings": step.readings, "whole": whole}))
        })
        .collect();
    let returns: Vec<Value> = problem
        .returns
        .iter()
        .filter_map(|r| Some(json!([place.get(&r.victim)?, place.get(&r.cause)?, short(r.chance)])))
        .collect();
    let value = json!({
        "suspects": suspects, "worlds": worlds, "readings": readings, "tests": tests, "repairs": repairs, "returns": returns,
        "nodes": nodes.list, "opening": page.opening, "again": page.again, "next": page.next,
        "cut": {"depth": screen.cut.depth, "least": short(100.0 * screen.cut.least)},
    });
    leaders.sort_by(|a, b| b.1.total_cmp(&a.1));
    let cards = nodes.cards.into_iter().map(|c| (c.clone(), drawn.contains(&c))).collect();
    Some(Data { value, cards, covered, followed: nodes.followed, leaders })
}

/// What is described of a step.
fn card(step: Step) -> Card {
    match step {
        Step::Test(t) => Card::Test(t),
        Step::Repair(r) | Step::Mend(r) => Card::Repair(r),
        Step::Verify => Card::Verify,
        Step::HandOn => Card::HandOn,
    }
}

/// The cards of what the drawing has.
fn seen(node: &Node, page: &PlanPage<'_>, depth: usize, out: &mut BTreeSet<Card>) {
    out.insert(card(node.step));
    let cut = page.drawn.cut;
    for b in node.branches.iter().filter(|b| b.mass >= cut.least && depth + 1 < cut.depth) {
        if let Some(then) = &b.then {
            seen(then, page, depth + 1, out);
        }
    }
}

struct Nodes<'p> {
    page: &'p PlanPage<'p>,
    list: Vec<Value>,
    cards: Vec<Card>,
    followed: f64,
}

impl Nodes<'_> {
    /// Adds the node with all that follows; its place.
    fn add(&mut self, node: &Node, depth: usize, spent: Spend) -> usize {
        let at = self.list.len();
        self.list.push(Value::Null);
        let (screen, cut) = (self.page.screen, self.page.screen.cut);
        let card = card(node.step);
        let told = self.cards.iter().position(|c| *c == card).unwrap_or_else(|| {
            self.cards.push(card);
            self.cards.len() - 1
        });
        if node.step == Step::HandOn {
            self.followed += node.mass;
        }
        let spent = spent + node.spend;
        let money = |s: Spend| amount(s.cost(screen.shop.aim), screen.shop);
        let kept: Vec<&Branch> =
            node.branches.iter().filter(|b| b.mass >= cut.least && depth + 1 < cut.depth).collect();
        let branches: Vec<Value> = kept
            .into_iter()
            .map(|b| {
                let then = match &b.then {
                    Some(then) => json!(self.add(then, depth + 1, spent)),
                    None => {
                        self.followed += b.mass;
                        Value::Null
                    }
                };
                let shows = match &b.shows {
                    Shows::Levels(levels) => json!(levels),
                    Shows::Else => json!("else"),
                    Shows::Gone => json!("gone"),
                    Shows::StillThere => json!("still"),
                    Shows::Unseen => json!("unseen"),
                };
                json!([shows, percent(b.mass / node.mass), then, harmless(&screen.shows(node.step, &b.shows))])
            })
            .collect();
        let mend = matches!(node.step, Step::Mend(_));
        // What all cars come to, and what was not spent before, need not be told.
        let took = |s: Spend| format!("{}, {}", minutes(s.minutes), money(s));
        let mut facts = Vec::new();
        let so_far = if depth > 0 { format!(" ({} so far)", took(spent)) } else { String::new() };
        facts.push(match node.step {
            Step::HandOn => format!("{} so far.", took(spent)),
            _ => format!("{} with what prepares it{so_far}.", took(node.spend)),
        });
        facts.push(format!("From here to the end {} on average.", money(node.ahead)));
        if node.mass < 0.995 {
            facts.push(format!("{} of cars come here.", percent(node.mass)));
        }
        let facts = facts.join(" ");
        self.list[at] = json!({
            "kind": kind(node.step), "id": screen.posed.problem.id(node.step), "card": told, "mend": mend, "facts": facts,
            "of": match node.step { Step::Test(t) => Some(t), Step::Repair(r) | Step::Mend(r) => Some(r), _ => None },
            "out": branches,
        });
        at
    }
}

type World = (Vec<usize>, Vec<usize>, f64);

/// The likeliest worlds, the share that they hold, and the suspects that occur in them.
fn worlds(page: &PlanPage<'_>) -> (Vec<World>, f64, Vec<usize>) {
    let bits = |set: u128| (0..128).filter(|i| set >> i & 1 == 1).collect::<Vec<usize>>();
    let mut full: Vec<_> = page.screen.posed.full.iter().filter(|w| w.1 >= LEAST_WORLD).collect();
    full.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    full.truncate(MOST_WORLDS);
    let all: f64 = page.screen.posed.full.iter().map(|w| w.1).sum::<f64>().max(1.0);
    let covered = full.iter().map(|w| w.1).sum::<f64>() / all;
    let used = full.iter().fold(0, |all, w| all | w.0.present);
    let list = full.iter().map(|(t, m)| (bits(t.present), bits(t.need), *m)).collect();
    (list, covered, bits(used))
}

/// A reading: what it shows without and with each suspect, its levels, and its number if it is one.
fn reading(page: &PlanPage<'_>, at: usize, place: &BTreeMap<usize, usize>) -> Value {
    let model = &page.screen.posed.problem.readings[at];
    let digits = |cdf: &[f64]| cdf.iter().map(|p| short(*p)).collect::<Vec<f64>>();
    let links: Vec<Value> =
        model.links.iter().filter_map(|(s, cdf)| place.get(s).map(|s| json!([s, digits(cdf)]))).collect();
    let entry = page.screen.base.reading(&model.id).map(|(_, r)| r);
    let number = entry.and_then(|r| r.measure.as_ref()).and_then(NumberForm::of);
    json!({
        "id": model.id, "name": entry.map(|r| &r.name), "levels": entry.map(|r| &r.levels), "base": digits(&model.background),
        "links": links, "number": number.map(|n| {
            let units: BTreeMap<&str, (f64, f64)> = n.units.iter().map(|(s, a, b)| (*s, (*a, *b))).collect();
            json!({"units": units, "tables": n.tables, "unit": n.units[0].0, "under": n.under.map(|u| u.1)})
        }),
    })
}
