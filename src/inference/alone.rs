//! How likely is an observation by itself, with no other evidence but the repairs?
//!
//! Suspects that have nothing to do with one another are mixed in one by one. Where several that a finding touches are tied
//! by causes, they are summed over together: a finding that no suspect can have raised is a factor of each of them, and the
//! few of one component make a small table that is made once for all such findings; for any other the network of all
//! that touch it is asked.

use std::collections::BTreeMap;

use super::grouping::max_with;
use super::kernels::blend;
use super::numbers::{Numbers, expected};
use super::part::part;
use super::plan::{Plan, Reading};
use super::scaled::Scaled;
use super::sweep::{Sweep, Work};
use super::{Evidence, InferenceError, Prepared};
use network::Link;

/// What is asked, and what was found out on the way.
pub(crate) struct Alone<'p, 'n> {
    of: &'p Prepared<'n>,
    /// Suspects tied by causes, by the lowest of them.
    components: BTreeMap<usize, Component>,
    sweep: Sweep,
}

/// The suspects of one component with no evidence but the repairs.
struct Component {
    suspects: Vec<usize>,
    plan: Plan,
    numbers: Numbers,
}

impl<'p, 'n> Alone<'p, 'n> {
    /// Asks of the priors in force.
    pub fn new(of: &'p Prepared<'n>) -> Self {
        Self { of, components: BTreeMap::new(), sweep: Sweep::default() }
    }

    /// ln P(observation).
    ///
    /// # Errors
    /// A network too entangled.
    pub fn ln(&mut self, reading: &Reading) -> Result<f64, InferenceError> {
        let finding = &self.of.network.findings[reading.finding];
        let causes = &self.of.plan.causes;
        let mut tied: BTreeMap<usize, Vec<&Link>> = BTreeMap::new();
        let (mut single, mut many) = (Vec::new(), false);
        // Where the levels make one group, what raises the finding beyond them is a factor of each component.
        let one_group = reading.grouping.len() == 1;
        for link in &finding.links {
            if causes.tied(link.suspect) {
                let own = tied.entry(causes.component(link.suspect)).or_default();
                own.push(link);
                many |= own.len() > 1;
            } else {
                single.push(link);
            }
        }
        if many && !one_group {
            return self.ln_of_part(reading);
        }
        if !one_group {
            single.extend(std::mem::take(&mut tied).into_values().flatten());
        }
        let mut ln = expected(&self.mixed(reading, &single)?, self.likelihood(reading)).ln();
        for (component, own) in &tied {
            ln += self.ln_together(reading, *component, own)?;
        }
        Ok(ln)
    }

    fn likelihood(&self, reading: &Reading) -> &[f64] {
        &self.of.evidence.observations[reading.observation].likelihood
    }

    /// The distribution of the finding's levels from its background and links none of which is tied to another.
    fn mixed(&mut self, reading: &Reading, links: &[&Link]) -> Result<Vec<f64>, InferenceError> {
        let (plan, numbers) = (&self.of.plan, &self.of.numbers);
        let lives = &plan.lives;
        let mut dist = self.of.network.findings[reading.finding].leak.clone();
        for link in links {
            let p = numbers.priors[link.suspect];
            let rows = rows(link);
            let (mut present, mut absent) = (vec![0.0; rows.len()], 0.0);
            if plan.causes.tied(link.suspect) {
                let component = plan.causes.component(link.suspect);
                let mut share = |wanted: &dyn Fn(bool, usize) -> bool| {
                    let all =
                        self.weighed(component, reading.epoch, &[link], |_, is, g| f64::from(u8::from(wanted(is, g))));
                    all.map(|share| share.over(&Scaled::ONE))
                };
                absent = share(&|is, _| !is)?;
                for (k, present) in present.iter_mut().enumerate() {
                    *present = share(&|is, grade| is && row(link, grade) == k)?;
                }
            } else {
                for v in lives.of(link.suspect) {
                    let own = if lives.life[v] == 0 {
                        1.0 - p
                    } else {
                        p * lives.share[v] * numbers.grade_share(link.suspect, lives.grade[v])
                    };
                    if lives.present(v, reading.epoch) {
                        present[row(link, lives.grade[v])] += own;
                    } else {
                        absent += own;
                    }
                }
            }
            let was = dist.clone();
            dist.iter_mut().for_each(|d| *d *= absent);
            for (levels, share) in rows.iter().zip(present) {
                let mut raised = was.clone();
                max_with(&mut raised, levels);
                blend(&mut dist, 1.0, share, &raised);
            }
        }
        Ok(dist)
    }

