//! Which event may follow on a job. Everything that is stored has passed here; loading and import pass here again.

use super::event::Event;
use super::job::{Job, Status};
use super::refused::Refused;

impl Job {
    /// Whether the event may come next.
    ///
    /// # Errors
    /// [`Refused`] says why not.
    pub fn accepts(&self, event: &Event) -> Result<(), Refused> {
        let number = self.number;
        let open = || match self.status {
            Status::Open => Ok(()),
            Status::Closed { .. } => Err(Refused::Closed { number }),
        };
        match event {
            Event::Opened(_) => Err(Refused::NotOpening),
            Event::Found(f) | Event::Retested(f) => {
                open()?;
                if f.is_empty() && f.spent.is_empty() { Err(Refused::Empty) } else { Ok(()) }
            }
            Event::Repaired(_) | Event::Closed(_) | Event::Skipped(_) => open(),
            Event::Arranged(a) if *a == super::terms::Arranged::default() => Err(Refused::Empty),
            Event::Arranged(_) => open(),
            Event::Noted(n) if n.text.is_empty() && n.spent.is_empty() => Err(Refused::Empty),
            Event::Noted(_) => Ok(()),
            Event::Amended(a) if *a == super::event::Amended::default() => Err(Refused::Empty),
            Event::Amended(_) => Ok(()),
            Event::Retracted(r) => {
                open()?;
                self.may_retract(r.event, r.what.as_deref())
            }
            Event::Reopened(_) if self.status == Status::Open => Err(Refused::Open { number }),
            Event::Reopened(_) => Ok(()),
            Event::Undone(u) => match self.last_undoable() {
                None => Err(Refused::NothingToUndo { number }),
                Some(last) if last == u.event => Ok(()),
                Some(_) => Err(Refused::NotLast { number, event: u.event }),
            },
        }
    }

    fn may_retract(&self, event: u32, what: Option<&str>) -> Result<(), Refused> {
        let missing = Refused::NoEvent { number: self.number, event };
        let entry = self.log.iter().find(|e| e.number == event && e.holds).ok_or(missing)?;
        let Some(what) = what else {
            return match entry.event {
                Event::Found(_) | Event::Retested(_) | Event::Repaired(_) if !self.is_retracted(event, None) => Ok(()),
                Event::Found(_) | Event::Retested(_) | Event::Repaired(_) => {
                    Err(Refused::NotSaid { event, what: "anything".to_owned() })
                }
                _ => Err(Refused::NotRetractable { event }),
            };
        };
        let says = entry.event.found().is_some_and(|f| f.says(what));
        if says && !self.is_retracted(event, None) && !self.is_retracted(event, Some(what)) {
            Ok(())
        } else {
            Err(Refused::NotSaid { event, what: what.to_owned() })
        }
    }

    /// Number of the last event that `undo` would take back: an undone one and the undoing itself do not count.
    #[must_use]
    pub fn last_undoable(&self) -> Option<u32> {
        let last = self.log.iter().rev().find(|e| e.holds && !matches!(e.event, Event::Undone(_)))?;
        (!matches!(last.event, Event::Opened(_))).then_some(last.number)
    }
}
