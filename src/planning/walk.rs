//! What a finished plan costs: worlds carried through its tree, exactly, whatever its decisions were based on.

use super::problem::Problem;
use super::state::State;
use super::tree::{Branch, Ending, Node, Shows};
use super::universe::Universe;
use super::{Spend, Step};
use rayon::prelude::*;

/// Carries worlds through a finished tree, likelier branches side by side.
#[derive(Clone, Copy)]
pub(super) struct Walk<'a> {
    pub problem: &'a Problem,
    pub universe: &'a Universe,
}

/// Worlds whose share of a state is below this leave it, and the others are scaled up: of ten thousand worlds, together
/// less than a thousandth.
const NEGLIGIBLE: f64 = 1e-7;

impl Walk<'_> {
    /// Returns the expected spending from here, times mass, and the ways in which the job ends.
    pub fn node(&self, node: &mut Node, state: State, before: Spend, repairs: &[usize]) -> (Spend, Vec<Ending>) {
        let spent = before + node.spend;
        let mass = state.mass;
        node.mass = mass;
        let mut made = repairs.to_vec();
        made.extend(node.step.repair());
        let hand_on = || state.hand_on_spend(self.problem, self.universe).times(1.0 / mass.max(f64::MIN_POSITIVE));
        if node.step == Step::HandOn {
            // What others have to repair is part of what handing on costs here.
            let hand_on = hand_on();
            node.spend = hand_on;
            node.ahead = hand_on;
            return (hand_on.times(mass), end(mass, before + hand_on, &made, false));
        }
        let mut own = node.spend.times(mass);
        let vain = self.vain(node.step, &state);
        // A branch that the tree does not have hands on.
        let (parts, stray) = self.parts(node, &state);
        let hand_on = if stray > 0.0 { hand_on() } else { Spend::default() };
        drop(state);
        let below = |(b, after): (&mut Branch, State)| {
            b.mass = after.mass;
            let spent = spent + vain.on_average(&b.shows, after.mass);
            match &mut b.then {
                Some(then) => self.node(then, negligible_dropped(after), spent, &made),
                None => (Spend::default(), end(after.mass, spent, &made, true)),
            }
        };
        let mut branches: Vec<&mut Branch> = node.branches.iter_mut().collect();
        let pairs: Vec<(&mut Branch, State)> = branches.drain(..).zip(parts).collect();
        let below: Vec<(Spend, Vec<Ending>)> = if mass > 0.01 {
            pairs.into_par_iter().map(below).collect()
        } else {
            pairs.into_iter().map(below).collect()
        };
        own = own + vain.each.times(vain.gone + vain.there);
        let mut ahead = own + hand_on.times(stray);
        let in_vain = vain.on_average(&Shows::StillThere, stray);
        let mut endings = end(stray, spent + hand_on + in_vain, &made, false);
        for (spend, more) in below {
            ahead = ahead + spend;
            endings.extend(more);
        }
        if mass > 0.0 {
            node.ahead = ahead.times(1.0 / mass);
        }
        (ahead, endings)
    }

    /// What a part costs on top where it is fitted in vain, and the masses of the worlds where it is.
    fn vain(&self, step: Step, state: &State) -> Vain {
        let Some(r) = step.repair() else { return Vain::default() };
        let mut out = Vain { each: self.problem.repairs[r].vain, ..Vain::default() };
        for &(w, m) in state.worlds.iter().filter(|w| self.universe.effect(w.0, r).is_none()) {
            if self.universe.worlds[w].need == 0 { out.gone += m } else { out.there += m }
        }
        out
    }

    /// The state of each branch, and the mass for which there is none.
    fn parts(&self, node: &Node, state: &State) -> (Vec<State>, f64) {
        let none = || State::new(Vec::new(), state.paid, state.done, state.made);
        if let Step::Mend(r) = node.step {
            let after = state.mended(self.problem, self.universe, r);
            let stray = if node.branches.is_empty() { after.mass } else { 0.0 };
            return (node.branches.iter().map(|_| after.clone()).collect(), stray);
        }
        let Step::Test(t) = node.step else {
            let after = state.still_there(self.problem, self.universe, node.step);
            let gone = (state.mass - after.mass).max(0.0);
            let mut stray = after.mass;
            let parts = node.branches.iter().map(|b| match b.shows {
                // Where the job is done only the mass counts.
                Shows::Gone => State { mass: gone, ..none() },
                _ => {
                    stray = 0.0;
                    after.clone()
                }
            });
            return (parts.collect(), stray);
        };
        let mut rest = state.worlds.clone();
        let mut parts: Vec<State> = Vec::with_capacity(node.branches.len());
        for b in &node.branches {
            parts.push(match &b.shows {
                Shows::Levels(levels) => self.shown(state, t, levels, &mut rest),
                _ => none(),
            });
        }
        // What is left over after subtraction is rounding unless it is a real share.
        rest.retain(|w| w.1 > 1e-15);
        let test = &self.problem.tests[t];
        let rest = State::new(rest, state.paid | test.leaves, state.done | 1 << t, state.made);
        match node.branches.iter().position(|b| b.shows == Shows::Else) {
            Some(other) => {
                parts[other] = rest;
                (parts, 0.0)
            }
            None if rest.mass > 1e-12 => (parts, rest.mass),
            None => (parts, 0.0),
        }
    }

    fn shown(&self, state: &State, test: usize, levels: &[u8], rest: &mut [(usize, f64)]) -> State {
        let t = &self.problem.tests[test];
        let mut worlds = state.worlds.clone();
        for (&reading, &level) in t.readings.iter().zip(levels) {
            let likelihood = self.universe.likelihood(reading, usize::from(level));
            worlds.iter_mut().for_each(|w| w.1 *= likelihood[w.0]);
        }
        rest.iter_mut().zip(&worlds).for_each(|(r, w)| r.1 -= w.1);
        State::new(worlds, state.paid | t.leaves, state.done | 1 << test, state.made)
    }
}

/// A part fitted in vain.
#[derive(Clone, Copy, Default)]
struct Vain {
    each: Spend,
    /// Mass of the worlds without it whose complaint was gone before.
    gone: f64,
    /// Mass of those whose complaint is still there.
    there: f64,
}

impl Vain {
    /// What it adds to each job of the branch on average.
    fn on_average(&self, shows: &Shows, mass: f64) -> Spend {
        let vain = match shows {
            Shows::Gone => self.gone,
            Shows::StillThere => self.there,
            _ => self.gone + self.there,
        };
        if vain > 0.0 && mass > 0.0 { self.each.times(vain / mass) } else { Spend::default() }
    }
}

fn end(mass: f64, spend: Spend, repairs: &[usize], fixed: bool) -> Vec<Ending> {
    if mass > 0.0 { vec![Ending { mass, spend, repairs: repairs.to_vec(), fixed }] } else { Vec::new() }
}

fn negligible_dropped(mut state: State) -> State {
    let least = NEGLIGIBLE * state.mass;
    state.worlds.retain(|w| w.1 >= least);
    let kept: f64 = state.worlds.iter().map(|w| w.1).sum();
    if kept > 0.0 {
        let by = state.mass / kept;
        state.worlds.iter_mut().for_each(|w| w.1 *= by);
    }
    state
}
