//! What is told beside an event on a job: that it stands there already, replaces something, or shows less than it is taken to.

use super::{Io, Stop};
use jobs::store::Changed;
use jobs::{Event, Job, LIKELY_FIXED, Noted, Repaired, Standing, Status, Verdict, not_cured, proved};
use knowledge::Base;
use screens::text::percent;

/// Says so when what the last test has put right by the way is found once more: that may be true, or typed twice.
pub(super) fn told_again(changed: &Changed, io: &mut Io) -> Result<(), Stop> {
    let entry = |number: u32| changed.after.log.iter().find(|e| e.number == number && e.holds);
    let (Some(now), Some(last)) = (entry(changed.event), entry(changed.event - 1)) else { return Ok(()) };
    let (Event::Found(found), Event::Repaired(Repaired { with: Some(reading), .. })) = (&now.event, &last.event) else {
        return Ok(());
    };
    if found.results.iter().any(|r| r.reading == *reading && r.outcome == "fail") {
        let text = format!(
            "{reading} was found so before and put right; this says that it is so again. If it was typed twice, take it \
             back: faultodds job retract {}",
            changed.event
        );
        io.note(&text)?;
    }
    Ok(())
}

/// A repair that stands on the job already, with nothing seen since.
pub(super) enum Made {
    /// A test has made it by the way: what is told of it is kept as a note.
    ByTheWay { note: Noted },
    /// It was recorded just before.
    Twice,
}

impl Made {
    pub(super) fn in_words(&self) -> &'static str {
        match self {
            Self::ByTheWay { .. } => {
                "the test has made this repair already and it stands on the job; it is kept as a note and not counted twice"
            }
            Self::Twice => {
                "the same repair stands just before on the job, with nothing seen between: if it was typed twice, take it \
                 back with: faultodds job undo"
            }
        }
    }
}

/// Whether the event is a repair that the last event on the car has made already.
pub(super) fn made_already(job: &Job, event: &Event) -> Option<Made> {
    let Event::Repaired(now) = event else { return None };
    let nothing_seen = job.present().says_nothing();
    let (number, before) = job.visit().spans.iter().rev().nth(1)?.repair.as_ref()?;
    if !nothing_seen || *before != now.repair {
        return None;
    }
    let by = job.log.iter().find(|e| e.number == *number).and_then(|e| match &e.event {
        Event::Repaired(Repaired { with, .. }) => with.clone(),
        _ => None,
    });
    if by.is_none() {
        return Some(Made::Twice);
    }
    let words = now.note.as_ref().map_or(String::new(), |n| format!(": {n}"));
    let text = format!("{}, made with the test{words}", now.repair);
    Some(Made::ByTheWay { note: Noted { text, about: None, spent: now.spent } })
}

/// Says so when a cause is closed as confirmed and nothing has shown that the fault is gone.
pub(super) fn told_unproved(changed: &Changed, after: &Standing, base: &Base, io: &mut Io) -> Result<(), Stop> {
    let Status::Closed { how, .. } = &changed.after.status else { return Ok(()) };
    let just_closed = changed.before.status == Status::Open;
    let likely = after.fixed.is_none_or(|f| f >= LIKELY_FIXED);
    if !just_closed || how.verdict != Verdict::Confirmed || proved(&changed.after, base) && likely {
        return Ok(());
    }
    let back = not_cured(&changed.after, base);
    let lead = match after.fixed {
        Some(fixed) if back || proved(&changed.after, base) => format!(
            "closed as confirmed on your word: {}, and by what was seen the fault is gone with {}.",
            if back {
                "a re-test since the repair showed the fault again"
            } else {
                "the checks ran and stored nothing"
            },
            percent(fixed)
        ),
        _ if after.epoch() == 0 => "closed as confirmed on your word: no repair is on this job.".to_owned(),
        Some(fixed) => format!(
            "closed as confirmed on your word: nothing was re-tested since the repair, and by what was seen the fault is \
             gone with {}.",
            percent(fixed)
        ),
        None => "closed as confirmed on your word: nothing was re-tested since the repair.".to_owned(),
    };
    let job = changed.after.number;
    io.note(&format!(
        "{lead} What would show it: faultodds job show --job {job} --proof. To go on: faultodds job undo; a cause that is \
         only believed in is closed with --as unsure"
    ))?;
    Ok(())
}

/// Says so when an outcome takes the place of another one of the same reading.
pub(super) fn told_replaced(changed: &Changed, io: &mut Io) -> Result<(), Stop> {
    let (before, after) = (changed.before.present(), changed.after.present());
    for now in after.results.iter().filter(|r| r.event == changed.event) {
        let earlier = before.results.iter().find(|r| r.reading == now.reading && r.outcome != now.outcome);
        if let Some(earlier) = earlier {
            let (reading, was, event) = (&now.reading, &earlier.outcome, earlier.event);
            io.note(&format!("{reading} was {was} in event {event}; what is said now takes its place"))?;
        }
    }
    Ok(())
}
