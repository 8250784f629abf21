//! Every number that shapes a search, in one place, with why it is what it is. Computes nothing.
//!
//! The values were chosen by hand and then varied one at a time: on either half of `tests/search/queries.tsv` hit-at-3 moves by
//! at most 0.025, so none of them is finely tuned (`cargo bench --bench search` prints both halves).

/// The numbers of a search.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// How many entries the index hands over to be read closely.
    pub candidates: usize,
    /// Words of a query that count; what comes after them is not read.
    pub words: usize,
    /// How well another word of the same group answers a word, an exact hit being 1.
    pub synonym: f32,
    /// The same over two groups, when the word itself does not occur in the base.
    pub second_hand: f32,
    /// The same for a word that only looks alike; below every other, so that a typo never outranks an exact hit.
    pub typo: f32,
    /// The same for another form of the word that stemming does not see (`rust`, `rusty`).
    pub form: f32,
    /// What a word in between costs a run of words.
    pub gap: f32,
    /// Worth of words such as `off` and `after`, content words being 1.
    pub weak: f32,
    /// Share of the score that comes from the one wording that fits best; the rest comes from all wordings.
    pub best_wording: f32,
    /// How much of a wording's worth depends on its own words being asked for.
    pub precision: f32,
    /// What neighbouring words add when they stand together in the wording too.
    pub together: f32,
    /// What the index's own BM25 adds, for the best candidate.
    pub bm25: f32,
    /// What a symptom's score is multiplied with: people start from what they notice, so it wins where it fits as well.
    pub symptom_first: f32,
    /// Hits below this share of the best hit's score are noise.
    pub noise: f32,
    /// Hits below this score are noise whatever the best hit has.
    pub floor: f32,
    /// A symptom with at least this score may stand for the words without asking.
    pub sure: f32,
    /// ... if the next symptom has at most this share of it.
    pub lead: f32,
    /// Symptoms with less than this share of the best one's score are not offered as a choice.
    pub offered: f32,
    /// Most symptoms offered when the words fit several.
    pub choices: usize,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            candidates: 160,
            words: 40,
            synonym: 0.8,
            second_hand: 0.6,
            typo: 0.6,
            form: 0.95,
            gap: 0.8,
            weak: 0.35,
            best_wording: 0.65,
            precision: 0.3,
            together: 0.15,
            bm25: 0.1,
            symptom_first: 1.05,
            noise: 0.35,
            floor: 0.08,
            sure: 0.6,
            lead: 0.8,
            offered: 0.55,
            choices: 6,
        }
    }
}
