//! Where a job stands: the posterior of every suspect, and the probability that the car is fixed.

use super::history::Known;
use super::job::Job;
use evidence::{EvidenceError, Told};
use inference::{InferenceError, Observation, Posterior, Prepared, prevalence};
use knowledge::base::Base;
use network::build::build;
use network::openings::leak_mm;
use network::{FindingKind, Network};

/// Below this probability that the car is fixed, what was repaired was probably not the cause.
pub const LIKELY_FIXED: f64 = 0.5;

/// Why a job's standing cannot be computed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum JobError {
    /// Something on the job cannot be evidence.
    #[error(transparent)]
    Evidence(#[from] EvidenceError),
    /// The evidence cannot be computed with. The network is at hand to name the findings.
    #[error("{error}")]
    Inference {
        /// Why.
        error: InferenceError,
        /// Ids of all findings, in the order of the indices in the error.
        findings: Vec<String>,
    },
}

/// Where a job stands.
#[derive(Clone, Debug)]
pub struct Standing {
    /// The network of this car.
    pub network: Network,
    /// The job's evidence, with words.
    pub told: Told,
    /// The posterior.
    pub posterior: Posterior,
    /// The suspects that can have caused the complaint: those that can set a code of this stay or, when none was
    /// read, cause a symptom noticed; increasing.
    pub complaint: Vec<usize>,
    /// P(no suspect of the complaint is present now | evidence): the probability that the car is fixed. None while
    /// there is no complaint.
    pub fixed: Option<f64>,
    /// Words on the job that the base does not know.
    pub unknown: Vec<String>,
}

impl Standing {
    /// Computes it. The base and the car decide the network, the present stay is the evidence.
    ///
    /// # Errors
    /// Evidence that contradicts itself, is impossible or too entangled.
    pub fn of(job: &Job, base: &Base) -> Result<Self, JobError> {
        let known = Known::of(job, base);
        let network = build(base, &known.history.settle(base, &job.car.vehicle()));
        let told = known.history.tell(base, &network)?;
        let complaint = complaint(&network, &told);
        let computed = Prepared::new(&network, &told.evidence).and_then(|mut p| {
            let posterior = p.posterior()?;
            let fixed = fixed_of(&mut p, network.suspects.len(), &complaint)?;
            Ok((posterior, fixed))
        });
        let (posterior, fixed) = computed.map_err(|error| inference(error, &network))?;
        Ok(Self { network, told, posterior, complaint, fixed, unknown: known.unknown })
    }

    /// Suspects, most probable now first, ties by id.
    #[must_use]
    pub fn ranked(&self) -> Vec<(usize, f64)> {
        let mut list: Vec<(usize, f64)> = self.posterior.now.iter().copied().enumerate().collect();
        let id = |s: usize| &self.network.suspects[s].id;
        list.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| id(a.0).cmp(id(b.0))));
        list
    }

    /// P(suspect present now), 0 for one that this car cannot have.
    #[must_use]
    pub fn now(&self, suspect: &str) -> f64 {
        self.network.suspect(suspect).map_or(0.0, |s| self.posterior.now[s])
    }

    /// What the standing would be after these observations in the present: ln P(evidence with them), and the
    /// probability that the car is fixed.
    ///
    /// # Errors
    /// As [`Self::of`].
    pub fn after(&self, observations: &[Observation]) -> Result<(f64, Option<f64>), JobError> {
        let mut evidence = self.told.evidence.clone();
        evidence.observations.extend_from_slice(observations);
        let computed = Prepared::new(&self.network, &evidence).and_then(|mut p| {
            let ln_evidence = p.posterior()?.ln_evidence;
            Ok((ln_evidence, fixed_of(&mut p, self.network.suspects.len(), &self.complaint)?))
        });
        computed.map_err(|error| inference(error, &self.network))
    }

    /// An inference error on this standing's network, with the findings by id.
    #[must_use]
    pub fn failed(&self, error: InferenceError) -> JobError {
        inference(error, &self.network)
    }

    /// Within which sizes, in mm, the leak probably lies, where a leak is likely.
    ///
    /// # Errors
    /// As [`Self::of`].
    pub fn leak_mm(&self) -> Result<Option<(f64, f64)>, JobError> {
        let before = prevalence(&self.network).map_err(|error| inference(error, &self.network))?;
        Ok(leak_mm(&self.posterior.now, &before, &self.posterior.grades))
    }

    /// The present epoch.
    #[must_use]
    pub fn epoch(&self) -> usize {
        self.told.evidence.repairs.len()
    }
}

