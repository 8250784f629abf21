//! What the life of one suspect has to do with the lives of others, as a factor for every cell of the table.
//!
//! A suspect that brings others about has a digit of its own in the table, whose states are its lives ("live digit"). Who
//! passes multiplies each cell by P(own life | the lives that the cell stands for) and keeps, of its own digit, the slice of
//! its own life. The factor does not depend on the order in which suspects pass, so any order is correct.

use super::lanes::Real;

/// The live digits that one suspect looks at: its own first, if it has one, then those of its causes.
#[derive(Clone, Debug, Default)]
pub(crate) struct Mask {
    /// The digits.
    pub digits: Vec<usize>,
    /// Their numbers of states.
    pub states: Vec<usize>,
    /// Whether the first is its own.
    pub own: bool,
    /// Where its factors start in `Numbers::masks`: for each life, one for each combination of states.
    pub at: usize,
    /// Combinations of states.
    pub classes: usize,
}

impl Mask {
    /// Calls `act` for every run of cells of one combination, with the start of the run, its length and the combination.
    /// `strides` are those of the digits.
    pub fn runs(&self, cells: usize, strides: &[usize], mut act: impl FnMut(usize, usize, usize)) {
        // Strides are multiples of each other, so that a run of the smallest holds one combination.
        let run = strides.iter().copied().min().unwrap_or(cells);
        let mut start = 0;
        while start < cells {
            let (mut class, mut times) = (0, 1);
            for (stride, states) in strides.iter().zip(&self.states) {
                class += (start / stride) % states * times;
                times *= states;
            }
            act(start, run, class);
            start += run;
        }
    }

    /// The states of a combination.
    pub fn states_of(&self, mut class: usize) -> Vec<usize> {
        self.states
            .iter()
            .map(|&n| {
                let state = class % n;
                class /= n;
                state
            })
            .collect()
    }
}

/// `into += factor × from`, or `into = factor × from` where `keep` is false, with one factor for each combination.
pub(crate) fn masked<T: Real>(mask: &Mask, strides: &[usize], factors: &[T], from: &[T], into: &mut [T], keep: bool) {
    mask.runs(from.len(), strides, |start, run, class| {
        let f = factors[class];
        for (x, &y) in into[start..start + run].iter_mut().zip(&from[start..start + run]) {
            *x = if keep { *x + f * y } else { f * y };
        }
    });
}
