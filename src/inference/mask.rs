//! What the life of one suspect has to do with the lives of others, as a factor for every cell of the table.
//!
//! A suspect that brings others about has a digit of its own in the table, whose states are its lives ("live digit"). Who
//! passes multiplies each cell by P(own life | the lives that the cell stands for) and keeps, of its own digit, the slice of
//! its own life. The factor does not depend on the order in which suspects pass, so any order is correct.

use super::lanes::Real;
use smallvec::SmallVec;

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
    /// `strides` are those of the digits; `cells` are whole rounds of the digit that turns slowest.
    pub fn runs(&self, cells: usize, strides: &[usize], mut act: impl FnMut(usize, usize, usize)) {
        let mut times = 1;
        let mut digits: SmallVec<[Digit; 8]> = strides
            .iter()
            .zip(&self.states)
            .map(|(&stride, &states)| {
                let digit = Digit { stride, states, times };
                times *= states;
                digit
            })
            .collect();
        // Strides are multiples of each other, so that a run of the smallest holds one combination, and the cells of one
        // state of a digit hold whole rounds of the next smaller: what the digits stand at is counted up, never divided out.
        digits.sort_unstable_by_key(|digit| std::cmp::Reverse(digit.stride));
        count_up(&digits, 0, cells, 0, &mut act);
    }

    /// The state of one of its digits in a combination.
    pub fn state_of(&self, class: usize, digit: usize) -> usize {
        class / self.states[..digit].iter().product::<usize>() % self.states[digit]
    }
}

/// One digit of the cells' numbers: how far apart its states lie, how many it has, and what one state more adds to the
/// number of the combination.
struct Digit {
    stride: usize,
    states: usize,
    times: usize,
}

/// Calls `act` for the runs among `cells` cells from `start`, in which the digits before these stand at `class`.
fn count_up(digits: &[Digit], start: usize, cells: usize, class: usize, act: &mut impl FnMut(usize, usize, usize)) {
    let Some((digit, smaller)) = digits.split_first() else {
        return act(start, cells, class);
    };
    let mut at = start;
    while at < start + cells {
        for state in 0..digit.states {
            let class = class + state * digit.times;
            // The last digit is by far the most frequent: no call of its own.
            if smaller.is_empty() {
                act(at, digit.stride, class);
            } else {
                count_up(smaller, at, digit.stride, class, act);
            }
            at += digit.stride;
        }
    }
}

/// `into += weight × factor × from`, or `into = weight × factor × from` where `keep` is false, with one factor for each
/// combination.
pub(crate) fn masked<T: Real>(
    mask: &Mask,
    strides: &[usize],
    (factors, weight): (&[T], T),
    from: &[T],
    into: &mut [T],
    keep: bool,
) {
    mask.runs(from.len(), strides, |start, run, class| {
        let f = factors[class] * weight;
        for (x, &y) in into[start..start + run].iter_mut().zip(&from[start..start + run]) {
            *x = if keep { *x + f * y } else { f * y };
        }
    });
}
