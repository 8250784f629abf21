//! The whole order in which a test or a repair is done on one car: its cautions, the setups that it names and those
//! that its acts call for, its own steps, and what undoes the setups. What a car is known not to have is left out.

use super::acts::Act;
use super::base::{Base, Caution, Repair, Setup, Test, Vehicle};

/// Whether a car has what a caution or a setup is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fitted {
    /// It has, or nothing special is needed.
    Has,
    /// Nobody has said.
    May,
    /// It has another kind.
    Not,
}

/// Whether the car has all of these equipment options.
#[must_use]
pub fn fitted(base: &Base, vehicle: &Vehicle, options: &[String]) -> Fitted {
    let mut all = Fitted::Has;
    for option in options.iter().filter(|o| !vehicle.equipment.contains(o)) {
        let other = base
            .equipment_option(option)
            .is_some_and(|(choice, _)| choice.options.iter().any(|o| vehicle.equipment.contains(&o.id)));
        if other {
            return Fitted::Not;
        }
        all = Fitted::May;
    }
    all
}

/// A caution or a setup as it concerns one car.
#[derive(Clone, Copy, Debug)]
pub struct For<'b, T> {
    /// The entry.
    pub entry: &'b T,
    /// What the car would need to have for it to count, where nobody has said that it has.
    pub only_if: Option<&'b str>,
}

/// How something is done, in order.
#[derive(Clone, Debug)]
pub struct Procedure<'b> {
    /// Cautions, those of the setups included, each once, in the order of their ids.
    pub cautions: Vec<For<'b, Caution>>,
    /// Setups, those that the acts call for first.
    pub setups: Vec<For<'b, Setup>>,
    /// The steps of the test or repair itself.
    pub steps: Vec<&'b str>,
    /// What undoes the setups, the last one first.
    pub afterwards: Vec<String>,
}

impl Procedure<'_> {
    /// Everything that is done, one action each: the setups, the steps, and what undoes the setups.
    #[must_use]
    pub fn in_order(&self) -> Vec<String> {
        let setups = self.setups.iter().flat_map(|s| s.entry.does.iter().map(|step| s.say(step)));
        let rest = self.steps.iter().map(|step| (*step).to_owned()).chain(self.afterwards.iter().cloned());
        setups.chain(rest).collect()
    }
}

impl<T> For<'_, T> {
    /// `words`, behind "where the car has …" when nobody has said that it has.
    #[must_use]
    pub fn say(&self, words: &str) -> String {
        self.only_if.map_or_else(|| words.to_owned(), |what| format!("If the car has {what}: {words}"))
    }
}

/// The setups of a test on any car: those that its acts call for, then those that it names.
#[must_use]
pub fn setups_of_test<'b>(base: &'b Base, test: &Test) -> Vec<&'b Setup> {
    let own: Vec<&Setup> = test.setups.iter().filter_map(|id| base.setup(id)).collect();
    let acts: Vec<Act> = test.acts.iter().chain(own.iter().flat_map(|s| &s.acts)).copied().collect();
    let mut all = called(base, &acts, &test.setups);
    all.extend(own);
    all
}

/// The setups that acts call for, without those already there.
#[must_use]
pub fn called<'b>(base: &'b Base, acts: &[Act], there: &[String]) -> Vec<&'b Setup> {
    let calls = |s: &&Setup| s.called_by.iter().any(|a| acts.contains(a)) && !there.contains(&s.id);
    base.setups.iter().filter(calls).collect()
}

/// How a test is done on this car.
#[must_use]
pub fn of_test<'b>(base: &'b Base, test: &'b Test, vehicle: &Vehicle) -> Procedure<'b> {
    let setups = setups_of_test(base, test);
    put_together(base, vehicle, setups, &test.cautions, test.steps.iter().map(String::as_str).collect())
}

/// How a repair is done on this car.
#[must_use]
pub fn of_repair<'b>(base: &'b Base, repair: &'b Repair, vehicle: &Vehicle) -> Procedure<'b> {
    let setups = called(base, &repair.acts, &[]);
    put_together(base, vehicle, setups, &repair.cautions, vec![&repair.does])
}

fn put_together<'b>(
    base: &'b Base,
    vehicle: &Vehicle,
    setups: Vec<&'b Setup>,
    own: &'b [String],
    steps: Vec<&'b str>,
) -> Procedure<'b> {
    let only_if = |options: &'b [String]| match fitted(base, vehicle, options) {
        Fitted::Has => Some(None),
        Fitted::May => Some(options.first().map(|o| base.equipment_option(o).map_or(o.as_str(), |(_, x)| &x.name))),
        Fitted::Not => None,
    };
    let setups: Vec<For<'b, Setup>> =
        setups.into_iter().filter_map(|s| only_if(&s.requires).map(|only_if| For { entry: s, only_if })).collect();
    let mut ids: Vec<&str> =
        own.iter().chain(setups.iter().flat_map(|s| &s.entry.cautions)).map(String::as_str).collect();
    ids.sort_unstable();
    ids.dedup();
    let cautions = ids.into_iter().filter_map(|id| base.caution(id));
    let cautions = cautions.filter_map(|c| only_if(&c.requires).map(|only_if| For { entry: c, only_if })).collect();
    let afterwards = setups.iter().rev().flat_map(|s| s.entry.afterwards.iter().map(|step| s.say(step))).collect();
    Procedure { cautions, setups, steps, afterwards }
}

#[cfg(test)]
mod on_a_car {
    use super::*;
    use crate::check;
    use crate::files::Folder;
    use std::path::Path;

    #[test]
    fn a_sealed_tank_is_relieved_where_it_is_there_or_unknown() {
        let base = check(&Folder(Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../../kb")))).base;
        let car = |equipment: &[&str]| Vehicle {
            equipment: equipment.iter().map(|e| (*e).to_owned()).collect(),
            ..Vehicle::default()
        };
        let look = base.test("cap-look-reseat").unwrap();
        for (vehicle, there, asked) in
            [(car(&["sealed-tank"]), true, false), (car(&[]), true, true), (car(&["vented-tank"]), false, false)]
        {
            let done = of_test(&base, look, &vehicle);
            let relief = done.setups.iter().find(|s| s.entry.id == "sealed-tank-relieved");
            assert_eq!(relief.is_some(), there);
            assert_eq!(relief.is_some_and(|s| s.only_if.is_some()), asked);
            assert_eq!(done.cautions.iter().any(|c| c.entry.id == "sealed-tank-pressure"), there);
        }
    }

    #[test]
    fn what_a_setup_takes_down_comes_last() {
        let base = check(&Folder(Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../../kb")))).base;
        let hold = base.test("pressure-hold").unwrap();
        let done = of_test(&base, hold, &Vehicle::default());
        assert!(done.afterwards.iter().any(|s| s.contains("plug")), "{:?}", done.afterwards);
    }
}
