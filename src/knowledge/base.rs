//! The knowledge base as checked types: nothing after this module checks an id or a limit again.

use super::number::{Minutes, Money, Probability, Times, Weight};
use serde::{Deserialize, Serialize};

macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $( $(#[$vdoc:meta])* $variant:ident = $word:literal, )* }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum $name { $( $(#[$vdoc])* $variant, )* }

        impl $name {
            /// The words as written in the base.
            pub const WORDS: &'static [&'static str] = &[$($word),*];

            /// The value that a word stands for.
            #[must_use]
            pub fn from_word(word: &str) -> Option<Self> {
                match word { $($word => Some(Self::$variant),)* _ => None }
            }

            /// The word as written in the base.
            #[must_use]
            pub fn word(self) -> &'static str {
                match self { $(Self::$variant => $word,)* }
            }
        }
    };
}
pub(crate) use words;

words! {
    /// What sort of fault a code reports.
    CodeKind {
        /// Vapour gets out or air gets in.
        Leak = "leak",
        /// Too little, too much or unasked-for flow.
        Flow = "flow",
        /// The electrical side.
        Circuit = "circuit",
        /// A signal that does not fit the others.
        Plausibility = "plausibility",
        /// Something does not move.
        Stuck = "stuck",
        /// A unit found fault with itself.
        SelfCheck = "self-check",
    }
}
words! {
    /// Where a code's title comes from.
    TitleBasis {
        /// From memory of the standard.
        Memory = "memory",
        /// Compared with a public table (see tests/outside).
        Table = "table",
    }
}
words! {
    /// When a monitor runs.
    Runs {
        /// All the time.
        Continuously = "continuously",
        /// Once a trip, when its conditions are met.
        OnceATrip = "once-a-trip",
    }
}
words! {
    /// What can hurt.
    Hazard {
        /// Fuel vapour that burns.
        Vapour = "vapour",
        /// Liquid fuel.
        LiquidFuel = "liquid-fuel",
        /// Pressure in the vapour system.
        Pressure = "pressure",
        /// Battery current.
        Electric = "electric",
        /// A raised vehicle.
        Raised = "raised",
        /// Hot parts.
        Hot = "hot",
        /// Moving fans and belts.
        Moving = "moving",
        /// A running engine: exhaust gas, movement.
        EngineRunning = "engine-running",
        /// High voltage of a hybrid.
        HighVoltage = "high-voltage",
    }
}
words! {
    /// What sort of source a number has.
    SourceKind {
        /// A document that anyone can open.
        Published = "published",
        /// A general library of reference values.
        ReferenceLibrary = "reference-library",
        /// A rule of the trade without a document.
        CommonPractice = "common-practice",
        /// A document recalled and not opened.
        Memory = "memory",
    }
}
words! {
    /// Which property of the vehicle a factor reads.
    FactorInput {
        /// Age in years.
        Age = "age",
        /// Mileage in km.
        Mileage = "mileage",
        /// Climate.
        Climate = "climate",
        /// Something that happened to it.
        Circumstance = "circumstance",
    }
}
words! {
    /// What a number on a gauge is.
    Quantity {
        /// Pressure above atmosphere.
        Pressure = "pressure",
        /// Pressure below atmosphere, counted positive.
        Vacuum = "vacuum",
        /// Pressure lost over a time.
        PressureDrop = "pressure-drop",
        /// Vacuum lost over a time.
        VacuumDrop = "vacuum-drop",
        /// Volume flow.
        Flow = "flow",
        /// Resistance.
        Resistance = "resistance",
        /// Voltage.
        Voltage = "voltage",
        /// Voltage lost along a path.
        VoltageDrop = "voltage-drop",
        /// Current.
        Current = "current",
        /// A share of a hundred.
        Percent = "percent",
        /// Mass.
        Mass = "mass",
        /// Time.
        Time = "time",
        /// Temperature.
        Temperature = "temperature",
        /// Length.
        Length = "length",
        /// Volume.
        Volume = "volume",
    }
}
words! {
    /// What is done to a number before it is compared with its distributions.
    Adjust {
        /// A vacuum divided by the ratio of the air pressure to that at sea level.
        SeaLevel = "sea-level",
        /// The resistance of a copper winding brought to 20 °C.
        CopperAt20C = "copper-20c",
        /// The size counts, whichever side of zero it lies on.
        Unsigned = "unsigned",
    }
}
words! {
    /// Families of distributions for a measured number.
    DistributionShape {
        /// Normal(mean, sd).
        Normal = "normal",
        /// Lognormal(median, spread).
        LogNormal = "lognormal",
        /// Exponential(mean).
        Exponential = "exponential",
        /// Uniform(low, high).
        Uniform = "uniform",
    }
}

