//! What would a reading show if it were taken now? Says nothing of what it costs or whether it is worth it.

use rayon::prelude::*;

use super::grouping::max_with;
use super::kernels::{Rise, blend, expand, rise};
use super::sweep::{Spare, Work, rescale};
use super::{Evidence, InferenceError, Prepared};
use network::{Link, Network};

/// Table cells of one pass from which the findings are predicted in parallel; below, starting threads costs more.
const PARALLEL_CELLS: usize = 1 << 13;

/// P(level of this finding | evidence), for a reading taken in the current epoch.
///
/// If the finding has been read in this epoch already, this is a fresh reading of the same vehicle with noise
/// of its own.
pub fn predict(network: &Network, evidence: &Evidence, finding: usize) -> Result<Vec<f64>, InferenceError> {
    Prepared::new(network, evidence)?.predict(finding)
}

/// As [`predict`] for every finding.
pub fn predict_all(network: &Network, evidence: &Evidence) -> Result<Vec<Vec<f64>>, InferenceError> {
    Prepared::new(network, evidence)?.predict_all()
}

impl Prepared<'_> {
    /// As [`predict`], with the priors in force.
    pub fn predict(&mut self, finding: usize) -> Result<Vec<f64>, InferenceError> {
        if finding >= self.network.findings.len() {
            return Err(InferenceError::UnknownFinding { observation: self.evidence.observations.len(), finding });
        }
        self.run()?;
        Ok(self.levels_of(finding))
    }

    /// As [`Self::predict`] from what the last run found: for many findings both passes need not run again for each. A run
    /// must have been made since anything was changed; [`Self::posterior`] makes one.
    pub fn predict_after_run(&self, finding: usize) -> Vec<f64> {
        self.levels_of(finding)
    }

    /// As [`predict_all`], with the priors in force.
    pub fn predict_all(&mut self) -> Result<Vec<Vec<f64>>, InferenceError> {
        self.run()?;
        let findings = 0..self.network.findings.len();
        let cells: usize = self.plan.layout.steps.iter().map(|s| s.cells).sum();
        if cells < PARALLEL_CELLS {
            return Ok(findings.map(|j| self.levels_of(j)).collect());
        }
        Ok(findings.into_par_iter().map(|j| self.levels_of(j)).collect())
    }

    /// Independent suspects are mixed in by their marginals, entangled ones by a pass with one digit more.
    fn levels_of(&self, finding: usize) -> Vec<f64> {
        let finding = &self.network.findings[finding];
        let mut dist = finding.leak.clone();
        let rises = |levels: &[f64]| levels.iter().skip(1).any(|&p| p > 0.0);
        let rising = finding.links.iter().filter(|l| rises(&l.levels) || l.by_grade.iter().any(|g| rises(g)));
        let (entangled, free): (Vec<_>, Vec<_>) = rising.partition(|l| !self.plan.is_free(l.suspect));
        // One entangled suspect alone is independent of the free ones, so its marginal is enough too.
        let closed_form = if entangled.len() == 1 { entangled.as_slice() } else { &[] };
        for link in free.iter().chain(closed_form) {
            let before = dist.clone();
            let (now, not_now) = self.plan.lives.split(link.suspect, &self.variants);
            if link.by_grade.is_empty() {
                let mut raised = before;
                max_with(&mut raised, &link.levels);
                blend(&mut dist, not_now, now, &raised);
                continue;
            }
            dist.iter_mut().for_each(|d| *d *= not_now);
            for (grade, levels) in link.by_grade.iter().enumerate() {
                let mut raised = before.clone();
                max_with(&mut raised, levels);
                blend(&mut dist, 1.0, self.now_at(link.suspect, grade), &raised);
            }
        }
        if entangled.len() < 2 {
            return dist;
        }
        let mut by_suspect = vec![None; self.network.suspects.len()];
        for link in entangled {
            by_suspect[link.suspect] = Some(link);
        }
        let work = Work { plan: &self.plan, layout: &self.plan.layout, numbers: &self.numbers };
        joint_levels(work, dist, &by_suspect)
    }
}

/// Forward pass with the finding as one more digit, outermost and never closed: what is left at the end is
/// P(level, evidence) up to a factor. No subtraction of cumulative probabilities, so rare levels stay exact.
fn joint_levels(work: Work, base: Vec<f64>, links: &[Option<&Link>]) -> Vec<f64> {
    let (mut table, mut spare, mut ways) = (vec![1.0], Spare::default(), Vec::new());
    let (mut cells, mut opened) = (1, false);
    for step in &work.layout.steps {
        for &d in &work.layout.opens[step.opens.clone()] {
            // Each layer is a run of `cells`, and the new digit becomes the outermost inside every layer.
            expand(&table, cells, leak(&work, d), &mut spare.table);
            std::mem::swap(&mut table, &mut spare.table);
            cells *= leak(&work, d).len();
        }
        if let Some(link) = links[step.suspect] {
            if !opened {
                expand(&table, cells, &base, &mut spare.table);
                std::mem::swap(&mut table, &mut spare.table);
                opened = true;
            }
            let lives = &work.plan.lives;
            let before = table.clone();
            work.ways(step.suspect, |v| !lives.now(v), &mut ways);
            work.pass(step, &ways, &mut table, &mut spare);
            let plain = std::slice::from_ref(&link.levels);
            let graded = !link.by_grade.is_empty();
            for (grade, levels) in if graded { &link.by_grade[..] } else { plain }.iter().enumerate() {
                let mut present = before.clone();
                work.ways(step.suspect, |v| lives.now(v) && (!graded || lives.grade[v] == grade), &mut ways);
                work.pass(step, &ways, &mut present, &mut spare);
                let mut sum = 0.0;
                let cumulative: Vec<f64> = levels
                    .iter()
                    .map(|p| {
                        sum += p;
                        sum
                    })
                    .collect();
                rise(&mut present, Rise { stride: cells, c: &cumulative, p: levels });
                blend(&mut table, 1.0, 1.0, &present);
            }
        } else {
            work.ways(step.suspect, |_| true, &mut ways);
            work.pass(step, &ways, &mut table, &mut spare);
        }
        work.close(step, &mut table);
        for &(d, _) in &work.layout.closes[step.closes.clone()] {
            cells /= leak(&work, d).len();
        }
        rescale(&mut table);
    }
    let total: f64 = table.iter().sum();
    table.iter_mut().for_each(|x| *x /= total);
    table
}

/// Background of a digit; of lives, ones.
fn leak<'a>(work: &Work<'a>, digit: usize) -> &'a [f64] {
    work.leak(digit).unwrap_or_else(|| work.likelihood(digit))
}
