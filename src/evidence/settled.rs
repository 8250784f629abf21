//! What a car must have, because of what was seen on it: the equipment behind a code that only such cars store, a test that
//! was answered, a part that was found or renewed. Turns what was said into equipment; computes no probability.

use super::already::renewed;
use super::{Epoch, History, Look, Outcome};
use knowledge::base::{Base, Covers, Factor, FactorInput, Symptom, Vehicle};
use std::collections::BTreeSet;

impl History {
    /// The vehicle with the equipment that what was seen settles. What was said of the vehicle itself stands: a choice
    /// that it names already is left alone.
    #[must_use]
    pub fn settle(&self, base: &Base, vehicle: &Vehicle) -> Vehicle {
        let mut out = vehicle.clone();
        self.count_facts_once(base, &mut out);
        for option in self.settles(base) {
            let Some((choice, _)) = base.equipment_option(&option) else { continue };
            if !choice.options.iter().any(|o| out.equipment.contains(&o.id)) {
                out.equipment.push(option);
            }
        }
        out
    }

    /// A symptom noticed and a circumstance said that are the same fact count once: the circumstance is dropped here where
    /// the symptom says more; otherwise the symptom is passed over when the history is told.
    fn count_facts_once(&self, base: &Base, vehicle: &mut Vehicle) {
        let noticed: Vec<&Symptom> =
            self.epochs.iter().flat_map(|e| &e.symptoms).filter_map(|s| base.symptom(s)).collect();
        vehicle.circumstances.retain(|word| {
            let Some(factor) = factor_of(base, word) else { return true };
            let same = noticed.iter().filter(|s| s.fact.is_some() && s.fact == factor.fact);
            !same.into_iter().any(|s| most_said(base, s) > factor.highest())
        });
    }

    /// The equipment options that what was seen needs.
    pub(super) fn settles(&self, base: &Base) -> Vec<String> {
        let mut needed: BTreeSet<&str> = BTreeSet::new();
        for e in &self.epochs {
            seen(e, base, &mut needed);
        }
        needed.into_iter().map(str::to_owned).collect()
    }
}

/// The circumstance factor of a word.
fn factor_of<'b>(base: &'b Base, word: &str) -> Option<&'b Factor> {
    let says = |f: &&Factor| f.bands.iter().any(|b| matches!(&b.covers, Covers::Word(w) if w == word));
    base.factors.iter().filter(|f| f.input == FactorInput::Circumstance).find(says)
}

/// Whether a circumstance said of the vehicle is the same fact as the symptom, so that the symptom adds nothing.
pub(super) fn said_already(base: &Base, vehicle: &Vehicle, symptom: &str) -> bool {
    let fact = base.symptom(symptom).and_then(|s| s.fact.as_ref());
    let same = |word: &String| factor_of(base, word).is_some_and(|f| f.fact.as_ref() == fact);
    fact.is_some() && vehicle.circumstances.iter().any(same)
}

/// The most that the symptom multiplies the odds of any suspect by.
fn most_said(base: &Base, symptom: &Symptom) -> f64 {
    let links = base.suspects().flat_map(|(_, s)| &s.symptoms).filter(|l| l.symptom == symptom.id);
    links.map(|l| l.p.get() / symptom.background.get()).fold(1.0, f64::max)
}

fn seen<'b>(e: &Epoch, base: &'b Base, needed: &mut BTreeSet<&'b str>) {
    for code in e.codes.iter().filter_map(|c| base.code(c)) {
        // Openings set the codes of a check that senses them without being listed with the code.
        if base.monitor(&code.monitor).is_some_and(|m| m.senses.is_some()) {
            continue;
        }
        let causes = code.sets.iter().filter_map(|l| base.suspect(&l.suspect)).map(|(_, s)| s.requires.as_slice());
        needed.extend(common(causes));
    }
    let told = |o: &Outcome| !matches!(o, Outcome::Unclear);
    for (reading, _) in e.results.iter().filter(|r| told(&r.1)) {
        if let Some((test, _)) = base.reading(reading) {
            needed.extend(test.requires.iter().map(String::as_str));
        }
    }
    for (suspect, _) in e.looks.iter().filter(|l| l.1 == Look::Found) {
        if let Some((_, s)) = base.suspect(suspect) {
            needed.extend(s.requires.iter().map(String::as_str));
        }
    }
    for repair in &e.repairs {
        if let Some((_, r)) = base.repair(renewed(repair).0) {
            let removed = r.removes.iter().filter_map(|s| base.suspect(s)).map(|(_, s)| s.requires.as_slice());
            needed.extend(common(removed));
        }
    }
}

/// Options that all of the lists name.
fn common<'b>(lists: impl Iterator<Item = &'b [String]>) -> Vec<&'b str> {
    let mut all: Option<Vec<&'b str>> = None;
    for list in lists {
        let list: Vec<&str> = list.iter().map(String::as_str).collect();
        all = Some(match all {
            None => list,
            Some(so_far) => so_far.into_iter().filter(|o| list.contains(o)).collect(),
        });
    }
    all.unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn has(epoch: Epoch, said: &[&str]) -> Vec<String> {
        let vehicle = Vehicle { equipment: said.iter().map(|s| (*s).to_owned()).collect(), ..Vehicle::default() };
        History::visit(Vec::new(), epoch).settle(&shipped::base().unwrap(), &vehicle).equipment
    }

    #[test]
    fn what_was_found_says_what_the_car_has() {
        let looks = vec![("filler-cap/seal-worn".to_owned(), Look::Found)];
        assert_eq!(has(Epoch { looks: looks.clone(), ..Epoch::default() }, &[]), ["screw-cap"]);
        assert_eq!(has(Epoch { looks, ..Epoch::default() }, &["capless"]), ["capless"]);
        let looks = vec![("filler-cap/seal-worn".to_owned(), Look::Sound)];
        assert!(has(Epoch { looks, ..Epoch::default() }, &[]).is_empty());
    }

    #[test]
    fn a_code_that_only_some_cars_store_says_so_and_a_repair_too() {
        let epoch = Epoch { codes: vec!["P043E".to_owned()], ..Epoch::default() };
        let only = has(epoch, &[]);
        let epoch = Epoch { repairs: vec!["filler-cap/replace-cap".to_owned()], ..Epoch::default() };
        assert_eq!(has(epoch, &[]), ["screw-cap"]);
        assert!(only.iter().all(|o| shipped::base().unwrap().equipment_option(o).is_some()));
    }
}
