//! Where the conversation keeps what it hears: a job of the store, or in tests a job in memory.

use crate::advice::{Advice, Adviser, Step};
use jobs::store::Changed;
use jobs::{Event, Job, JobError, Standing, Store, StoreError};
use knowledge::Base;
use std::collections::BTreeSet;

/// The record of one job.
pub trait Record {
    /// The job as it is now.
    ///
    /// # Errors
    /// What the store says.
    fn job(&self) -> Result<Job, StoreError>;

    /// Stores an event.
    ///
    /// # Errors
    /// What the store says; then nothing was stored.
    fn add(&mut self, event: Event) -> Result<Changed, StoreError>;
}

/// A job of the store.
#[derive(Debug)]
pub struct Stored<'a> {
    /// The store.
    pub store: &'a mut Store,
    /// The job.
    pub number: i64,
}

impl Record for Stored<'_> {
    fn job(&self) -> Result<Job, StoreError> {
        self.store.job(self.number)
    }

    fn add(&mut self, event: Event) -> Result<Changed, StoreError> {
        self.store.add(self.number, jiff::Timestamp::now(), event)
    }
}

/// A job that is kept nowhere else.
impl Record for Job {
    fn job(&self) -> Result<Job, StoreError> {
        Ok(self.clone())
    }

    fn add(&mut self, event: Event) -> Result<Changed, StoreError> {
        let before = self.clone();
        let event = event.tidy().map_err(jobs::Refused::from)?;
        let event = self.push(jiff::Timestamp::UNIX_EPOCH, event)?;
        Ok(Changed { before, after: self.clone(), event })
    }
}

/// Who proposes steps.
pub trait Advises {
    /// Steps, the best first, never empty.
    ///
    /// # Errors
    /// Evidence that is impossible or too entangled.
    fn advise(&self, base: &Base, job: &Job, standing: &Standing, skipped: &BTreeSet<Step>)
    -> Result<Advice, JobError>;
}

impl Advises for Adviser {
    fn advise(
        &self,
        base: &Base,
        job: &Job,
        standing: &Standing,
        skipped: &BTreeSet<Step>,
    ) -> Result<Advice, JobError> {
        Self::advise(self, base, job, standing, skipped)
    }
}