/// Where a number comes from: plain judgement, or a source of the base.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Basis {
    /// Judgement of people who know the trade.
    Judgement,
    /// The id of a source.
    Source(String),
}

/// P(effect | that suspect alone), one number per abnormal level.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SuspectLink {
    /// `part/mode`.
    pub suspect: String,
    /// One probability per abnormal level; adds up to at most 1.
    pub p: Vec<Probability>,
    /// How many jobs that is worth.
    pub weight: Weight,
    /// Where it comes from.
    pub basis: Basis,
}

/// P(symptom noticed | the suspect that holds this link).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SymptomLink {
    /// Symptom id.
    pub symptom: String,
    /// The probability.
    pub p: Probability,
    /// How many jobs that is worth.
    pub weight: Weight,
    /// Where it comes from.
    pub basis: Basis,
}

/// A stored trouble code.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Code {
    /// `P0455`.
    pub id: String,
    /// Folder it stands in.
    pub family: String,
    /// Public title.
    pub title: String,
    /// Where the title comes from.
    pub title_basis: TitleBasis,
    /// Other wordings.
    pub also: Vec<String>,
    /// What the computer saw.
    pub saw: String,
    /// Sort of fault.
    pub kind: CodeKind,
    /// Monitor id.
    pub monitor: String,
    /// P(stored | no listed suspect).
    pub leak: Probability,
    /// Where the numbers come from.
    pub basis: Basis,
    /// What they are worth.
    pub weight: Weight,
    /// Suspects that set it.
    pub sets: Vec<SuspectLink>,
    /// What a technician should know.
    pub note: Option<String>,
}

/// A condition under which a monitor runs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Condition {
    /// The quantity.
    pub what: String,
    /// The window.
    pub needs: String,
    /// Where that comes from.
    pub basis: Basis,
}

/// The "cause not listed here" of one monitor; its suspect id is `not-listed/MONITOR`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NotListed {
    /// Prevalence.
    pub prior: Probability,
    /// P(monitor ends in the code | cause not listed).
    pub sets: Vec<(String, Probability)>,
    /// Symptoms that go with it.
    pub symptoms: Vec<SymptomLink>,
}

/// One check the engine computer makes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Monitor {
    /// Id.
    pub id: String,
    /// Folder it stands in.
    pub family: String,
    /// What it is called.
    pub name: String,
    /// What it does.
    pub watches: String,
    /// When.
    pub runs: Runs,
    /// Failed trips before the code is stored.
    pub trips: u32,
    /// Where its numbers come from.
    pub basis: Basis,
    /// What they are worth.
    pub weight: Weight,
    /// Conditions under which it runs.
    pub conditions: Vec<Condition>,
    /// Codes it can end in, mildest first.
    pub levels: Vec<String>,
    /// Monitors that keep it from running once failed.
    pub suspended_by: Vec<String>,
    /// Its own cause not listed.
    pub not_listed: NotListed,
    /// Tests that prove a repair on the spot.
    pub proof: Vec<String>,
}

/// One part failing in one way.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Suspect {
    /// `part/mode`.
    pub id: String,
    /// In words.
    pub name: String,
    /// What is wrong.
    pub what: String,
    /// Prevalence among cars that have the part.
    pub prior: Probability,
    /// How many jobs that is worth.
    pub weight: Weight,
    /// Where it comes from.
    pub basis: Basis,
    /// Whether it lets vapour out.
    pub vapour_leak: bool,
    /// Factor ids.
    pub factors: Vec<String>,
    /// Equipment options that must all be there.
    pub requires: Vec<String>,
    /// Symptoms it causes.
    pub symptoms: Vec<SymptomLink>,
}

/// A repair.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Repair {
    /// `part/repair`.
    pub id: String,
    /// What is done.
    pub does: String,
    /// Labour.
    pub minutes: Minutes,
    /// Parts.
    pub parts_cost: Money,
    /// Full suspect ids.
    pub removes: Vec<String>,
    /// Chance that it does not take.
    pub fails: Probability,
    /// Caution ids.
    pub cautions: Vec<String>,
}

