//! Where does each digit stand in the table at each step, and what is kept for the way back? Takes the order of
//! the suspects as given and computes no probability.

use std::ops::Range;

use super::InferenceError;
use super::plan::Plan;

/// Most cells that may be held at once (eight bytes each): 512 MiB.
pub(crate) const CELL_LIMIT: usize = 1 << 26;

/// Cells below which all tables of the way forward are kept, instead of some being computed twice. Larger tapes
/// leave the processor's cache and cost more than a second pass.
const TAPE_CELLS: usize = 1 << 20;

/// One suspect's turn.
#[derive(Clone, Debug)]
pub(crate) struct Step {
    pub suspect: usize,
    /// Digits opened before, in [`Layout::opens`]; each becomes the outermost.
    pub opens: Range<usize>,
    /// Strides of the suspect's digits, in [`Layout::strides`], parallel to [`Plan::digits_of`].
    pub strides: Range<usize>,
    /// Digits closed after, in [`Layout::closes`].
    pub closes: Range<usize>,
    /// Cells of the table while the suspect passes.
    pub cells: usize,
}

/// The work of one pass, in order.
#[derive(Clone, Debug, Default)]
pub(crate) struct Layout {
    pub steps: Vec<Step>,
    pub opens: Vec<usize>,
    pub strides: Vec<usize>,
    /// Digit and its stride at the time when it is closed.
    pub closes: Vec<(usize, usize)>,
    /// Digits that none of the suspects of this layout touches.
    pub untouched: Vec<usize>,
    /// First step of each segment; the table at its start is kept, those inside it are computed again.
    pub segments: Vec<usize>,
    /// Cells of the widest table, at least 1.
    pub widest: usize,
}

impl Layout {
    /// Places the digits for suspects passing in this order.
    pub fn new(plan: &Plan, ordered: &[usize]) -> Result<Self, InferenceError> {
        let mut layout = Self { widest: 1, ..Self::default() };
        let mut remaining = vec![0_usize; plan.digits.len()];
        for digit in ordered.iter().flat_map(|&s| plan.digits_of(s)) {
            remaining[digit] += 1;
        }
        layout.untouched = (0..remaining.len()).filter(|&d| remaining[d] == 0).collect();
        let mut open: Vec<usize> = Vec::new();
        let mut widest_open = Vec::new();
        for &suspect in ordered {
            let (opens, strides, closes) = (layout.opens.len(), layout.strides.len(), layout.closes.len());
            for digit in plan.digits_of(suspect) {
                if !open.contains(&digit) {
                    open.push(digit);
                    layout.opens.push(digit);
                }
            }
            let cells = stride_of(plan, &open, open.len());
            if cells > layout.widest {
                layout.widest = cells;
                widest_open.clone_from(&open);
            }
            for digit in plan.digits_of(suspect) {
                let place = open.iter().position(|&d| d == digit).unwrap_or(0);
                layout.strides.push(stride_of(plan, &open, place));
                remaining[digit] -= 1;
            }
            while let Some(place) = open.iter().rposition(|&d| remaining[d] == 0) {
                layout.closes.push((open[place], stride_of(plan, &open, place)));
                open.remove(place);
            }
            let (opens, strides) = (opens..layout.opens.len(), strides..layout.strides.len());
            layout.steps.push(Step { suspect, opens, strides, closes: closes..layout.closes.len(), cells });
        }
        let held = layout.cut_segments();
        if held > CELL_LIMIT {
            let readings = widest_open.iter().filter_map(|&d| plan.reading_of(d));
            let mut findings: Vec<usize> = readings.map(|r| r.finding).collect();
            findings.sort_unstable();
            findings.dedup();
            return Err(InferenceError::TooWide { cells: held, limit: CELL_LIMIT, findings });
        }
        Ok(layout)
    }

    /// Cuts the steps into segments and returns the cells that will be held at once.
    ///
    /// Keeping one table per segment and all tables of one segment takes least memory when a segment holds about
    /// sqrt(total × widest) cells.
    fn cut_segments(&mut self) -> usize {
        let total = self.steps.iter().fold(0_usize, |sum, s| sum.saturating_add(s.cells));
        let balanced = (total as f64 * self.widest as f64).sqrt();
        let budget = if total <= TAPE_CELLS { total } else { (balanced as usize).max(TAPE_CELLS) };
        let (mut in_segment, mut tape, mut kept) = (usize::MAX, 0, 0_usize);
        for (t, step) in self.steps.iter().enumerate() {
            if in_segment.saturating_add(step.cells) > budget {
                self.segments.push(t);
                kept = kept.saturating_add(if t == 0 { 0 } else { step.cells });
                in_segment = 0;
            }
            in_segment = in_segment.saturating_add(step.cells);
            tape = tape.max(in_segment);
        }
        tape.saturating_add(kept).saturating_add(self.widest.saturating_mul(3))
    }

    /// Steps of segment `k`.
    pub fn segment(&self, k: usize) -> Range<usize> {
        self.segments[k]..self.segments.get(k + 1).copied().unwrap_or(self.steps.len())
    }
}

/// Stride of the digit at this place among the open ones.
fn stride_of(plan: &Plan, open: &[usize], place: usize) -> usize {
    open[..place].iter().fold(1_usize, |cells, &d| cells.saturating_mul(plan.digit_groups(d)))
}
