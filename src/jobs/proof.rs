//! Proving a repair: for each code the conditions under which its check runs, and for each re-test the probability that
//! the car is fixed now, and would be after either outcome.

use super::job::{Job, Showed};
use super::standing::{JobError, Standing};
use evidence::Outcome;
use inference::Observation;
use knowledge::base::{Base, Condition, Runs};
use network::FindingKind;

/// How one code's absence can be trusted.
#[derive(Clone, Debug, PartialEq)]
pub struct CodeProof {
    /// The code.
    pub code: String,
    /// Its title.
    pub title: String,
    /// The check of the engine computer that sets it.
    pub monitor: String,
    /// What that check is called.
    pub name: String,
    /// When it runs.
    pub runs: Runs,
    /// Failed trips in a row before the code is stored.
    pub trips: u32,
    /// Conditions under which it runs, each with its basis.
    pub conditions: Vec<Condition>,
    /// Tests that prove the repair on the spot.
    pub tests: Vec<String>,
    /// Codes and checks that keep it from running.
    pub held_back_by: Vec<String>,
}

/// What one re-test can prove.
#[derive(Clone, Debug, PartialEq)]
pub struct ProofTest {
    /// Test id, or `monitor:ID` for the engine computer's own check.
    pub id: String,
    /// P(all its readings are normal | evidence).
    pub passes: f64,
    /// P(fixed | evidence), before it.
    pub before: f64,
    /// P(fixed | evidence, all normal).
    pub if_normal: f64,
    /// P(fixed | evidence, not all normal).
    pub if_abnormal: f64,
    /// Whether it was made since the last repair; the figures are then those of one more run.
    pub made: bool,
}

/// What proves each code of the present stay.
#[must_use]
pub fn code_proofs(job: &Job, base: &Base) -> Vec<CodeProof> {
    let mut out: Vec<CodeProof> = Vec::new();
    for (_, code) in job.visit().spans.iter().flat_map(|s| &s.codes) {
        let Some(found) = base.code(code) else { continue };
        let Some(m) = base.monitor(&found.monitor) else { continue };
        if out.iter().any(|p| p.code == *code) {
            continue;
        }
        out.push(CodeProof {
            code: code.clone(),
            title: found.title.clone(),
            monitor: m.id.clone(),
            name: m.name.clone(),
            runs: m.runs,
            trips: m.trips,
            conditions: m.conditions.clone(),
            tests: m.proof.clone(),
            held_back_by: m.suspended_by.clone(),
        });
    }
    out
}

/// Whether the repair is proved as far as it can be here: since the last one a re-test of the complaint came out normal,
/// or its checks have run and stored nothing, and nothing of the complaint was seen again.
#[must_use]
pub fn proved(job: &Job, base: &Base) -> bool {
    let now = job.present();
    if job.visit().spans.len() < 2 || now.codes.iter().any(|(_, c)| base.code(c).is_some()) {
        return false;
    }
    let told = retests(job, base);
    told.iter().all(|ok| *ok) && (ran(job, base) || !told.is_empty())
}

/// Whether a re-test has shown since the last repair that the complaint is still there: a code came back, or a test of the
/// complaint was not as it should be.
#[must_use]
pub fn not_cured(job: &Job, base: &Base) -> bool {
    let back = job.present().codes.iter().any(|(_, c)| base.code(c).is_some());
    job.visit().spans.len() > 1 && (back || retests(job, base).contains(&false))
}

/// The re-tests of the complaint since the last repair, each whether it was normal.
fn retests(job: &Job, base: &Base) -> Vec<bool> {
    let now = job.present();
    let proofs = code_proofs(job, base);
    let own = |r: &&super::job::Showed| {
        r.reading.split(':').next().is_some_and(|t| proofs.iter().any(|p| p.tests.iter().any(|own| own == t)))
    };
    now.results.iter().filter(own).filter_map(|r| normal(r, base)).collect()
}

/// Whether an outcome is a normal one; nothing where it tells nothing, or the base does not know the reading.
fn normal(r: &Showed, base: &Base) -> Option<bool> {
    let (_, reading) = base.reading(&r.reading)?;
    let likelihood = r.outcome.parse::<Outcome>().ok()?.likelihood(reading).ok()??;
    Some(likelihood.iter().skip(1).all(|p| *p < likelihood[0]))
}

/// Whether, since the last repair, checks of the complaint's codes have run to their end and stored nothing, and no symptom
/// was noticed again.
#[must_use]
pub fn checks_passed(job: &Job, base: &Base) -> bool {
    (ran(job, base) || driven(job, base) || run_on_command(job, base))
        && job.present().symptoms.is_empty()
        && proved(job, base)
}