/// A physical component.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Part {
    /// Id.
    pub id: String,
    /// Folder it stands in.
    pub family: String,
    /// What it is called.
    pub name: String,
    /// Other names.
    pub also: Vec<String>,
    /// Where it sits.
    pub place: String,
    /// What it does.
    pub does: String,
    /// The ways it fails.
    pub suspects: Vec<Suspect>,
    /// What can be done.
    pub repairs: Vec<Repair>,
}

/// A distribution of a measured number, in the unit of its measure.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Distribution {
    /// Normal.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation, above 0.
        sd: f64,
    },
    /// Lognormal.
    LogNormal {
        /// Median, above 0.
        median: f64,
        /// Multiplicative standard deviation, above 1.
        spread: f64,
    },
    /// Exponential.
    Exponential {
        /// Mean, above 0.
        mean: f64,
    },
    /// Uniform.
    Uniform {
        /// Lowest.
        low: f64,
        /// Highest, above `low`.
        high: f64,
    },
}

impl Quantity {
    /// Whether it is lost over a time, so that a start and a time belong to it.
    #[must_use]
    pub fn is_drop(self) -> bool {
        matches!(self, Self::PressureDrop | Self::VacuumDrop)
    }
}

/// How a reading is measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Measure {
    /// What the number is.
    pub quantity: Quantity,
    /// Its unit, as written.
    pub unit: String,
    /// What the gauge tells apart, in that unit.
    pub resolution: f64,
    /// How and over what time it is taken.
    pub taken: Option<String>,
    /// Where a drop starts, in that unit, above 0; a drop always has it, nothing else does.
    pub start: Option<f64>,
    /// Over how many seconds a drop is read, above 0; a drop always has it, nothing else does.
    pub over_s: Option<f64>,
    /// What is done to the number before it is compared.
    pub adjust: Option<Adjust>,
    /// One distribution per level, normal first.
    pub when: Vec<Distribution>,
}

/// One thing a test tells.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// `test:reading`.
    pub id: String,
    /// What is looked at.
    pub name: String,
    /// What normal looks like.
    pub normal: String,
    /// What abnormal looks like.
    pub abnormal: String,
    /// Names of the levels, normal first.
    pub levels: Vec<String>,
    /// P(level | none of the suspects), one per abnormal level.
    pub false_alarm: Vec<Probability>,
    /// Suspects it reveals.
    pub detects: Vec<SuspectLink>,
    /// For a reading that is a number.
    pub measure: Option<Measure>,
}

/// A procedure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Test {
    /// Id.
    pub id: String,
    /// Folder it stands in.
    pub family: String,
    /// What it is called.
    pub name: String,
    /// Other names.
    pub also: Vec<String>,
    /// What it tells.
    pub why: String,
    /// Tool ids.
    pub tools: Vec<String>,
    /// Setup ids.
    pub setups: Vec<String>,
    /// Labour without setups.
    pub minutes: Minutes,
    /// What is used up.
    pub consumables: Money,
    /// Equipment options that must all be there.
    pub requires: Vec<String>,
    /// Whether it waits for the engine computer's own checks and reads what they find.
    pub repeats_monitors: bool,
    /// Caution ids.
    pub cautions: Vec<String>,
    /// Where the numbers come from.
    pub basis: Basis,
    /// What they are worth.
    pub weight: Weight,
    /// What to do.
    pub steps: Vec<String>,
    /// What it tells.
    pub readings: Vec<Reading>,
}

/// Something noticed at intake.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Symptom {
    /// Id.
    pub id: String,
    /// Folder it stands in.
    pub family: String,
    /// As a technician would note it.
    pub name: String,
    /// Other ways to say it.
    pub also: Vec<String>,
    /// P(noticed | none of the suspects).
    pub background: Probability,
    /// What that is worth.
    pub weight: Weight,
    /// Where it comes from.
    pub basis: Basis,
}

/// A state of the vehicle that several tests share.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Setup {
    /// Id.
    pub id: String,
    /// What it is called.
    pub name: String,
    /// What to do.
    pub does: Vec<String>,
    /// Labour, paid once.
    pub minutes: Minutes,
    /// What can hurt.
    pub hazards: Vec<Hazard>,
    /// Caution ids.
    pub cautions: Vec<String>,
}

