//! How events add up to a job. What may follow on what stands in `rules`.

use super::car::Car;
use super::car::Freeze;
use super::event::Event;
use super::found::Found;
use super::job::{Entry, Job, Showed, Span, Status, Visit};
use super::terms::Terms;
use std::collections::BTreeSet;

impl Job {
    pub(super) fn blank(number: i64, uid: &str, log: Vec<Entry>) -> Self {
        Self {
            number,
            uid: uid.to_owned(),
            log,
            car: Car::default(),
            reference: None,
            tried: None,
            freeze: Freeze::default(),
            visits: Vec::new(),
            status: Status::Open,
            minutes: 0.0,
            cost: 0.0,
            terms: Terms::default(),
            retracted: BTreeSet::new(),
        }
    }

    pub(super) fn refold(&mut self) {
        let log = std::mem::take(&mut self.log);
        *self = Self::blank(self.number, &self.uid, Vec::new());
        self.visits.push(Visit { already: Vec::new(), spans: vec![Span::default()] });
        for e in log.iter().filter(|e| e.holds) {
            if let Event::Retracted(r) = &e.event {
                self.retracted.insert((r.event, r.what.clone()));
            }
        }
        for e in log.iter().filter(|e| e.holds) {
            self.take(e);
        }
        self.log = log;
    }

    pub(super) fn take(&mut self, entry: &Entry) {
        let spent = entry.event.spent();
        self.minutes += spent.minutes.unwrap_or(0.0);
        self.cost += spent.cost.unwrap_or(0.0);
        match &entry.event {
            Event::Opened(o) => {
                self.car = o.car.clone();
                self.reference.clone_from(&o.reference);
                self.tried.clone_from(&o.tried);
                self.freeze = o.freeze.clone();
                self.last_visit().already.clone_from(&o.already);
                self.saw(entry.number, &o.found);
            }
            Event::Found(f) | Event::Retested(f) => self.saw(entry.number, f),
            Event::Repaired(r) if !self.is_retracted(entry.number, None) => {
                let visit = self.last_visit();
                if let Some(span) = visit.spans.last_mut() {
                    span.repair = Some((entry.number, r.repair.clone()));
                }
                visit.spans.push(Span::default());
            }
            Event::Amended(a) => {
                if let Some(car) = &a.car {
                    self.car = car.clone();
                }
                if a.reference.is_some() {
                    self.reference.clone_from(&a.reference);
                }
                if let Some(freeze) = &a.freeze {
                    self.freeze = freeze.clone();
                }
            }
            Event::Closed(how) => self.status = Status::Closed { at: entry.at, how: how.clone() },
            Event::Reopened(r) => {
                self.status = Status::Open;
                if r.comeback {
                    let before = self.visit();
                    let done = before.spans.iter().filter_map(|s| s.repair.as_ref()).map(|(_, r)| r.clone());
                    let already = before.already.iter().cloned().chain(done).collect();
                    self.visits.push(Visit { already, spans: vec![Span::default()] });
                }
                self.saw(entry.number, &r.found);
            }
            Event::Arranged(a) => self.terms.arrange(a),
            Event::Skipped(s) => self.terms.skip(s),
            Event::Repaired(_) | Event::Retracted(_) | Event::Noted(_) | Event::Undone(_) => {}
        }
    }

    fn last_visit(&mut self) -> &mut Visit {
        let last = self.visits.len() - 1;
        &mut self.visits[last]
    }

    fn saw(&mut self, event: u32, found: &Found) {
        if self.is_retracted(event, None) {
            return;
        }
        let gone: Vec<String> =
            self.retracted.iter().filter(|(e, _)| *e == event).filter_map(|(_, w)| w.clone()).collect();
        let stands = |what: &String| !gone.contains(what);
        let visit = self.last_visit();
        let last = visit.spans.len() - 1;
        let span = &mut visit.spans[last];
        for code in found.codes.iter().filter(|c| stands(c)) {
            if !span.codes.iter().any(|(_, c)| c == code) {
                span.codes.push((event, code.clone()));
            }
        }
        span.codes_complete |= found.codes_complete;
        // Of two contrary statements on a symptom the later one holds.
        for symptom in found.symptoms.iter().filter(|s| stands(s)) {
            span.no_symptoms.retain(|s| s != symptom);
            if !span.symptoms.contains(symptom) {
                span.symptoms.push(symptom.clone());
            }
        }
        for symptom in found.no_symptoms.iter().filter(|s| stands(s)) {
            span.symptoms.retain(|s| s != symptom);
            if !span.no_symptoms.contains(symptom) {
                span.no_symptoms.push(symptom.clone());
            }
        }
        for passed in found.passed.iter().filter(|p| stands(&p.monitor)) {
            span.passed.retain(|p| p.monitor != passed.monitor);
            span.not_run.retain(|m| *m != passed.monitor);
            span.passed.push(passed.clone());
        }
        for monitor in found.not_run.iter().filter(|m| stands(m)) {
            if !span.not_run.contains(monitor) {
                span.not_run.push(monitor.clone());
            }
        }
        for reported in found.reported.iter().filter(|r| stands(&r.monitor)) {
            span.reported.retain(|r| r.monitor != reported.monitor);
            span.reported.push(reported.clone());
        }
        for look in found.looks.iter().filter(|l| stands(&l.suspect)) {
            span.looks.retain(|l| l.suspect != look.suspect);
            span.looks.push(look.clone());
        }
        for taken in found.results.iter().filter(|t| stands(&t.reading)) {
            let result = Showed { event, reading: taken.reading.clone(), outcome: taken.outcome.clone() };
            match span.results.iter_mut().find(|r| r.reading == taken.reading) {
                Some(earlier) => *earlier = result,
                None => span.results.push(result),
            }
        }
    }
}
