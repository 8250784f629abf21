//! Where in a base a learned number stands: reading it, writing it, naming it.

use crate::number::{Number, What};
use knowledge::base::{Base, NOT_LISTED_PREFIX, SuspectLink};
use knowledge::number::{Minutes, Money, Probability, Weight};

fn prob(value: f64) -> Option<Probability> {
    Probability::new(value).ok()
}

/// Place of an abnormal level among a reading's numbers.
fn level_of(base: &Base, n: &Number) -> Option<usize> {
    let (_, reading) = base.reading(&n.on)?;
    reading.levels.iter().position(|l| *l == n.level)?.checked_sub(1)
}

/// The number as the base has it.
pub(super) fn get(base: &Base, n: &Number) -> Option<f64> {
    let not_listed = n.of.strip_prefix(NOT_LISTED_PREFIX).map(|m| base.monitor(m));
    Some(match n.what {
        What::Prior => match not_listed {
            Some(m) => m?.not_listed.prior.get(),
            None => base.suspect(&n.of)?.1.prior.get(),
        },
        What::Sets => match not_listed {
            Some(m) => m?.not_listed.sets.iter().find(|(code, _)| *code == n.on)?.1.get(),
            None => base.code(&n.on)?.sets.iter().find(|l| l.suspect == n.of)?.p.first()?.get(),
        },
        What::Detects => {
            let link = base.reading(&n.on)?.1.detects.iter().find(|l| l.suspect == n.of)?;
            link.p.get(level_of(base, n)?)?.get()
        }
        What::FalseAlarm => base.reading(&n.on)?.1.false_alarm.get(level_of(base, n)?)?.get(),
        What::Minutes => {
            base.repair(&n.of).map(|(_, r)| r.minutes).or_else(|| base.test(&n.of).map(|t| t.minutes))?.get()
        }
        What::Price => base.repair(&n.of)?.1.parts_cost.get(),
    })
}

/// Whether the base holds this very number as one of its own. Links that follow from the size of an opening are computed
/// when the network is built, and what a file says of such a suspect means something else.
pub(crate) fn stands(base: &Base, n: &Number) -> bool {
    get(base, n).is_some_and(|now| (now - n.old).abs() <= 1e-9 * n.old.abs().max(1e-9))
}

/// The weight that the base keeps with the number alone; one that is shared with other numbers is left alone.
pub(super) fn weight(base: &Base, n: &Number) -> Option<f64> {
    match n.what {
        What::Prior => base.suspect(&n.of).map(|(_, s)| s.weight.get()),
        What::Sets => base.code(&n.on)?.sets.iter().find(|l| l.suspect == n.of).map(|l| l.weight.get()),
        _ => None,
    }
}

/// Writes the number; false when the base has no such place or the number does not fit there.
pub(super) fn set(base: &mut Base, n: &Number, value: f64, weight: Option<f64>) -> bool {
    write(base, n, value, weight).is_some()
}

fn write(base: &mut Base, n: &Number, value: f64, weight: Option<f64>) -> Option<()> {
    let level = level_of(base, n);
    let monitor = n.of.strip_prefix(NOT_LISTED_PREFIX).map(str::to_owned);
    let weigh = |to: &mut Weight| {
        if let Some(w) = weight.and_then(|w| Weight::new(w).ok()) {
            *to = w;
        }
    };
    match (n.what, monitor) {
        (What::Prior, Some(m)) => base.monitors.iter_mut().find(|x| x.id == m)?.not_listed.prior = prob(value)?,
        (What::Prior, None) => {
            let s = base.parts.iter_mut().flat_map(|p| &mut p.suspects).find(|s| s.id == n.of)?;
            s.prior = prob(value)?;
            weigh(&mut s.weight);
        }
        (What::Sets, Some(m)) => {
            let sets = &mut base.monitors.iter_mut().find(|x| x.id == m)?.not_listed.sets;
            sets.iter_mut().find(|(code, _)| *code == n.on)?.1 = prob(value)?;
        }
        (What::Sets, None) => {
            let link: &mut SuspectLink =
                base.codes.iter_mut().find(|c| c.id == n.on)?.sets.iter_mut().find(|l| l.suspect == n.of)?;
            *link.p.first_mut()? = prob(value)?;
            weigh(&mut link.weight);
        }
        (What::Detects | What::FalseAlarm, _) => {
            let reading = base.tests.iter_mut().flat_map(|t| &mut t.readings).find(|r| r.id == n.on)?;
            let p = if n.what == What::FalseAlarm {
                reading.false_alarm.get_mut(level?)?
            } else {
                reading.detects.iter_mut().find(|l| l.suspect == n.of)?.p.get_mut(level?)?
            };
            *p = prob(value)?;
        }
        (What::Minutes, _) => {
            let repair =
                base.parts.iter_mut().flat_map(|p| &mut p.repairs).find(|r| r.id == n.of).map(|r| &mut r.minutes);
            let to = repair.or_else(|| base.tests.iter_mut().find(|t| t.id == n.of).map(|t| &mut t.minutes))?;
            *to = Minutes::new(value).ok()?;
        }
        (What::Price, _) => {
            base.parts.iter_mut().flat_map(|p| &mut p.repairs).find(|r| r.id == n.of)?.parts_cost =
                Money::new(value).ok()?;
        }
    }
    Some(())
}

/// The number in words, for messages.
pub(super) fn name(n: &Number) -> String {
    let level = if n.level.is_empty() { String::new() } else { format!(" at `{}`", n.level) };
    match n.what {
        What::Prior => format!("prevalence of `{}`", n.of),
        What::Sets => format!("P({} | `{}`)", n.on, n.of),
        What::Detects => format!("P(`{}`{level} | `{}`)", n.on, n.of),
        What::FalseAlarm => format!("false alarm of `{}`{level}", n.on),
        What::Minutes => format!("time for `{}`", n.of),
        What::Price => format!("price of `{}`", n.of),
    }
}