fn inference(error: InferenceError, network: &Network) -> JobError {
    JobError::Inference { error, findings: network.findings.iter().map(|f| f.id.clone()).collect() }
}

/// P(every suspect present now lies outside the complaint | evidence); see `inference::inside`.
fn fixed_of(prepared: &mut Prepared<'_>, suspects: usize, complaint: &[usize]) -> Result<Option<f64>, InferenceError> {
    if complaint.is_empty() {
        return Ok(None);
    }
    let others: Vec<usize> = (0..suspects).filter(|s| complaint.binary_search(s).is_err()).collect();
    prepared.inside(&others).map(Some)
}

/// The suspects that raise a monitor of which a code was read or, without a code, a symptom that was noticed.
fn complaint(network: &Network, told: &Told) -> Vec<usize> {
    let positive = |kind: FindingKind| -> Vec<usize> {
        let seen = told.evidence.observations.iter().zip(&told.what).filter(|(_, w)| !w.normal);
        seen.map(|(o, _)| o.finding).filter(|f| network.findings[*f].kind == kind).collect()
    };
    let mut findings = positive(FindingKind::Monitor);
    if findings.is_empty() {
        findings = positive(FindingKind::Symptom);
    }
    let links = findings.iter().flat_map(|f| &network.findings[*f].links);
    let mut suspects: Vec<usize> =
        links.filter(|l| l.levels.iter().skip(1).any(|p| *p > 0.0)).map(|l| l.suspect).collect();
    suspects.sort_unstable();
    suspects.dedup();
    suspects
}

#[cfg(test)]
mod tests {
    use super::super::change::{Change, Why};
    use super::super::event::{Event, Opened, Reopened, Repaired, Retracted, Verdict};
    use super::super::found::{Found, Spent, Taken};
    use super::super::proof::proof_tests;
    use super::super::{Closed, Job};
    use super::*;
    use jiff::Timestamp;

    fn codes(list: &[&str]) -> Found {
        Found { codes: list.iter().map(|c| (*c).to_owned()).collect(), codes_complete: true, ..Found::default() }
    }

    fn result(reading: &str, outcome: &str) -> Event {
        let results = vec![Taken { reading: reading.into(), outcome: outcome.into() }];
        Event::Found(Found { results, ..Found::default() })
    }

    fn repair(id: &str) -> Event {
        Event::Repaired(Repaired { repair: id.into(), note: None, with: None, spent: Spent::default() })
    }

    fn job(code: &str) -> Job {
        let mut opened = Opened { found: codes(&[code]), ..Opened::default() };
        opened.car.equipment = vec!["screw-cap".into()];
        Job::opened(1, "u", Timestamp::UNIX_EPOCH, opened)
    }

    fn live(job: &mut Job, base: &Base, event: Event) -> (Standing, Standing, Change) {
        let before = Standing::of(job, base).unwrap();
        job.push(Timestamp::UNIX_EPOCH, event).unwrap();
        let after = Standing::of(job, base).unwrap();
        let change = Change::between(&before, &after);
        (before, after, change)
    }

