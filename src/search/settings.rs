//! Every number that shapes a search, in one place, with why it is what it is. Computes nothing.
//!
//! The values were set by hand on the working half of the writers' queries (`tests/search/queries-working.tsv`); nobody has
//! varied them one at a time yet.

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
    /// Worth of words that tell a story: people, times, places.
    pub story: f32,
    /// How much a thought of a query counts for itself: 0 as if it were the whole query, 1 only by its share of it.
    pub clause: f32,
    /// Share of the score that comes from the one wording that fits best; the rest comes from all wordings.
    pub best_wording: f32,
    /// How much of a wording's worth depends on its own words being asked for.
    pub precision: f32,
    /// What neighbouring words add when they stand together in the wording too.
    pub together: f32,
    /// What the index's own BM25 adds, for the best candidate.
    pub bm25: f32,
    /// What the score of a sort of entry gains when the query clearly asks for it.
    pub wanted: f32,
    /// What a test or a repair gains from what it finds or removes, when a test or a repair is asked for.
    pub bears: f32,
    /// What is e times as common as the middle one of its sort gains by so much: the common thing is meant more often.
    pub common: f32,
    /// The power to which the rarity of a word is raised: below 1, a rare word counts less against common ones.
    pub rarity: f32,
    /// What a thought after the first one counts against it.
    pub later: f32,
    /// What a symptom's score is multiplied with: people start from what they notice.
    pub symptom: f32,
    /// What a part's score is multiplied with: nobody looks for a part who can have what is wrong with it.
    pub part: f32,
    /// The same for a part when the words are nothing but its name.
    pub named: f32,
    /// What the score of a repair or a circumstance is multiplied with: it repeats the words of its suspects.
    pub aside: f32,
    /// What the score of a caution is multiplied with where something else is asked for.
    pub unasked: f32,
    /// The first of a sort stands for the second where it scores at least this share of it,
    pub first_of_sort: f32,
    /// and the second is told behind it, at this share.
    pub later_of_sort: f32,
    /// The best hit of the sort asked for leads if it has at least this share of the best score.
    pub leads: f32,
    /// The best test and the best caution are told apart from the hits from this share of the best score on.
    pub beside: f32,
    /// Hits below this share of the best hit's score are noise.
    pub noise: f32,
    /// Hits below this score are noise whatever the best hit has.
    pub floor: f32,
    /// An entry one of whose names means the same as the words to at least this share may stand for them without asking.
    pub sure: f32,
    /// ... if the next one has at most this share of it, and of its score.
    pub lead: f32,
    /// Entries with less than this share of the best one's score are not offered as a choice.
    pub offered: f32,
    /// Most entries offered when the words fit several.
    pub choices: usize,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            candidates: 400,
            words: 40,
            synonym: 0.85,
            second_hand: 0.6,
            typo: 0.7,
            form: 0.95,
            gap: 0.8,
            weak: 0.35,
            story: 0.15,
            clause: 0.4,
            best_wording: 0.65,
            precision: 0.3,
            together: 0.15,
            bm25: 0.1,
            wanted: 0.35,
            bears: 0.3,
            common: 0.02,
            rarity: 0.8,
            later: 0.95,
            symptom: 1.05,
            part: 0.8,
            named: 1.4,
            aside: 0.92,
            unasked: 0.85,
            first_of_sort: 0.75,
            later_of_sort: 0.85,
            leads: 0.55,
            beside: 0.5,
            noise: 0.35,
            floor: 0.08,
            sure: 0.8,
            lead: 0.8,
            offered: 0.55,
            choices: 6,
        }
    }
}
