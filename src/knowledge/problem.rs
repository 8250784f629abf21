//! What can be wrong with a base, each kind with a stable code. Knows nothing of terminals: a screen draws these.

use super::yaml::Place;
use crate::words;
use serde::{Deserialize, Serialize};

words! {
    /// The kinds of problem, as printed in brackets.
    ProblemCode {
        /// The file cannot be read at all.
        Unreadable = "kb-unreadable",
        /// The file is larger than any entry may be.
        TooLarge = "kb-too-large",
        /// The file is not UTF-8.
        NotUtf8 = "kb-not-utf8",
        /// The text is not YAML.
        Syntax = "kb-syntax",
        /// An anchor, an alias or a merge key.
        Alias = "kb-alias",
        /// The file stands where no entry belongs.
        Misplaced = "kb-misplaced",
        /// A folder that the base needs is missing.
        MissingFolder = "kb-missing-folder",
        /// The entry is empty.
        Empty = "kb-empty",
        /// A field that the record does not have.
        UnknownField = "kb-unknown-field",
        /// A field that must be there is not.
        MissingField = "kb-missing-field",
        /// A key that stands twice in one record.
        DuplicateKey = "kb-duplicate-key",
        /// A value of the wrong shape.
        WrongShape = "kb-wrong-shape",
        /// A word that is none of those allowed.
        UnknownWord = "kb-unknown-word",
        /// An id that is badly formed.
        BadId = "kb-bad-id",
        /// Two entries of one kind with the same id.
        DuplicateId = "kb-duplicate-id",
        /// A text that is empty.
        EmptyText = "kb-empty-text",
        /// Not a probability strictly between 0 and 1.
        Probability = "kb-probability",
        /// Probabilities of one cause that add up to more than 1, or shares that do not add up to 1.
        Sum = "kb-sum",
        /// Suspects that leave the car in one state and are seen otherwise, without a reason.
        Twins = "kb-twins",
        /// A physical state without twins, or one that is sensed and that nothing brings about.
        LoneState = "kb-lone-state",
        /// A fact that only symptoms or only factors are.
        LoneFact = "kb-lone-fact",
        /// Suspects that bring each other about.
        Circle = "kb-circle",
        /// The wrong count of numbers for the levels.
        LevelCount = "kb-level-count",
        /// Minutes, costs or weights that are negative or absurd.
        Amount = "kb-amount",
        /// A link to a suspect that is weaker than chance.
        WeakLink = "kb-weak-link",
        /// A reading that is a number and says nowhere which number is good or bad.
        NoFigure = "kb-no-figure",
        /// A repair that takes no longer than what is said to be within its minutes.
        HeldLabour = "kb-held-labour",
        /// A test before a repair that says nothing of what the repair is made for.
        IdleLook = "kb-idle-look",
        /// A distribution whose parameters do not describe one.
        Distribution = "kb-distribution",
        /// A unit that does not measure the quantity.
        Unit = "kb-unit",
        /// A code that the base does not know.
        UnknownCode = "kb-unknown-code",
        /// A monitor that the base does not know.
        UnknownMonitor = "kb-unknown-monitor",
        /// A part that the base does not know.
        UnknownPart = "kb-unknown-part",
        /// A suspect that the base does not know.
        UnknownSuspect = "kb-unknown-suspect",
        /// A test that the base does not know.
        UnknownTest = "kb-unknown-test",
        /// A reading that the base does not know.
        UnknownReading = "kb-unknown-reading",
        /// A symptom that the base does not know.
        UnknownSymptom = "kb-unknown-symptom",
        /// A tool that the base does not know.
        UnknownTool = "kb-unknown-tool",
        /// A setup that the base does not know.
        UnknownSetup = "kb-unknown-setup",
        /// A caution that the base does not know.
        UnknownCaution = "kb-unknown-caution",
        /// A source that the base does not know.
        UnknownSource = "kb-unknown-source",
        /// A factor that the base does not know.
        UnknownFactor = "kb-unknown-factor",
        /// An equipment option that the base does not know.
        UnknownEquipment = "kb-unknown-equipment",
        /// A repair that the base does not know.
        UnknownRepair = "kb-unknown-repair",
        /// A climate or circumstance that no factor reads.
        UnknownCircumstance = "kb-unknown-circumstance",
        /// An outcome that the reading does not have.
        UnknownOutcome = "kb-unknown-outcome",
        /// A suspect that no code and no symptom mentions.
        SilentSuspect = "kb-silent-suspect",
        /// A suspect that no test reveals.
        HiddenSuspect = "kb-hidden-suspect",
        /// A suspect that no repair removes.
        StuckSuspect = "kb-unrepairable-suspect",
        /// A code without suspects.
        IdleCode = "kb-code-without-suspects",
        /// A monitor's levels and the codes that name it do not agree.
        LevelsDisagree = "kb-levels-disagree",
        /// An entry whose acts or tools bring a hazard that none of its cautions covers.
        MissingCaution = "kb-missing-caution",
        /// A caution that nothing in its entry calls for, or that no entry carries.
        IdleCaution = "kb-idle-caution",
        /// A step that says something is done which the entry's acts do not name.
        UnsaidAct = "kb-unsaid-act",
        /// A plug pulled before any step has made it dead.
        LiveUnplug = "kb-live-unplug",
        /// A reading of which some results are neither normal nor abnormal, without a word on them.
        VerdictGap = "kb-verdict-gap",
        /// One id for entries of two kinds.
        SharedId = "kb-shared-id",
        /// A prior that its factors can push beyond belief.
        PriorTooHigh = "kb-prior-too-high",
        /// Bands that leave gaps or overlap.
        Bands = "kb-bands",
        /// A worked case that claims nothing or two things at once.
        CaseClaim = "kb-case-claim",
        /// A worked case that does not come out.
        CaseFails = "kb-case-fails",
    }
}

