//! One vehicle's decision problem as bare numbers: tests, repairs and their costs. Where they come from is in `pose`.

use super::{Aim, Spend, State, Step, Universe};

/// The most suspects, tests, repairs or setups that one problem holds: sets of them are bits of one `u128`.
pub const MOST: usize = 128;

/// A test on offer.
#[derive(Clone, Debug, PartialEq)]
pub struct TestStep {
    /// Test id.
    pub id: String,
    /// Without setups.
    pub spend: Spend,
    /// Setups it needs, as bits.
    pub setups: u128,
    /// What is paid for once it is done, as bits: its setups, and its own time where a repair holds that too.
    pub leaves: u128,
    /// Whether some of its readings were taken already, so that whoever took them has been there.
    pub begun: bool,
    /// Its readings, as places in [`Problem::readings`].
    pub readings: Vec<usize>,
}

/// What speaks for a repair, the weakest first.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Backing {
    /// Codes and symptoms alone.
    #[default]
    Codes,
    /// A reading that may also come from what other repairs deal with.
    Reading,
    /// A reading that nothing but what it removes often shows, or the fault itself, seen.
    Shown,
}

/// A repair on offer, the re-test included.
#[derive(Clone, Debug, PartialEq)]
pub struct RepairStep {
    /// `part/repair`.
    pub id: String,
    /// With the re-test.
    pub spend: Spend,
    /// Without it.
    pub alone: Spend,
    /// What its labour holds that a test may have paid for, as bits of [`Problem::setups`]: access, and finding the place.
    pub holds: u128,
    /// Tests that are made before it wherever they cost little beside it, as bits of [`Problem::tests`].
    pub after: u128,
    /// What its parts cost.
    pub parts: f64,
    /// What it costs on top where nothing that it removes was there: parts that cannot be sent back, and beginning
    /// anew.
    pub vain: Spend,
    /// What speaks for it.
    pub backing: Backing,
    /// Whether all that it removes of what is in question was measured by itself and found good.
    pub found_good: bool,
    /// Suspects it removes, as bits.
    pub removes: u128,
    /// All suspects of the part that it is made on, as bits.
    pub part: u128,
    /// Chance that one of them stays.
    pub fails: f64,
}

/// A fault that its cause brings back: a fuse that blows again, oil on a new catalyst.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Return {
    /// The fault brought about, a place in [`Problem::suspects`].
    pub victim: usize,
    /// What brings it about.
    pub cause: usize,
    /// Chance that a victim that was repaired is back while the cause is present.
    pub chance: f64,
}

/// How a reading depends on the suspects of the problem.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadingModel {
    /// `test:reading`.
    pub id: String,
    /// P(level <= l | no suspect of the problem), the last one 1; suspects outside the problem are averaged in.
    pub background: Vec<f64>,
    /// For each suspect of the problem that it reveals: P(level <= l | that suspect alone).
    pub links: Vec<(usize, Vec<f64>)>,
}

impl ReadingModel {
    /// P(level <= l | these suspects present), one number per level: noisy-MAX.
    pub fn cumulative(&self, present: u128, out: &mut Vec<f64>) {
        out.clear();
        out.extend_from_slice(&self.background);
        for (suspect, cdf) in &self.links {
            if present >> suspect & 1 == 1 {
                out.iter_mut().zip(cdf).for_each(|(o, c)| *o *= c);
            }
        }
    }
}

/// The decision problem.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// Which suspects of the network take part.
    pub suspects: Vec<usize>,
    /// Tests on offer.
    pub tests: Vec<TestStep>,
    /// Repairs on offer.
    pub repairs: Vec<RepairStep>,
    /// Readings of the tests.
    pub readings: Vec<ReadingModel>,
    /// Faults that come back while their cause is there. A world whose `need` holds such a victim holds its cause too.
    pub returns: Vec<Return>,
    /// Setups, with their ids; and tests whose time is within a repair's.
    pub setups: Vec<(String, Spend)>,
    /// Cost of handing on, without the repair that others then have to make; see [`Problem::owed`].
    pub hand_on: Spend,
    /// Cost of a re-test alone.
    pub verify: Spend,
    /// What is kept small.
    pub aim: Aim,
    /// For each repair, the tests that may be done again after it: those that look at something it touches. Any other
    /// test would show what it showed before.
    pub again: Vec<u128>,
    /// Setups already paid for.
    pub paid: u128,
    /// Tests already done in the present epoch.
    pub done: u128,
    /// Whether a repair was made before the problem was posed.
    pub repaired: bool,
}

