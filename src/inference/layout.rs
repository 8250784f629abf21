//! Where does each digit stand in the table at each step, and what is kept for the way back? Takes the order of
//! the suspects as given and computes no probability.

use std::ops::Range;

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
    /// Strides of the suspect's digits, in [`Layout::strides`], parallel to the suspect's digits.
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

/// A table that would be too wide.
#[derive(Debug)]
pub(crate) struct TooWide {
    /// Cells that would be held at once.
    pub cells: usize,
    /// The digits that are open at its widest.
    pub digits: Vec<usize>,
}

impl Layout {
    /// Places digits of so many groups for suspects passing in this order, each with the digits that it touches.
    ///
    /// # Errors
    /// The digits of the widest table, where it would be too wide.
    pub fn new(groups: &[usize], ordered: &[(usize, &[usize])]) -> Result<Self, TooWide> {
        let mut layout = Self { widest: 1, ..Self::default() };
        let mut remaining = vec![0_usize; groups.len()];
        for &digit in ordered.iter().flat_map(|(_, digits)| *digits) {
            remaining[digit] += 1;
        }
        layout.untouched = (0..remaining.len()).filter(|&d| remaining[d] == 0).collect();
        let mut open: Vec<usize> = Vec::new();
        let mut widest_open = Vec::new();
        for &(suspect, digits) in ordered {
            let (opens, strides, closes) = (layout.opens.len(), layout.strides.len(), layout.closes.len());
            for &digit in digits {
                if !open.contains(&digit) {
                    open.push(digit);
                    layout.opens.push(digit);
                }
            }
            let cells = stride_of(groups, &open, open.len());
            if cells > layout.widest {
                layout.widest = cells;
                widest_open.clone_from(&open);
            }
            for &digit in digits {
                let place = open.iter().position(|&d| d == digit).unwrap_or(0);
                layout.strides.push(stride_of(groups, &open, place));
                remaining[digit] -= 1;
            }
            while let Some(place) = open.iter().rposition(|&d| remaining[d] == 0) {
                layout.closes.push((open[place], stride_of(groups, &open, place)));
                open.remove(place);
            }
            let (opens, strides) = (opens..layout.opens.len(), strides..layout.strides.len());
            layout.steps.push(Step { suspect, opens, strides, closes: closes..layout.closes.len(), cells });
        }
        let held = layout.cut_segments();
        if held > CELL_LIMIT {
            return Err(TooWide { cells: held, digits: widest_open });
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
fn stride_of(groups: &[usize], open: &[usize], place: usize) -> usize {
    open[..place].iter().fold(1_usize, |cells, &d| cells.saturating_mul(groups[d]))
}