    /// ln P(none of these links raises the finding beyond the levels that the observation allows); they are of one
    /// component, and the observation has one group of levels.
    fn ln_together(&mut self, reading: &Reading, component: usize, links: &[&Link]) -> Result<f64, InferenceError> {
        let allowed = reading.grouping.group_of.len();
        let factor = |link: &Link, present: bool, grade: usize| {
            if present { rows(link)[row(link, grade)][..allowed].iter().sum::<f64>() } else { 1.0 }
        };
        Ok(self.weighed(component, reading.epoch, links, factor)?.ln())
    }

    /// The mean of the product, over these links of one component, of a factor that depends on whether the link's suspect is
    /// there in this epoch and at which grade.
    fn weighed(
        &mut self,
        component: usize,
        epoch: usize,
        links: &[&Link],
        factor: impl Fn(&Link, bool, usize) -> f64,
    ) -> Result<Scaled, InferenceError> {
        if !self.components.contains_key(&component) {
            let made = self.component(component)?;
            self.components.insert(component, made);
        }
        let Component { suspects, plan, numbers } = &self.components[&component];
        let mut numbers = numbers.clone();
        for link in links {
            let Ok(suspect) = suspects.binary_search(&link.suspect) else { continue };
            for v in plan.lives.of(suspect) {
                numbers.weights[v] *= factor(link, plan.lives.present(v, epoch), plan.lives.grade[v]);
            }
        }
        Ok(self.sweep.evidence(Work { plan, layout: &plan.layout, numbers: &numbers }))
    }

    fn component(&self, component: usize) -> Result<Component, InferenceError> {
        let (network, causes) = (self.of.network, &self.of.plan.causes);
        let suspects: Vec<usize> = (0..network.suspects.len()).filter(|&s| causes.component(s) == component).collect();
        let (network, evidence) = part(network, &self.repairs_alone(), &suspects);
        let plan = Plan::new(&network, &evidence)?;
        let mut numbers = Numbers::from_network(&plan, &network);
        suspects.iter().zip(&mut numbers.priors).for_each(|(&s, prior)| *prior = self.of.numbers.priors[s]);
        numbers.weigh(&plan, None);
        Ok(Component { suspects, plan, numbers })
    }

    fn repairs_alone(&self) -> Evidence {
        Evidence { observations: Vec::new(), repairs: self.of.evidence.repairs.clone() }
    }

    /// [`Self::ln`] by the network of all that touch the finding, and of all that is tied to them.
    fn ln_of_part(&self, reading: &Reading) -> Result<f64, InferenceError> {
        let (network, causes) = (self.of.network, &self.of.plan.causes);
        let mut linked = vec![false; network.suspects.len()];
        network.findings[reading.finding].links.iter().for_each(|l| linked[causes.component(l.suspect)] = true);
        let keep: Vec<usize> = (0..network.suspects.len()).filter(|&s| linked[causes.component(s)]).collect();
        let observations = vec![self.of.evidence.observations[reading.observation].clone()];
        let (network, evidence) = part(network, &Evidence { observations, ..self.repairs_alone() }, &keep);
        let mut own = Prepared::new(&network, &evidence)?;
        own.set_priors(&keep.iter().map(|&s| self.of.numbers.priors[s]).collect::<Vec<f64>>())?;
        Ok(own.evidence_now().ln())
    }
}

/// One distribution over the levels, or one for each grade.
fn rows(link: &Link) -> &[Vec<f64>] {
    if link.by_grade.is_empty() { std::slice::from_ref(&link.levels) } else { &link.by_grade }
}

/// Which of them is that of a suspect at this grade.
fn row(link: &Link, grade: usize) -> usize {
    if link.by_grade.is_empty() { 0 } else { grade }
}