impl Problem {
    /// What the step costs when these setups are paid for.
    #[must_use]
    pub fn spend(&self, step: Step, paid: u128) -> Spend {
        match step {
            Step::Test(t) => {
                let test = &self.tests[t];
                bits(test.setups & !paid).fold(test.spend, |sum, s| sum + self.setups[s].1)
            }
            Step::Repair(r) => self.repairs[r].spend.less(self.saved(r, paid)),
            Step::Mend(r) => self.repairs[r].alone.less(self.saved(r, paid)),
            Step::Verify => self.verify,
            Step::HandOn => self.hand_on,
        }
    }

    /// What a repair no longer costs when these setups are paid for: at most two thirds of its labour, since the numbers were
    /// judged one by one.
    fn saved(&self, repair: usize, paid: u128) -> Spend {
        let r = &self.repairs[repair];
        let whole = bits(r.holds & paid).fold(Spend::default(), |sum, s| sum + self.setups[s].1);
        let most = 2.0 / 3.0 * r.alone.minutes;
        if whole.minutes > most { whole.times(most / whole.minutes) } else { whole }
    }

    /// The same as the one number that is kept small.
    #[must_use]
    pub fn cost(&self, step: Step, paid: u128) -> f64 {
        self.spend(step, paid).cost(self.aim)
    }

    /// What it costs others to repair what keeps the complaint up, once they have found it: for each suspect not yet
    /// dealt with the cheapest repair that removes it, whatever else that repair removes being dealt with as well. A
    /// suspect that no repair here removes is not counted, for nobody knows.
    ///
    /// Handing on saves the search, never the repair; without this a dear repair would always be handed on, however
    /// sure its need.
    #[must_use]
    pub fn owed(&self, need: u128) -> Spend {
        let (mut sum, mut open) = (Spend::default(), need);
        for suspect in bits(need) {
            if open >> suspect & 1 == 0 {
                continue;
            }
            let fits = self.repairs.iter().filter(|r| r.removes >> suspect & 1 == 1);
            if let Some(r) = fits.min_by(|a, b| a.spend.cost(self.aim).total_cmp(&b.spend.cost(self.aim))) {
                sum = sum + r.spend;
                open &= !r.removes;
            }
        }
        sum
    }

    /// What the step costs in this state, times its mass: with what a part fitted in vain costs on top, and for handing on
    /// what others have to repair.
    #[must_use]
    pub fn pay(&self, universe: &Universe, state: &State, step: Step) -> f64 {
        if step == Step::HandOn {
            return state.hand_on(self, universe);
        }
        let own = state.mass * self.cost(step, state.paid);
        let vain = step.repair().map_or(0.0, |r| self.repairs[r].vain.cost(self.aim));
        if vain > 0.0 { own + vain * step.repair().map_or(0.0, |r| state.in_vain(universe, r)) } else { own }
    }

    /// The id of what the step does; `verify` and `hand-on` stand for themselves.
    #[must_use]
    pub fn id(&self, step: Step) -> &str {
        match step {
            Step::Test(t) => &self.tests[t].id,
            Step::Repair(r) | Step::Mend(r) => &self.repairs[r].id,
            Step::Verify => "verify",
            Step::HandOn => "hand-on",
        }
    }
}

/// The places of the bits that are set.
pub fn bits(mut set: u128) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        let at = set.trailing_zeros();
        if at >= 128 {
            return None;
        }
        set &= set - 1;
        Some(at as usize)
    })
}
