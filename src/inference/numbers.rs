//! The probabilities of one inference, laid out as its plan wants them. Values come from the network or from a
//! draw (`sample`); which observation does what is the plan's business.

use super::RepairEvent;
use super::causes::{Acting, life_probability};
use super::grouping::max_with;
use super::lanes::{Real, sum};
use super::mask::Mask;
use super::plan::{Plan, Reading, Role};
use super::scaled::{Scaled, exponent_of, pow2};
use network::Network;

/// Numbers that go with a [`Plan`].
#[derive(Clone, Debug, Default)]
pub(crate) struct Numbers<T: Real = f64> {
    /// P(suspect).
    pub priors: Vec<T>,
    /// P(grade | suspect) of all graded suspects, one after the other; see [`Self::grades_at`].
    pub grade_shares: Vec<T>,
    /// Where the shares of each suspect start.
    pub grades_at: Vec<usize>,
    /// P(cause brings victim about), parallel to [`Network::brings`].
    pub brings: Vec<T>,
    /// For each bring: place of its cause's digit in the victim's mask, and whether it acts only later.
    ways_in: Vec<(usize, usize, bool)>,
    repairs: Vec<RepairEvent>,
    /// Factors of the masks; see [`super::mask::Mask::at`].
    pub masks: Vec<T>,
    /// P(group | background alone) and P(group | suspect alone); see [`Reading::at`].
    pub groups: Vec<T>,
    /// Running sums of `groups`, filled for links only.
    pub cumulative: Vec<T>,
    /// Weight of each life variant after everything that folds, largest of each suspect in [1, 2) unless it is free.
    pub weights: Vec<T>,
    /// Factor common to everything: folded backgrounds, powers of two, suspects that are free.
    pub scale: Scaled<T>,
}

/// One suspect, there in one epoch, at one grade or at any: what leaves findings at their lowest level.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Silence {
    pub suspect: usize,
    pub epoch: usize,
    pub grade: Option<usize>,
}

impl Numbers {
    /// Takes priors and group probabilities from the network and computes the weights.
    pub fn from_network(plan: &Plan, network: &Network) -> Self {
        let mut numbers = Self::default();
        numbers.take_priors(network);
        numbers.take_causes(plan, network);
        numbers.take_groups(plan, network);
        numbers.weigh(plan, None);
        numbers
    }

    /// Takes the priors from the network.
    pub fn take_priors(&mut self, network: &Network) {
        self.priors.clear();
        self.priors.extend(network.suspects.iter().map(|s| s.prior));
        self.grade_shares.clear();
        self.grades_at.clear();
        for s in &network.suspects {
            self.grades_at.push(self.grade_shares.len());
            self.grade_shares.extend(s.grades.iter().map(|g| g.share));
        }
        self.grades_at.push(self.grade_shares.len());
    }

    fn take_causes(&mut self, plan: &Plan, network: &Network) {
        self.brings = network.brings.iter().map(|b| b.p).collect();
        if self.brings.is_empty() {
            return;
        }
        self.repairs.clone_from(&plan.repairs);
        self.masks.resize(plan.masks_len, 0.0);
        let place = |victim: usize, cause: usize| {
            let digits = plan.mask(victim).map_or(&[][..], |m| &m.digits);
            digits.iter().position(|&d| plan.digits[d] == super::plan::Digit::Live(cause)).unwrap_or(0)
        };
        self.ways_in = network.brings.iter().map(|b| (place(b.victim, b.cause), b.cause, b.later)).collect();
    }

    fn take_groups(&mut self, plan: &Plan, network: &Network) {
        self.groups.resize(plan.groups_len, 0.0);
        for r in &plan.readings {
            let (n, finding) = (r.grouping.len(), &network.findings[r.finding]);
            r.grouping.sum_into(&finding.leak, &mut self.groups[r.at..r.at + n]);
            for (k, link) in finding.links.iter().enumerate() {
                let at = plan.rows[r.links_at + k];
                if link.by_grade.is_empty() {
                    r.grouping.sum_into(&link.levels, &mut self.groups[at..at + n]);
                }
                for (g, levels) in link.by_grade.iter().enumerate() {
                    r.grouping.sum_into(levels, &mut self.groups[at + g * n..at + (g + 1) * n]);
                }
            }
        }
    }
}