/// A tool.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Tool {
    /// Id.
    pub id: String,
    /// What it is called.
    pub name: String,
    /// Other names.
    pub also: Vec<String>,
    /// What it is for.
    pub what: String,
    /// What it costs to buy.
    pub price: Money,
    /// What can hurt.
    pub hazards: Vec<Hazard>,
}

/// A caution.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Caution {
    /// Id.
    pub id: String,
    /// A few words.
    pub name: String,
    /// The hazards it speaks of.
    pub covers: Vec<Hazard>,
    /// The caution itself.
    pub text: String,
}

/// Where numbers come from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Source {
    /// Id.
    pub id: String,
    /// The document.
    pub title: String,
    /// What sort.
    pub kind: SourceKind,
    /// Section, table, year.
    pub place: String,
    /// What it is used for.
    pub note: Option<String>,
}

/// One of the things a vehicle may have.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct EquipmentOption {
    /// Id, unique over all equipment.
    pub id: String,
    /// What it is called.
    pub name: String,
    /// Share of vehicles when unknown.
    pub share: Probability,
}

/// A choice of equipment.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Equipment {
    /// Id.
    pub id: String,
    /// What is chosen.
    pub name: String,
    /// How to ask.
    pub question: String,
    /// The alternatives.
    pub options: Vec<EquipmentOption>,
}

/// One band of a factor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Band {
    /// Which values it covers.
    pub covers: Covers,
    /// Relative multiplier, as written.
    pub times: Times,
    /// Share of vehicles in it.
    pub share: Probability,
}

/// Which values a band covers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Covers {
    /// Numbers from (inclusive) to (exclusive; none for the last band).
    Range(f64, Option<f64>),
    /// A climate or circumstance.
    Word(String),
}

/// What multiplies priors.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Factor {
    /// Id.
    pub id: String,
    /// What it is.
    pub name: String,
    /// What it reads.
    pub input: FactorInput,
    /// Where the numbers come from.
    pub basis: Basis,
    /// The bands.
    pub bands: Vec<Band>,
}

/// What is known of the vehicle; all of it optional.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Vehicle {
    /// Age in years.
    pub age: Option<f64>,
    /// Mileage in km.
    pub mileage_km: Option<f64>,
    /// Climate word.
    pub climate: Option<String>,
    /// Equipment option ids it has.
    pub equipment: Vec<String>,
    /// Circumstances that hold.
    pub circumstances: Vec<String>,
}

/// What a worked case expects.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Expect {
    /// Suspect or part meant.
    pub subject: Subject,
    /// What must hold of it.
    pub claim: Claim,
    /// Line in the case's file, for the report.
    pub line: u32,
    /// Column in that line.
    pub column: u32,
}

/// Who an expectation speaks of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Subject {
    /// A suspect.
    Suspect(String),
    /// A part: any of its suspects.
    Part(String),
    /// The first step of the plan.
    FirstStep(String),
}

/// What must hold.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Claim {
    /// Ranks among the first so many.
    Within(u32),
    /// Ranks above that suspect.
    Above(String),
    /// Probability at least.
    AtLeast(f64),
    /// Probability at most.
    AtMost(f64),
    /// The subject is the first step.
    IsFirst,
}

/// One epoch of a worked case.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct CaseEpoch {
    /// Codes present.
    pub codes: Vec<String>,
    /// Symptoms noticed.
    pub symptoms: Vec<String>,
    /// Symptoms looked for and absent.
    pub no_symptoms: Vec<String>,
    /// Reading id and outcome.
    pub results: Vec<(String, String)>,
    /// The repair that ends it; none for the present.
    pub repair: Option<String>,
}

/// A worked case.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Case {
    /// Id.
    pub id: String,
    /// File it stands in, for the report.
    pub path: String,
    /// What it shows.
    pub title: String,
    /// The experience it stands on.
    pub why: String,
    /// The vehicle.
    pub vehicle: Vehicle,
    /// Repairs before the visit.
    pub already: Vec<String>,
    /// Epochs, the present last.
    pub epochs: Vec<CaseEpoch>,
    /// Tools at hand; none means all.
    pub tools: Option<Vec<String>>,
    /// What must come out.
    pub expect: Vec<Expect>,
}

