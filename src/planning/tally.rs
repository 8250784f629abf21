//! What a reading tells about what has to be done: the expected loss of entropy over the kinds of worlds.
//!
//! Most readings show few suspects, and all worlds that hold none of them look alike to it: with the level's chance `b` in such
//! a world, kinds of the masses `K` that no shown suspect touches add `b sum K log K + b log b sum K`. Only the worlds that hold
//! a suspect that the reading shows are gone through.

use super::state::State;
use super::universe::Universe;

/// Buffers, kept between calls.
#[derive(Clone, Debug)]
pub(super) struct Buffers {
    /// Mass of each world; nought outside of a tally.
    masses: Vec<f64>,
    /// Mass of each kind; the same.
    kinds: Vec<f64>,
    /// For each kind `K log K`.
    logs: Vec<f64>,
    /// For the kinds touched by a reading, the mass that it touches and what of it shows a level; nought between readings.
    touched: Vec<f64>,
    shown: Vec<f64>,
    /// The worlds touched by a reading with their kinds and masses, and these kinds.
    worlds: Vec<(usize, usize, f64)>,
    places: Vec<usize>,
}

impl Buffers {
    pub fn new(universe: &Universe) -> Self {
        let kinds = vec![0.0; universe.kinds];
        Self {
            masses: vec![0.0; universe.worlds.len()],
            logs: kinds.clone(),
            touched: kinds.clone(),
            shown: kinds.clone(),
            kinds,
            worlds: Vec::new(),
            places: Vec::new(),
        }
    }

    /// Takes up a state; nothing when its worlds are all of one kind.
    pub fn take<'a>(&'a mut self, universe: &'a Universe, state: &'a State) -> Option<Tally<'a>> {
        let mut present = 0;
        for &(w, m) in &state.worlds {
            self.masses[w] = m;
            self.kinds[universe.kind[w]] += m;
            present |= universe.worlds[w].present;
        }
        let (mut mass, mut log, mut several) = (0.0, 0.0, 0);
        for (k, l) in self.kinds.iter().zip(&mut self.logs).filter(|k| *k.0 > 0.0) {
            *l = k * log2(*k);
            mass += k;
            log += *l;
            several += 1;
        }
        let tally = Tally { it: self, universe, state, present, mass, log };
        (several > 1).then_some(tally)
    }

    /// `- sum over kinds of m log2 (m / M)`: entropy over the kinds of worlds, times the mass.
    pub fn entropy(&mut self, universe: &Universe, state: &State) -> f64 {
        self.take(universe, state).map_or(0.0, |t| t.mass * log2(t.mass) - t.log)
    }
}

/// A state of knowledge, ready to be asked what readings tell about it.
pub(super) struct Tally<'a> {
    it: &'a mut Buffers,
    universe: &'a Universe,
    state: &'a State,
    /// Suspects of any of its worlds.
    present: u128,
    mass: f64,
    /// Sum over the kinds of `K log K`.
    log: f64,
}

impl Tally<'_> {
    /// Expected loss of entropy by the reading, times the mass.
    pub fn gain(&mut self, reading: usize) -> f64 {
        let (shows, holding) = self.universe.shows(reading);
        if shows & self.present == 0 {
            return 0.0;
        }
        let Buffers { masses, kinds, logs, touched, shown, worlds, places } = &mut *self.it;
        worlds.clear();
        places.clear();
        let mut take = |w: usize, m: f64| {
            let kind = self.universe.kind[w];
            worlds.push((w, kind, m));
            if touched[kind] == 0.0 {
                places.push(kind);
            }
            touched[kind] += m;
        };
        if holding.len() <= self.state.worlds.len() {
            holding.iter().filter(|&&w| masses[w] > 0.0).for_each(|&w| take(w, masses[w]));
        } else {
            let holds = |w: &&(usize, f64)| self.universe.worlds[w.0].present & shows != 0;
            self.state.worlds.iter().filter(holds).for_each(|w| take(w.0, w.1));
        }
        let (mut mass, mut log) = (self.mass, self.log);
        for &k in &*places {
            mass -= kinds[k];
            log -= logs[k];
        }
        // What is left of nothing may come out a little below it.
        mass = mass.max(0.0);
        let mut after = 0.0;
        for level in 0..self.universe.levels(reading) {
            let likelihood = self.universe.likelihood(reading, level);
            let plain = self.universe.plain(reading, level);
            for &(w, kind, m) in &*worlds {
                shown[kind] += m * likelihood[w];
            }
            let mut total = plain * mass;
            let mut sum = if plain > 0.0 { plain * log + total * log2(plain) } else { 0.0 };
            for &k in &*places {
                let m = shown[k] + plain * (kinds[k] - touched[k]).max(0.0);
                shown[k] = 0.0;
                if m > 0.0 {
                    total += m;
                    sum += m * log2(m);
                }
            }
            if total > 0.0 {
                after += total * log2(total) - sum;
            }
        }
        places.iter().for_each(|&k| touched[k] = 0.0);
        (self.mass * log2(self.mass) - self.log - after).max(0.0)
    }
}

impl Drop for Tally<'_> {
    fn drop(&mut self) {
        for &(w, _) in &self.state.worlds {
            self.it.masses[w] = 0.0;
            self.it.kinds[self.universe.kind[w]] = 0.0;
        }
    }
}

/// Logarithm to the base 2 of a normal number above 0, within 2e-9: exponent, and of the rest, brought between the root of one
/// half and that of two, the first terms of `ln m = 2 (s + s^3/3 + s^5/5 + ...)`, `s = (m - 1) / (m + 1)`. Ten thousands
/// are taken for one step.
fn log2(x: f64) -> f64 {
    const FRACTION: u64 = (1 << 52) - 1;
    let bits = x.to_bits();
    let exponent = i32::try_from(bits >> 52).unwrap_or(0) - 1023;
    let m = f64::from_bits(bits & FRACTION | 1023 << 52);
    let (m, exponent) = if m > std::f64::consts::SQRT_2 { (0.5 * m, exponent + 1) } else { (m, exponent) };
    let s = (m - 1.0) / (m + 1.0);
    let q = s * s;
    let ln = 2.0 * s * (1.0 + q * (1.0 / 3.0 + q * (1.0 / 5.0 + q * (1.0 / 7.0 + q / 9.0))));
    f64::from(exponent) + ln * std::f64::consts::LOG2_E
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_quick_logarithm_is_close() {
        for i in 1..20_000 {
            let x = f64::from(i) * 7.3e-5;
            assert!((super::log2(x) - x.log2()).abs() < 2e-9, "{x}");
        }
    }
}