impl ProblemCode {
    /// One sentence on what the kind of problem means.
    #[must_use]
    pub fn meaning(self) -> &'static str {
        match self {
            Self::Unreadable => "The file or folder cannot be read.",
            Self::TooLarge => "An entry is a few kilobytes; this file is far larger and was not read.",
            Self::NotUtf8 => "Entries are UTF-8 text.",
            Self::Syntax => "The text is not valid YAML.",
            Self::Alias => "Anchors, aliases and merge keys are not used: an entry says what it says in place.",
            Self::Misplaced => "Entries stand at FAMILY/KIND/ID.yaml; this file does not.",
            Self::MissingFolder => "A base needs at least one code, monitor, part and test.",
            Self::Empty => "The file holds no entry.",
            Self::UnknownField => "The record has no field of this name.",
            Self::MissingField => "A field that must be there is not.",
            Self::DuplicateKey => "The same key stands twice in one record.",
            Self::WrongShape => "The value has the wrong shape for its field.",
            Self::UnknownWord => "The field takes one of a few words.",
            Self::BadId => "Ids are lower-case words joined by hyphens; code ids are P and four hexadecimal digits.",
            Self::DuplicateId => "Two entries of one kind have the same id.",
            Self::EmptyText => "The text is empty.",
            Self::Probability => "A probability lies strictly between 0 and 1.",
            Self::Sum => "Probabilities of exclusive outcomes must add up.",
            Self::Twins => "What leaves the car in one physical state is seen alike by what senses that state.",
            Self::LoneState => "A physical state is shared by suspects and sensed by a reading.",
            Self::LoneFact => "A fact in common is marked at a symptom and at a factor.",
            Self::Circle => "What brings others about is not brought about by them.",
            Self::LevelCount => "There is one number per abnormal level.",
            Self::Amount => "The number is negative or absurd.",
            Self::WeakLink => "A link that is weaker than chance says next to nothing for its suspect.",
            Self::NoFigure => "The texts of a number say which number is good or bad.",
            Self::HeldLabour => {
                "The minutes of a repair hold those of the setups and tests it names, and its own work."
            }
            Self::IdleLook => "A test made before a repair bears on what it removes, or on what stores the same codes.",
            Self::Distribution => "The parameters do not describe a distribution.",
            Self::Unit => "The unit does not measure this quantity.",
            Self::UnknownCode
            | Self::UnknownMonitor
            | Self::UnknownPart
            | Self::UnknownSuspect
            | Self::UnknownTest
            | Self::UnknownReading
            | Self::UnknownSymptom
            | Self::UnknownTool
            | Self::UnknownSetup
            | Self::UnknownCaution
            | Self::UnknownSource
            | Self::UnknownFactor
            | Self::UnknownEquipment
            | Self::UnknownRepair
            | Self::UnknownCircumstance => "The base has no entry of this id.",
            Self::UnknownOutcome => "The reading has no such outcome.",
            Self::SilentSuspect => "No code and no symptom mentions this suspect, so nothing could ever point at it.",
            Self::HiddenSuspect => "No test reveals this suspect, so it could never be confirmed.",
            Self::StuckSuspect => "No repair removes this suspect.",
            Self::IdleCode => "A code that no suspect sets cannot be explained.",
            Self::LevelsDisagree => "A monitor's levels are exactly the codes that name it.",
            Self::MissingCaution => {
                "What is done and with which tools brings hazards; the entry must carry a caution for each."
            }
            Self::IdleCaution => "A caution that nothing calls for trains people to skip cautions.",
            Self::UnsaidAct => {
                "Cautions follow from what an entry's `acts` name; a step does something that they do not."
            }
            Self::LiveUnplug => "Nothing is unplugged before it is dead.",
            Self::VerdictGap => {
                "A result between normal and abnormal needs a word on what it means and what is done then."
            }
            Self::SharedId => "Entries are shown by their id alone, so no two kinds share one.",
            Self::PriorTooHigh => "The strongest factors together would make this suspect present in half of all cars.",
            Self::Bands => "Bands cover the range without gaps or overlaps and their shares add up.",
            Self::CaseClaim => "An expectation names one subject and one claim.",
            Self::CaseFails => "A worked case does not come out as it says.",
        }
    }
}

/// One problem: what, where, and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// The kind.
    pub code: ProblemCode,
    /// File, relative to the base's folder.
    pub file: String,
    /// Place in it; line 0 when the whole file is meant.
    pub place: Place,
    /// How many characters to underline, at least 1.
    pub length: usize,
    /// One sentence.
    pub message: String,
    /// What to do.
    pub hint: Option<String>,
}