    #[test]
    fn a_found_fault_its_repair_and_its_proof_raise_the_probability_that_the_car_is_fixed() {
        let base = shipped::base().unwrap();
        let mut j = job("P0455");
        let (start, found, change) = live(&mut j, &base, result("cap-look-reseat:loose", "fail"));
        // Something stored the code, so hardly anything says that nothing is wrong.
        assert!(start.fixed.unwrap() < 0.01, "{:?}", start.fixed);
        assert_eq!(change.rose[0].suspect, "filler-cap/loose");
        assert!(matches!(&change.rose[0].why, Why::Finding { finding, with, otherwise, .. }
            if finding == "cap-look-reseat:loose" && with > otherwise));
        assert!(change.fell.iter().any(|m| matches!(&m.why, Why::GivesWay { to } if to == "filler-cap/loose")));
        let (_, mended, change) = live(&mut j, &base, repair("filler-cap/reseat"));
        assert!(change.fell.iter().any(|m| m.suspect == "filler-cap/loose" && m.why == Why::Repaired));
        assert!(mended.fixed.unwrap() > found.fixed.unwrap() + 0.4);
        let told = proof_tests(&mended, &j, &base).unwrap();
        let run = told.iter().find(|t| t.id == "evap-service-run").unwrap();
        assert!(run.if_abnormal < run.before && run.before < run.if_normal, "{run:?}");
        let (_, proved, _) = live(&mut j, &base, result("evap-service-run:monitor", "pass"));
        // What the proof was said to give is what it gives.
        assert!((proved.fixed.unwrap() - run.if_normal).abs() < 1e-9, "{:?} {run:?}", proved.fixed);
        assert!(proved.fixed.unwrap() > 0.9, "{:?}", proved.fixed);
    }

    #[test]
    fn both_outcomes_of_a_proof_average_to_what_is_believed_now() {
        let base = shipped::base().unwrap();
        let mut j = job("P0442");
        live(&mut j, &base, repair("purge-valve/replace"));
        let s = Standing::of(&j, &base).unwrap();
        let told = proof_tests(&s, &j, &base).unwrap();
        assert!(told.len() >= 3);
        for t in told.iter().filter(|t| !t.id.starts_with("smoke")) {
            let finding = s
                .network
                .findings
                .iter()
                .position(|f| f.id.starts_with(&format!("{}:", t.id)) || f.id == t.id)
                .unwrap();
            let levels = s.network.findings[finding].levels.len();
            // Every level but the lowest, one likelihood: "not normal" as the engine itself computes it.
            let not = (0..levels).map(|l| f64::from(u8::from(l > 0))).collect();
            let n = s.network.findings.iter().filter(|f| f.id.starts_with(&format!("{}:", t.id))).count();
            if n <= 1 {
                let (_, fixed) = s.after(&[Observation::soft(finding, s.epoch(), not)]).unwrap();
                assert!((fixed.unwrap() - t.if_abnormal).abs() < 1e-7, "{t:?} {fixed:?}");
            }
        }
    }

    #[test]
    fn a_code_that_returns_after_the_repair_says_that_it_was_another_cause_or_did_not_take() {
        let base = shipped::base().unwrap();
        let mut j = job("P0455");
        live(&mut j, &base, result("cap-look-reseat:loose", "pass"));
        let (_, after_repair, _) = live(&mut j, &base, repair("filler-cap/replace-cap"));
        let (_, returned, _) = live(&mut j, &base, Event::Retested(codes(&["P0455"])));
        assert!(returned.fixed.unwrap() < 0.01);
        assert!(returned.now("vent-valve/stuck-open") > after_repair.now("vent-valve/stuck-open"));
        assert!(returned.now("filler-cap/seal-worn") < 0.1, "a new cap is unlikely to be worn");
        assert!(returned.now("filler-cap/seal-worn") > 0.0, "but the repair may not have taken");
    }

    #[test]
    fn of_two_faults_the_second_shows_after_the_first_is_cured() {
        let base = shipped::base().unwrap();
        let mut j = job("P0496");
        live(&mut j, &base, result("purge-idle-suction:suction", "fail"));
        live(&mut j, &base, repair("purge-valve/replace"));
        let (_, second, change) = live(&mut j, &base, Event::Retested(codes(&["P0442"])));
        assert!(second.now("purge-valve/leaks") < 0.3, "a new valve is not the first suspect for a leak");
        assert!(second.fixed.unwrap() < 0.01);
        assert!(change.rose.iter().any(|m| m.suspect.starts_with("filler-cap/")));
    }

