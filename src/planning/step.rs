//! The things one can do next. What they cost and lead to is in `problem` and `state`.

/// One action, by its place in the problem's lists.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Step {
    /// Do this test.
    Test(usize),
    /// Make this repair, then re-test.
    Repair(usize),
    /// Only re-test: the complaint may be gone already.
    Verify,
    /// Give the vehicle to someone else.
    HandOn,
}
