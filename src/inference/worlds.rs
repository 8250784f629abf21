//! Which sets of suspects may be the truth, with exact probabilities? For a planner. How they are searched for is
//! in `search_worlds`; how they are worded, elsewhere.

/// At which time a suspect counts as present.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum When {
    /// In epoch 0, before any repair, whether or not a repair has removed it since.
    Start,
    /// In the last epoch. A suspect that a repair removed counts as absent; both ways of being absent, never
    /// there and removed, are added up.
    Now,
}

/// Over which suspects a world is specific.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scope {
    /// Suspects that could have raised an observation that tells levels apart, such as a positive code. The
    /// others are independent of these given the evidence; a world leaves them open.
    Relevant,
    /// All suspects: everything outside the set is absent.
    All,
}

/// One set of suspects.
#[derive(Clone, Debug, PartialEq)]
pub struct World {
    /// The suspects present, in increasing order; every other suspect of the scope is absent.
    pub suspects: Vec<usize>,
    /// P(exactly these are present | evidence).
    pub probability: f64,
}

/// The likely worlds.
#[derive(Clone, Debug, PartialEq)]
pub struct Worlds {
    /// Most probable first; equal ones by their suspects.
    pub list: Vec<World>,
    /// Probability of everything that is not listed.
    pub missing: f64,
    /// Whether the search ran to its end: no world that should be listed was passed over for lack of time.
    pub complete: bool,
}
