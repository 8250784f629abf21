//! The things one can do next. What they cost and lead to is in `problem` and `state`.

/// One action, by its place in the problem's lists.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Step {
    /// Do this test.
    Test(usize),
    /// Make this repair, then re-test.
    Repair(usize),
    /// Make this repair and go on without a re-test: another fault is still to be dealt with.
    Mend(usize),
    /// Only re-test: the complaint may be gone already.
    Verify,
    /// Give the vehicle to someone else.
    HandOn,
}

impl Step {
    /// The repair that is made, with or without a re-test after it.
    #[must_use]
    pub fn repair(self) -> Option<usize> {
        match self {
            Self::Repair(r) | Self::Mend(r) => Some(r),
            Self::Test(_) | Self::Verify | Self::HandOn => None,
        }
    }
}