/// The whole base, every list sorted by id.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Base {
    /// Codes.
    pub codes: Vec<Code>,
    /// Monitors.
    pub monitors: Vec<Monitor>,
    /// Parts with their suspects and repairs.
    pub parts: Vec<Part>,
    /// Tests.
    pub tests: Vec<Test>,
    /// Symptoms.
    pub symptoms: Vec<Symptom>,
    /// Setups.
    pub setups: Vec<Setup>,
    /// Tools.
    pub tools: Vec<Tool>,
    /// Cautions.
    pub cautions: Vec<Caution>,
    /// Sources.
    pub sources: Vec<Source>,
    /// Equipment.
    pub equipment: Vec<Equipment>,
    /// Factors.
    pub factors: Vec<Factor>,
    /// Groups of words that mean the same.
    pub synonyms: Vec<Vec<String>>,
    /// Worked cases.
    pub cases: Vec<Case>,
}

macro_rules! by_id {
    ($($list:ident $fn:ident $type:ty;)*) => { $(
        #[doc = concat!("The entry of `", stringify!($list), "` with this id.")]
        #[must_use]
        pub fn $fn(&self, id: &str) -> Option<&$type> {
            self.$list.binary_search_by(|x| x.id.as_str().cmp(id)).ok().map(|i| &self.$list[i])
        }
    )* };
}

impl Base {
    by_id! {
        codes code Code;
        monitors monitor Monitor;
        parts part Part;
        tests test Test;
        symptoms symptom Symptom;
        setups setup Setup;
        tools tool Tool;
        cautions caution Caution;
        sources source Source;
        equipment equipment_choice Equipment;
        factors factor Factor;
    }

    /// All suspects with their parts, in the order of the parts.
    pub fn suspects(&self) -> impl Iterator<Item = (&Part, &Suspect)> {
        self.parts.iter().flat_map(|p| p.suspects.iter().map(move |s| (p, s)))
    }

    /// The suspect `part/mode` and its part.
    #[must_use]
    pub fn suspect(&self, id: &str) -> Option<(&Part, &Suspect)> {
        let (part, _) = id.split_once('/')?;
        let part = self.part(part)?;
        part.suspects.iter().find(|s| s.id == id).map(|s| (part, s))
    }

    /// All repairs with their parts.
    pub fn repairs(&self) -> impl Iterator<Item = (&Part, &Repair)> {
        self.parts.iter().flat_map(|p| p.repairs.iter().map(move |r| (p, r)))
    }

    /// The repair `part/repair` and its part.
    #[must_use]
    pub fn repair(&self, id: &str) -> Option<(&Part, &Repair)> {
        let (part, _) = id.split_once('/')?;
        let part = self.part(part)?;
        part.repairs.iter().find(|r| r.id == id).map(|r| (part, r))
    }

    /// The reading `test:reading` and its test.
    #[must_use]
    pub fn reading(&self, id: &str) -> Option<(&Test, &Reading)> {
        let (test, _) = id.split_once(':')?;
        let test = self.test(test)?;
        test.readings.iter().find(|r| r.id == id).map(|r| (test, r))
    }

    /// The equipment option with this id and the choice it belongs to.
    #[must_use]
    pub fn equipment_option(&self, id: &str) -> Option<(&Equipment, &EquipmentOption)> {
        self.equipment.iter().find_map(|e| e.options.iter().find(|o| o.id == id).map(|o| (e, o)))
    }

    /// All words of the factors with that input: the climates, the circumstances.
    #[must_use]
    pub fn factor_words(&self, input: FactorInput) -> Vec<&str> {
        let mut words: Vec<&str> = self
            .factors
            .iter()
            .filter(|f| f.input == input)
            .flat_map(|f| &f.bands)
            .filter_map(|b| match &b.covers {
                Covers::Word(w) => Some(w.as_str()),
                Covers::Range(..) => None,
            })
            .collect();
        words.sort_unstable();
        words.dedup();
        words
    }

    /// Name of a suspect, the "cause not listed" ones included; the id itself when the base does not know it.
    #[must_use]
    pub fn suspect_name(&self, id: &str) -> String {
        if let Some(monitor) = id.strip_prefix(NOT_LISTED_PREFIX) {
            let name = self.monitor(monitor).map_or(monitor, |m| m.name.as_str());
            return format!("cause not listed here ({name})");
        }
        self.suspect(id).map_or_else(|| id.to_owned(), |(_, s)| s.name.clone())
    }
}

/// What the ids of "cause not listed here" start with.
pub const NOT_LISTED_PREFIX: &str = "not-listed/";