impl<T: Real> Numbers<T> {
    /// The same numbers in every lane.
    pub fn alike(one: &Numbers) -> Self {
        let all = |x: &[f64]| x.iter().map(|&x| T::of(x)).collect();
        Self {
            priors: all(&one.priors),
            grade_shares: all(&one.grade_shares),
            grades_at: one.grades_at.clone(),
            brings: all(&one.brings),
            ways_in: one.ways_in.clone(),
            repairs: one.repairs.clone(),
            masks: all(&one.masks),
            groups: all(&one.groups),
            cumulative: all(&one.cumulative),
            weights: all(&one.weights),
            scale: Scaled { mantissa: T::of(one.scale.mantissa), exponent: one.scale.exponent },
        }
    }

    /// P(grade | suspect), 1 where there are none.
    pub fn grade_share(&self, suspect: usize, grade: usize) -> T {
        let own = &self.grade_shares[self.grades_at[suspect]..self.grades_at[suspect + 1]];
        own.get(grade).copied().unwrap_or(T::of(1.0))
    }

    /// Factors of all masks: P(life | lives of the causes), and of its own digit the slice of its own life.
    fn fill_masks(&mut self, plan: &Plan) {
        let mut acting: Vec<Acting<T>> = Vec::new();
        for suspect in 0..self.priors.len() {
            let Some(mask) = plan.mask(suspect) else { continue };
            let victim = plan.causes.of(suspect);
            if self.repairs.is_empty() && !victim.is_empty() {
                self.fill_mask_of_one_epoch(plan, suspect, mask, victim);
                continue;
            }
            for class in 0..mask.classes {
                acting.clear();
                acting.extend(victim.iter().map(|&b| {
                    let (place, cause, later) = self.ways_in[b];
                    let presence = plan.lives.lives_of(cause)[mask.state_of(class, place)];
                    Acting { presence, p: self.brings[b], later }
                }));
                for (life, &presence) in plan.lives.lives_of(suspect).iter().enumerate() {
                    let at = mask.at + life * mask.classes + class;
                    self.masks[at] = if mask.own && mask.state_of(class, 0) != life {
                        T::default()
                    } else if victim.is_empty() {
                        T::of(1.0)
                    } else {
                        life_probability(suspect, presence, self.priors[suspect], &acting, &self.repairs)
                    };
                }
            }
        }
    }

    /// The same for a victim where nothing was repaired: it is there or not, which is worked out cause by cause, for all
    /// combinations of the causes before.
    fn fill_mask_of_one_epoch(&mut self, plan: &Plan, suspect: usize, mask: &Mask, victim: &[usize]) {
        let (one, prior) = (T::of(1.0), self.priors[suspect]);
        let own_states = if mask.own { mask.states[0] } else { 1 };
        let mut each = vec![(prior, one - prior)];
        for (place, &states) in mask.states.iter().enumerate().skip(usize::from(mask.own)) {
            let before = each.len();
            for _ in 1..states {
                each.extend_from_within(..before);
            }
            for &b in victim.iter().filter(|&&b| self.ways_in[b].0 == place) {
                let cause = self.ways_in[b].1;
                for (state, of_state) in each.chunks_exact_mut(before).enumerate() {
                    if plan.lives.lives_of(cause)[state] & 1 == 1 {
                        let (p, not_p) = (self.brings[b], one - self.brings[b]);
                        for (there, not) in of_state {
                            (*there, *not) = (*there + *not * p, *not * not_p);
                        }
                    }
                }
            }
        }
        for (life, &presence) in plan.lives.lives_of(suspect).iter().enumerate() {
            for (class, &(there, not)) in each.iter().enumerate() {
                let value = if presence & 1 == 1 { there } else { not };
                let at = mask.at + life * mask.classes + class * own_states;
                for own in 0..own_states {
                    self.masks[at + own] = if mask.own && own != life { T::default() } else { value };
                }
            }
        }
    }

    /// Computes running sums, weights and scale from priors and group probabilities, leaving out one folded
    /// reading if asked to. `links` of a reading are looked up in the plan, not in the network.
    pub fn weigh(&mut self, plan: &Plan, skip: Option<usize>) {
        self.weigh_with(plan, |reading| skip == Some(reading), &[]);
    }