    #[test]
    fn a_drive_and_the_codes_read_after_it_count_once() {
        let base = shipped::base().unwrap();
        let standing = |events: &[Event]| {
            let mut j = job("P0442");
            j.push(Timestamp::UNIX_EPOCH, repair("purge-valve/replace")).unwrap();
            for event in events {
                j.push(Timestamp::UNIX_EPOCH, event.clone()).unwrap();
            }
            let proofs = proof_tests(&Standing::of(&j, &base).unwrap(), &j, &base).unwrap();
            (Standing::of(&j, &base).unwrap(), proofs.into_iter().map(|p| p.id).collect::<Vec<_>>())
        };
        let repeats = |proofs: &[String]| proofs.iter().any(|p| p.starts_with("monitor:") || p == "test-drive-monitor");
        let drive = |outcome| result("test-drive-monitor:monitor", outcome);
        let ran = Event::Retested(codes(&[]));
        let (only_ran, after_ran) = standing(std::slice::from_ref(&ran));
        let (only_drive, after_drive) = standing(&[drive("pass")]);
        assert!(repeats(&standing(&[]).1) && !repeats(&after_ran) && !repeats(&after_drive), "{after_ran:?}");
        for both in [[ran.clone(), drive("pass")], [drive("pass"), ran.clone()]] {
            let (s, proofs) = standing(&both);
            assert_eq!(s.posterior.now, only_ran.posterior.now);
            assert_eq!(s.told.repeated, ["test-drive-monitor:monitor"]);
            assert!(!repeats(&proofs), "{proofs:?}");
        }
        // Said alone the drive counts, and so does one that failed before a code was stored.
        assert!(only_drive.told.repeated.is_empty() && only_drive.fixed > standing(&[]).0.fixed);
        let (failed, _) = standing(&[drive("fail"), ran]);
        assert_eq!(failed.posterior.now, standing(&[drive("fail")]).0.posterior.now);
        // A code that came back says it more exactly than "fail".
        let returned = Event::Retested(codes(&["P0442"]));
        let (s, _) = standing(&[drive("fail"), returned.clone()]);
        assert_eq!(s.posterior.now, standing(&[returned]).0.posterior.now);
        // Codes from before the visit and a drive after clearing them are two runs.
        let mut j = job("P0442");
        j.push(Timestamp::UNIX_EPOCH, drive("fail")).unwrap();
        assert!(Standing::of(&j, &base).unwrap().told.repeated.is_empty());
    }

    #[test]
    fn retracting_a_finding_undoes_what_it_did() {
        let base = shipped::base().unwrap();
        let mut j = job("P0455");
        let before = Standing::of(&j, &base).unwrap();
        live(&mut j, &base, result("cap-look-reseat:loose", "fail"));
        let gone = Event::Retracted(Retracted { event: 2, what: None, why: None });
        let (_, after, change) = live(&mut j, &base, gone);
        assert_eq!(after.posterior.now, before.posterior.now);
        assert!(matches!(&change.fell[0].why, Why::Gone { finding } if finding == "cap-look-reseat:loose"));
    }

    #[test]
    fn a_comeback_takes_the_old_repair_as_made_and_starts_afresh() {
        let base = shipped::base().unwrap();
        let mut j = job("P0455");
        live(&mut j, &base, repair("filler-cap/replace-cap"));
        let how = Closed { verdict: Verdict::Unsure, causes: Vec::new(), how: None, spent: Spent::default() };
        live(&mut j, &base, Event::Closed(how));
        let back = Reopened { comeback: true, why: None, found: codes(&["P0455"]) };
        let (_, after, _) = live(&mut j, &base, Event::Reopened(back));
        assert_eq!(after.epoch(), 1);
        assert!(after.now("filler-cap/seal-worn") < 0.1);
        assert!(after.fixed.unwrap() < 0.01);
    }

    #[test]
    fn words_of_another_base_are_told_and_say_nothing() {
        let base = shipped::base().unwrap();
        let mut j = job("P0455");
        let before = Standing::of(&j, &base).unwrap();
        j.push(Timestamp::UNIX_EPOCH, Event::Found(codes(&["P04C0"]))).unwrap();
        j.push(Timestamp::UNIX_EPOCH, result("old-test:old", "pass")).unwrap();
        j.push(Timestamp::UNIX_EPOCH, result("cap-look-reseat:loose", "purple")).unwrap();
        let after = Standing::of(&j, &base).unwrap();
        assert_eq!(after.unknown, ["P04C0", "old-test:old=pass", "cap-look-reseat:loose=purple"]);
        assert_eq!(after.posterior.now, before.posterior.now);
    }
}