/// Whether the last reading of the codes was complete, or a check of the complaint's codes is told to have run.
fn ran(job: &Job, base: &Base) -> bool {
    let now = job.present();
    let proofs = code_proofs(job, base);
    now.codes_complete || proofs.iter().any(|p| now.passed.iter().any(|m| m.monitor == p.monitor))
}

/// Repairs that tests have made by the way, since the last one, and that are not stored yet: the reading whose step makes
/// it when it is abnormal, and the repair.
#[must_use]
pub fn made_by_the_way(job: &Job, base: &Base) -> Vec<(String, String)> {
    let mut out: Vec<(String, String)> = Vec::new();
    for r in &job.present().results {
        let Some((_, reading)) = base.reading(&r.reading) else { continue };
        let Some(repair) = &reading.cures else { continue };
        let likelihood = r.outcome.parse::<Outcome>().ok().and_then(|o| o.likelihood(reading).ok().flatten());
        let abnormal = likelihood.is_some_and(|l| l.iter().skip(1).any(|p| *p > l[0]));
        if abnormal && !out.iter().any(|(_, known)| known == repair) {
            out.push((r.reading.clone(), repair.clone()));
        }
    }
    out
}

/// Whether, since the last repair of this stay, the computer's checks have run to their end: by the codes read or by a
/// drive that waited for them.
fn driven(job: &Job, base: &Base) -> bool {
    let repaired = job.visit().spans.len() > 1;
    let waited = |reading: &str| base.reading(reading).is_some_and(|(t, _)| t.repeats_monitors);
    let now = job.present();
    repaired && (now.codes_complete || now.results.iter().any(|r| waited(&r.reading)))
}

/// Whether, since the last repair, the computer has judged for itself in a test of the complaint's codes.
fn run_on_command(job: &Job, base: &Base) -> bool {
    let proofs = code_proofs(job, base);
    let of_code = |test: &str| proofs.iter().any(|p| p.tests.iter().any(|t| t == test));
    let judged = |reading: &str| base.reading(reading).is_some_and(|(t, _)| t.own_check && of_code(&t.id));
    job.present().results.iter().any(|r| judged(&r.reading) && normal(r, base).is_some())
}

/// What each re-test of the codes' checks can prove, in the order of the base, the checks themselves last. Empty while
/// there is no complaint.
///
/// # Errors
/// As [`Standing::of`].
pub fn proof_tests(standing: &Standing, job: &Job, base: &Base) -> Result<Vec<ProofTest>, JobError> {
    let Some(before) = standing.fixed else { return Ok(Vec::new()) };
    let codes = code_proofs(job, base);
    let mut ids: Vec<String> = Vec::new();
    let tests = codes.iter().flat_map(|c| c.tests.iter().cloned());
    let own = codes.iter().map(|c| format!("monitor:{}", c.monitor));
    for id in tests.chain(own) {
        if !ids.contains(&id) {
            ids.push(id);
        }
    }
    let epoch = standing.epoch();
    let drive_done = driven(job, base);
    let mut out = Vec::new();
    for id in ids {
        // The computer's checks and the drive that waits for them are one proof: after the one the other adds nothing.
        let repeats = id.starts_with("monitor:") || base.test(&id).is_some_and(|t| t.repeats_monitors);
        if repeats && drive_done {
            continue;
        }
        let findings: Vec<usize> = standing
            .network
            .findings
            .iter()
            .enumerate()
            .filter(|(_, f)| {
                f.id == id || (f.kind == FindingKind::Reading && f.id.split(':').next() == Some(id.as_str()))
            })
            .map(|(i, _)| i)
            .collect();
        if findings.is_empty() {
            continue;
        }
        let seen = |finding: usize| {
            standing.told.evidence.observations.iter().any(|o| o.finding == finding && o.epoch == epoch)
        };
        let made = findings.iter().any(|f| seen(*f));
        // A reading made in this epoch would be replaced, not added, so what it can still prove is not asked again.
        let open: Vec<Observation> = findings
            .iter()
            .filter(|f| !seen(**f))
            .map(|f| Observation::hard(*f, epoch, 0, standing.network.findings[*f].levels.len()))
            .collect();
        if open.is_empty() {
            continue;
        }
        let (ln_evidence, after) = standing.after(&open)?;
        let passes = (ln_evidence - standing.posterior.ln_evidence).exp().clamp(0.0, 1.0);
        let if_normal = after.unwrap_or(before);
        // P(fixed) = P(normal) P(fixed | normal) + P(not) P(fixed | not), solved for the last.
        let rest = 1.0 - passes;
        let if_abnormal = if rest > 1e-12 { ((before - passes * if_normal) / rest).clamp(0.0, 1.0) } else { before };
        out.push(ProofTest { id, passes, before, if_normal, if_abnormal, made });
    }
    Ok(out)
}