    /// The same without some folded readings, whose factors are given instead, each by suspect, epoch and grade.
    pub fn weigh_with(&mut self, plan: &Plan, skip: impl Fn(usize) -> bool, instead: &[(Silence, T)]) {
        self.cumulative.resize(plan.groups_len, T::default());
        self.scale = Scaled::default();
        let one = T::of(1.0);
        self.weights.clear();
        for (suspect, &p) in self.priors.iter().enumerate() {
            // How likely a victim's life is depends on its causes and stands in its mask.
            let (absent, present) = if plan.causes.of(suspect).is_empty() { (one - p, p) } else { (one, one) };
            self.weights.push(absent);
            for v in plan.lives.of(suspect).skip(1) {
                let share = self.grade_share(suspect, plan.lives.grade[v]) * plan.lives.share[v];
                self.weights.push(present * share);
            }
        }
        if plan.masks_len > 0 {
            self.fill_masks(plan);
        }
        for (index, reading) in plan.readings.iter().enumerate() {
            if !skip(index) {
                self.scale.exponent += reading.grouping.exponent;
                self.fold(plan, reading);
            }
        }
        for (of, factor) in instead {
            let own = plan.lives.of(of.suspect).filter(|&v| plan.lives.present(v, of.epoch));
            for v in own.filter(|&v| of.grade.is_none_or(|grade| plan.lives.grade[v] == grade)) {
                self.weights[v] *= *factor;
            }
        }
        for suspect in 0..self.priors.len() {
            let range = plan.lives.of(suspect);
            if plan.is_free(suspect) {
                self.scale.times(sum(self.weights[range].iter().copied()));
            } else {
                self.rescale(range);
            }
        }
    }

    fn fold(&mut self, plan: &Plan, r: &Reading) {
        let n = r.grouping.len();
        let leak = r.at..r.at + n;
        if r.role == Role::Fold {
            let of_leak = expected(&self.groups[leak.clone()], &r.grouping.likelihood);
            self.scale.times(of_leak);
        }
        let mut dist = Vec::with_capacity(n);
        for (k, &suspect) in plan.linked(r).iter().enumerate() {
            let (at, rows) = (plan.rows[r.links_at + k], plan.row_count[r.links_at + k]);
            if !plan.rising[r.links_at + k] {
                // Impossible levels are missing from the groups, so the sum may be below one.
                self.scale_variants(plan, (suspect, r.epoch), T::of(1.0), rows, |groups, row| {
                    sum(groups[at + row * n..at + (row + 1) * n].iter().copied())
                });
            } else if let Role::Digit(_) = r.role {
                for row in 0..rows {
                    let mut sum = T::default();
                    for g in at + row * n..at + (row + 1) * n {
                        sum += self.groups[g];
                        self.cumulative[g] = sum;
                    }
                }
            } else {
                let alone = expected(&self.groups[leak.clone()], &r.grouping.likelihood);
                self.scale_variants(plan, (suspect, r.epoch), alone, rows, |groups, row| {
                    dist.clear();
                    dist.extend_from_slice(&groups[leak.clone()]);
                    max_with(&mut dist, &groups[at + row * n..at + (row + 1) * n]);
                    expected(&dist, &r.grouping.likelihood)
                });
            }
        }
    }

    /// Multiplies the variants of a suspect by one factor if absent in this epoch, by another, for each row of its link,
    /// if present.
    fn scale_variants(
        &mut self,
        plan: &Plan,
        (suspect, epoch): (usize, usize),
        absent: T,
        rows: usize,
        mut present: impl FnMut(&[T], usize) -> T,
    ) {
        let range = plan.lives.of(suspect);
        let mut largest = 0.0_f64;
        let mut known = (usize::MAX, T::default());
        for v in range.clone() {
            let factor = if plan.lives.present(v, epoch) {
                let row = if rows > 1 { plan.lives.grade[v] } else { 0 };
                if known.0 != row {
                    known = (row, present(&self.groups, row));
                }
                known.1
            } else {
                absent
            };
            self.weights[v] *= factor;
            largest = largest.max(self.weights[v].largest());
        }
        if largest < 1e-100 {
            self.rescale(range);
        }
    }

    /// Divides the variants' weights by a power of two so that the largest is in [1, 2).
    fn rescale(&mut self, range: std::ops::Range<usize>) {
        let largest = self.weights[range.clone()].iter().map(|w| w.largest()).fold(0.0, f64::max);
        let e = exponent_of(largest);
        if e != 0 {
            for w in &mut self.weights[range] {
                *w = *w * pow2(-e);
            }
            self.scale.exponent += e;
        }
    }
}

/// `sum of p × likelihood`.
pub(crate) fn expected<T: Real>(p: &[T], likelihood: &[f64]) -> T {
    sum(p.iter().zip(likelihood).map(|(&p, &l)| p * l))
}
