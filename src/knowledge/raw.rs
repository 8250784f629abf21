//! Entries as written: every field with its position, nothing checked yet. Only `check` reads these types.

use super::acts::Act;
use super::base::{
    Adjust, CarRule, CodeKind, DistributionShape, FactorInput, Hazard, Open, Quantity, ReadyGroup, Runs, Section,
    SourceKind, TitleBasis, When,
};
use super::fields::{Num, Nums};
use super::shape::{Shape, list, record};
use super::yaml::Spanned;

/// A text with its position.
pub type Text = Spanned<String>;
/// Texts with their positions.
pub type Texts = Vec<Text>;
/// Records with their positions.
pub type Many<T> = Vec<Spanned<T>>;

record! {
    /// A link with one probability or one for each level.
    RawLink "link" {
        need suspect: String = Shape::Id("suspect"), "The suspect, as part/mode.";
        need p: Nums = Shape::Probabilities, "Probability of the effect given that suspect alone; one number per abnormal level.";
        may apart: String = Shape::Text, "Why it is seen otherwise here than the suspects that leave the car in the same state.";
        may weight: Num = Shape::UpTo(1e6), "How many jobs the number is worth, when other than the entry's.";
        may basis: String = Shape::Id("source"), "Where the number comes from, when other than the entry's.";
    }
}
record! {
    /// A stored trouble code.
    RawCode "code" {
        need title: String = Shape::Text, "Title in the public wording of SAE J2012.";
        need title_basis: String = Shape::Words(TitleBasis::WORDS), "Where the title comes from.";
        may also: Texts = list(Shape::Text), "Other wordings, for the search.";
        need saw: String = Shape::Text, "What the computer saw, in own words.";
        need kind: String = Shape::Words(CodeKind::WORDS), "What sort of fault it reports.";
        need monitor: String = Shape::Id("monitor"), "The monitor that ends in this code.";
        need leak: Num = Shape::Probability, "P(code stored | no listed suspect present).";
        need basis: String = Shape::Id("source"), "Where the numbers come from.";
        need weight: Num = Shape::UpTo(1e6), "How many jobs the numbers are worth.";
        need sets: Many<RawLink> = list(RawLink::shape()), "Suspects that set it, each with P(the monitor ends in this code | that suspect alone).";
        may note: String = Shape::Text, "What a technician should know about this code.";
    }
}
record! {
    /// A condition under which a monitor runs.
    RawCondition "condition" {
        need what: String = Shape::Text, "The quantity.";
        need needs: String = Shape::Text, "The window it must be in.";
        need basis: String = Shape::Id("source"), "Where that comes from.";
    }
}
record! {
    /// P(code | cause not listed).
    RawNotListedSets "code of a cause not listed" {
        need code: String = Shape::Id("code"), "The code.";
        need p: Num = Shape::Probability, "P(the monitor ends in it | a cause not listed).";
    }
}
record! {
    /// A symptom and how often its cause shows it.
    RawSymptomLink "symptom link" {
        need symptom: String = Shape::Id("symptom"), "The symptom.";
        need p: Num = Shape::Probability, "P(noticed | that suspect alone).";
        may weight: Num = Shape::UpTo(1e6), "How many jobs the number is worth, when other than the entry's.";
        may basis: String = Shape::Id("source"), "Where the number comes from, when other than the entry's.";
    }
}
record! {
    /// The "cause not listed here" of a monitor.
    RawNotListed "cause not listed" {
        need prior: Num = Shape::Probability, "Prevalence of causes that this base does not list.";
        need sets: Many<RawNotListedSets> = list(RawNotListedSets::shape()), "The codes it sets.";
        need symptoms: Many<RawSymptomLink> = list(RawSymptomLink::shape()), "The symptoms that go with it.";
    }
}
record! {
    /// A test result that a car reports.
    RawTestResult "test result" {
        need test: String = Shape::Text, "The standard's number of the monitor, two hexadecimal digits in quotes.";
        need code: String = Shape::Id("code"), "The code of this monitor that a failed result ends in.";
    }
}
record! {
    /// One check the engine computer makes.
    RawMonitor "monitor" {
        need name: String = Shape::Text, "What it is called.";
        need watches: String = Shape::Text, "What it does, in own words.";
        need runs: String = Shape::Words(Runs::WORDS), "Continuously, or once a trip.";
        need trips: Num = Shape::UpTo(20.0), "Trips with a failed check before the code is stored.";
        need basis: String = Shape::Id("source"), "Where the numbers come from.";
        need weight: Num = Shape::UpTo(1e6), "How many jobs the numbers are worth.";
        need conditions: Many<RawCondition> = list(RawCondition::shape()), "Conditions under which it runs.";
        may readiness: String = Shape::Words(ReadyGroup::WORDS), "The bit of the car's readiness that tells whether it has run.";
        need levels: Texts = list(Shape::Id("code")), "The codes it can end in, mildest first.";
        may test_results: Many<RawTestResult> = list(RawTestResult::shape()), "Results of its tests that the car reports (service 06).";
        may senses: RawSenses = RawSenses::shape(), "The openings it senses: their codes follow from their size.";
        may suspended_by: Texts = list(Shape::Id("monitor")), "Monitors which, once failed, keep this one from running.";
        need not_listed: RawNotListed = RawNotListed::shape(), "Its own cause not listed here.";
        need proof: Texts = list(Shape::Id("test")), "Tests that prove a repair on the spot, best first.";
    }
}
record! {
    /// What a look at the very place tells.
    RawSeen "look" {
        may open: String = Shape::Words(Open::WORDS), "How open to the eye it is; `after-access` when not said.";
        may detects: Num = Shape::Probability, "P(found | present), when other than usual for what is as open to the eye.";
        may false_alarm: Num = Shape::Probability, "P(taken to be found | absent), when other than usual.";
        may minutes: Num = Shape::UpTo(960.0), "Labour for one look, when other than usual.";
    }
}
record! {
    /// The hole that a leaking suspect makes.
    RawOpening "opening" {
        need median_mm: Num = Shape::UpTo(100.0), "Median of the diameter over cars, in mm.";
        need spread: Num = Shape::UpTo(10.0), "Multiplicative standard deviation over cars, above 1.";
        need at: String = Shape::Words(Section::WORDS), "The section of the system that it opens.";
    }
}
record! {
    /// Which openings a finding senses.
    RawSenses "sensed openings" {
        need sections: Texts = list(Shape::Words(Section::WORDS)), "The sections inside what is looked at.";
        need limits_mm: Many<Num> = list(Shape::UpTo(100.0)), "The diameter in mm from which each abnormal level is reached, rising.";
        need spread: Num = Shape::UpTo(10.0), "How the limits scatter (multiplicative standard deviation), above 1.";
        need reach: Num = Shape::Probability, "P(an opening far beyond the first limit is noticed at all).";
    }
}
record! {
    /// Another suspect that this one brings about.
    RawBrings "suspect brought about" {
        need suspect: String = Shape::Id("suspect"), "The suspect brought about, as part/mode.";
        need p: Num = Shape::Probability, "P(brought about | the cause has been there).";
        may when: String = Shape::Words(When::WORDS), "When a renewed one falls again; `at-once` when not said.";
        may weight: Num = Shape::UpTo(1e6), "How many jobs the number is worth, when other than the suspect's.";
        may basis: String = Shape::Id("source"), "Where the number comes from, when other than the suspect's.";
    }
}
record! {
    /// One part failing in one way.
    RawSuspect "suspect" {
        need mode: String = Shape::Text, "How it fails; the suspect's id is part/mode.";
        need name: String = Shape::Text, "The suspect in words.";
        may also: Texts = list(Shape::Text), "Other ways to say it, for the search.";
        need what: String = Shape::Text, "What is wrong and how it comes about.";
        need prior: Num = Shape::Probability, "Prevalence among cars on the road that have the part.";
        may seen: RawSeen = RawSeen::shape(), "What a look at it tells, where that is not as usual.";
        may by_driver: bool = Shape::Flag, "Whether whoever drives the car can bring it about again at any time, so that no repair settles it for good.";
        may opening: RawOpening = RawOpening::shape(), "The hole that it makes, where it is a leak.";
        may state: Texts = list(Shape::Text), "Physical states that it leaves the car in, each a word that its twins have too: vent-open.";
        may brings: Many<RawBrings> = list(RawBrings::shape()), "What it brings about.";
        may vapour_leak: bool = Shape::Flag, "Whether it lets fuel vapour out of the system.";
        may factors: Texts = list(Shape::Id("factor")), "What multiplies the prior.";
        may requires: Texts = list(Shape::Id("equipment option")), "What a vehicle must have for it to be possible.";
        need symptoms: Many<RawSymptomLink> = list(RawSymptomLink::shape()), "Symptoms it causes.";
        may weight: Num = Shape::UpTo(1e6), "How many jobs the prior is worth, when other than the part's.";
        may basis: String = Shape::Id("source"), "Where the prior comes from, when other than the part's.";
    }
}
record! {
    /// A repair of a part.
    RawRepair "repair" {
        need id: String = Shape::Text, "Its name within the part; the repair's id is part/id.";
        need r#do: String = Shape::Text, "What is done.";
        may also: Texts = list(Shape::Text), "Other ways to say it, for the search.";
        need minutes: Num = Shape::UpTo(960.0), "Labour in minutes.";
        need parts_cost: Num = Shape::UpTo(50_000.0), "Parts, in the shop's currency.";
        need removes: Texts = list(Shape::Text), "Modes of this part, or full part/mode ids, that it removes.";
        need fails: Num = Shape::Probability, "Chance that the repair itself does not take.";
        may reaches: Texts = list(Shape::Id("setup")), "Setups whose time is within its minutes: saved where a test has paid for them.";
        may locates: Texts = list(Shape::Id("test")), "Tests whose time is within its minutes, since they find the place: saved where one of them was done.";
        may after: Texts = list(Shape::Id("test")), "Tests made before it wherever they cost little beside it, so that nothing is fitted in vain.";
        may acts: Texts = list(Shape::Words(Act::WORDS)), "What is opened, touched, energised, lifted or heated; each calls for its cautions.";
        may cautions: Texts = list(Shape::Id("caution")), "Cautions, printed before it.";
    }
}
record! {
    /// A physical component.
    RawPart "part" {
        need name: String = Shape::Text, "What it is called.";
        may also: Texts = list(Shape::Text), "Other names people use.";
        need r#where: String = Shape::Text, "Where it sits.";
        need does: String = Shape::Text, "What it does.";
        need basis: String = Shape::Id("source"), "Where the numbers come from.";
        need weight: Num = Shape::UpTo(1e6), "How many jobs the numbers are worth.";
        need suspects: Many<RawSuspect> = list(RawSuspect::shape()), "The ways it fails.";
        need repairs: Many<RawRepair> = list(RawRepair::shape()), "What can be done about it.";
    }
}
record! {
    /// A distribution of a number.
    RawDistribution "distribution" {
        need shape: String = Shape::Words(DistributionShape::WORDS), "Which distribution.";
        may mean: Num = Shape::Number, "Mean (normal, exponential).";
        may sd: Num = Shape::Number, "Standard deviation (normal).";
        may median: Num = Shape::Number, "Median (lognormal).";
        may spread: Num = Shape::Number, "Multiplicative standard deviation, above 1 (lognormal).";
        may low: Num = Shape::Number, "Lowest value (uniform).";
        may high: Num = Shape::Number, "Highest value (uniform).";
    }
}
record! {
    /// How a reading is measured.
    RawMeasure "measure" {
        need quantity: String = Shape::Words(Quantity::WORDS), "What the number is.";
        need unit: String = Shape::Text, "Its unit.";
        need resolution: Num = Shape::Number, "What the gauge can tell apart, in that unit.";
        may taken: String = Shape::Text, "How and over what time it is taken.";
        may start: Num = Shape::Number, "Where a drop starts, in that unit; needed for a drop and for nothing else.";
        may over_s: Num = Shape::UpTo(86_400.0), "Over how many seconds a drop is read; needed for a drop and for nothing else.";
        may adjust: String = Shape::Words(Adjust::WORDS), "What is done to the number before it is compared.";
        need when: Many<RawDistribution> = list(RawDistribution::shape()), "Distribution of the number at each level, normal first.";
    }
}
record! {
    /// A window of a value of the car.
    RawCarWindow "window" {
        need values: Texts = list(Shape::Text), "The value; of several the first that the car gave.";
        need low: Num = Shape::Number, "Lowest normal number.";
        need high: Num = Shape::Number, "Highest normal number.";
    }
}
record! {
    /// How a reading is answered by the car's own words.
    RawCarAnswer "answer of the car" {
        need rule: String = Shape::Words(CarRule::WORDS), "By which rule.";
        may windows: Many<RawCarWindow> = list(RawCarWindow::shape()), "Values and the windows in which they are normal.";
    }
}
record! {
    /// One thing a test tells.
    RawReading "reading" {
        need id: String = Shape::Text, "Its name within the test; the finding's id is test:id.";
        need name: String = Shape::Text, "What is looked at.";
        need normal: String = Shape::Text, "What normal looks like, with numbers and units.";
        need abnormal: String = Shape::Text, "What abnormal looks like, with numbers and units.";
        may between: String = Shape::Text, "What a result between the two means, and what is done then.";
        may levels: Texts = list(Shape::Text), "Names of the levels when there are more than two, normal first.";
        need false_alarm: Nums = Shape::Probabilities, "P(abnormal | none of the suspects); one number per abnormal level.";
        need detects: Many<RawLink> = list(RawLink::shape()), "Suspects it reveals, each with P(abnormal | that suspect alone).";
        may cures: String = Shape::Id("repair"), "The repair, as part/repair, that the steps of the test themselves make when the reading is abnormal.";
        may senses: RawSenses = RawSenses::shape(), "The openings it senses: their numbers follow from their size.";
        may shows: Texts = list(Shape::Text), "Physical states that it senses: suspects that leave the car in one of them are seen alike.";
        may measure: RawMeasure = RawMeasure::shape(), "For a reading that is a number.";
        may car: RawCarAnswer = RawCarAnswer::shape(), "How the car's own words answer it.";
    }
}
record! {
    /// A procedure.
    RawTest "test" {
        need name: String = Shape::Text, "What it is called.";
        may also: Texts = list(Shape::Text), "Other names people use.";
        need why: String = Shape::Text, "What it tells, in one sentence.";
        need tools: Texts = list(Shape::Id("tool")), "Tools needed; an empty list means eyes and hands.";
        need setups: Texts = list(Shape::Id("setup")), "States of the vehicle it needs.";
        need minutes: Num = Shape::UpTo(960.0), "Labour in minutes, without the setups.";
        need consumables: Num = Shape::UpTo(50_000.0), "Cost of what is used up.";
        may requires: Texts = list(Shape::Id("equipment option")), "What a vehicle must have for the test to make sense.";
        may own_check: bool = Shape::Flag, "Whether the engine computer itself judges in it, by a run on command or a drive: passed after a repair, its check counts as run.";
        may repeats_monitors: bool = Shape::Flag, "Whether it waits for the engine computer's own checks and reads what they find: no evidence beside the codes read after the same drive.";
        may acts: Texts = list(Shape::Words(Act::WORDS)), "What is opened, touched, energised, lifted or heated, beside what its setups do; each calls for its cautions.";
        need cautions: Texts = list(Shape::Id("caution")), "Cautions, printed before the steps.";
        need basis: String = Shape::Id("source"), "Where the numbers come from.";
        need weight: Num = Shape::UpTo(1e6), "How many jobs the numbers are worth.";
        need steps: Texts = list(Shape::Text), "What to do, one action each.";
        need readings: Many<RawReading> = list(RawReading::shape()), "What it tells.";
    }
}
record! {
    /// Something noticed at intake.
    RawSymptom "symptom" {
        need name: String = Shape::Text, "The symptom as a technician would note it.";
        need also: Texts = list(Shape::Text), "Other ways people say it.";
        may fact: String = Shape::Text, "A word for the fact that it is, where a factor can be the same fact: then the stronger counts once.";
        need background: Num = Shape::Probability, "P(noticed | none of the suspects).";
        need basis: String = Shape::Id("source"), "Where the number comes from.";
        need weight: Num = Shape::UpTo(1e6), "How many jobs the number is worth.";
    }
}
record! {
    /// A state of the vehicle that several tests share.
    RawSetup "setup" {
        need name: String = Shape::Text, "What it is called.";
        need does: Texts = list(Shape::Text), "What to do, one action each.";
        need minutes: Num = Shape::UpTo(960.0), "Labour in minutes, paid once.";
        may afterwards: Texts = list(Shape::Text), "What undoes it, one action each, done after the test's own steps.";
        may acts: Texts = list(Shape::Words(Act::WORDS)), "What is opened, touched, energised, lifted or heated; each calls for its cautions.";
        may requires: Texts = list(Shape::Id("equipment option")), "Equipment without which it is not needed.";
        may called_by: Texts = list(Shape::Words(Act::WORDS)), "Acts that call for it: every test and repair with one of them has it without naming it.";
        need cautions: Texts = list(Shape::Id("caution")), "Cautions, printed before it.";
    }
}
record! {
    /// A tool.
    RawTool "tool" {
        need name: String = Shape::Text, "What it is called.";
        may also: Texts = list(Shape::Text), "Other names people use.";
        need what: String = Shape::Text, "What it is for.";
        need price: Num = Shape::UpTo(50_000.0), "What it costs to buy (judgement).";
        need hazards: Texts = list(Shape::Words(Hazard::WORDS)), "What can hurt.";
    }
}
record! {
    /// A caution.
    RawCaution "caution" {
        need name: String = Shape::Text, "A few words.";
        may also: Texts = list(Shape::Text), "What people ask that it answers, for the search.";
        need covers: Texts = list(Shape::Words(Hazard::WORDS)), "The hazards it speaks of.";
        may requires: Texts = list(Shape::Id("equipment option")), "Equipment without which it is not printed.";
        need text: String = Shape::Text, "The caution itself.";
    }
}
record! {
    /// Where numbers come from.
    RawSource "source" {
        need title: String = Shape::Text, "The document.";
        need kind: String = Shape::Words(SourceKind::WORDS), "What sort of source it is.";
        need r#where: String = Shape::Text, "Section, table, year.";
        may note: String = Shape::Text, "What it is used for here.";
    }
}
record! {
    /// One of the things a vehicle may have.
    RawOption "equipment option" {
        need id: String = Shape::Text, "Its id.";
        need name: String = Shape::Text, "What it is called.";
        may also: Texts = list(Shape::Text), "Other names people use, for the search.";
        need share: Num = Shape::Probability, "Share of vehicles that have it.";
    }
}
record! {
    /// A choice of equipment.
    RawEquipment "equipment" {
        need name: String = Shape::Text, "What is chosen.";
        need question: String = Shape::Text, "How to ask for it.";
        need options: Many<RawOption> = list(RawOption::shape()), "The alternatives; their shares add up to 1.";
        need basis: String = Shape::Id("source"), "Where the shares come from.";
        need weight: Num = Shape::UpTo(1e6), "How many cars the shares are worth.";
    }
}
record! {
    /// One band of a factor.
    RawBand "band" {
        may from: Num = Shape::Number, "From this value (age in years, mileage in km), inclusive.";
        may to: Num = Shape::Number, "To this value, exclusive; the last band has none.";
        may is: String = Shape::Text, "The climate or circumstance.";
        need times: Num = Shape::Number, "Relative multiplier of the prior.";
        need share: Num = Shape::Probability, "Share of vehicles in this band.";
    }
}
record! {
    /// What multiplies priors.
    RawFactor "factor" {
        need name: String = Shape::Text, "What it is.";
        may also: Texts = list(Shape::Text), "Other ways to say it, for the search.";
        need input: String = Shape::Words(FactorInput::WORDS), "Which property of the vehicle it reads.";
        need basis: String = Shape::Id("source"), "Where the numbers come from.";
        need weight: Num = Shape::UpTo(1e6), "How many cars the numbers are worth.";
        need bands: Many<RawBand> = list(RawBand::shape()), "The bands; multipliers are rescaled so that the fleet's mean is 1.";
        may fact: String = Shape::Text, "A word for the fact that it is, where a symptom can be the same fact: then the stronger counts once.";
        may note: String = Shape::Text, "What should be known about it.";
    }
}
record! {
    /// Words that mean the same in a search.
    RawSynonyms "synonyms" {
        need groups: Many<Texts> = list(list(Shape::Text)), "Groups of words or phrases that mean the same.";
    }
}
record! {
    /// A vehicle in a worked case.
    RawVehicle "vehicle" {
        may age: Num = Shape::UpTo(100.0), "Age in years.";
        may mileage_km: Num = Shape::UpTo(2e6), "Mileage in km.";
        may climate: String = Shape::Text, "Climate.";
        may equipment: Texts = list(Shape::Id("equipment option")), "What it has.";
        may circumstances: Texts = list(Shape::Text), "Circumstances.";
    }
}
record! {
    /// One outcome in a worked case.
    RawResult "result" {
        need reading: String = Shape::Id("reading"), "The reading, as test:reading.";
        need outcome: String = Shape::Text, "pass, fail, unclear, or the name of a level.";
    }
}
record! {
    /// One expectation of a worked case.
    RawExpect "expectation" {
        may suspect: String = Shape::Id("suspect"), "The suspect meant.";
        may part: String = Shape::Id("part"), "Or the part meant.";
        may within: Num = Shape::UpTo(500.0), "It must rank among the first so many.";
        may above: String = Shape::Id("suspect"), "It must rank above this suspect.";
        may at_least: Num = Shape::Probability, "Its probability is at least this.";
        may at_most: Num = Shape::Probability, "Its probability is at most this.";
        may first_step: String = Shape::Id("test"), "This test must be the first step of the plan.";
    }
}
record! {
    /// An earlier epoch of a worked case.
    RawBefore "earlier epoch" {
        may codes: Texts = list(Shape::Id("code")), "Codes then present.";
        may symptoms: Texts = list(Shape::Id("symptom")), "Symptoms then noticed.";
        may results: Many<RawResult> = list(RawResult::shape()), "Outcomes then taken.";
        may found: Texts = list(Shape::Id("suspect")), "Suspects then found with one's own eyes.";
        may sound: Texts = list(Shape::Id("suspect")), "Suspects then looked at and sound.";
        need repair: String = Shape::Id("repair"), "The repair that ended it, as part/repair.";
    }
}
record! {
    /// A worked case.
    RawCase "case" {
        need title: String = Shape::Text, "What it shows.";
        need why: String = Shape::Text, "The experience it stands on.";
        may vehicle: RawVehicle = RawVehicle::shape(), "The vehicle.";
        may already: Texts = list(Shape::Id("repair")), "Repairs made before the visit without effect.";
        may before: Many<RawBefore> = list(RawBefore::shape()), "Earlier epochs of the job, each ended by a repair.";
        may codes: Texts = list(Shape::Id("code")), "Codes present.";
        may symptoms: Texts = list(Shape::Id("symptom")), "Symptoms noticed.";
        may no_symptoms: Texts = list(Shape::Id("symptom")), "Symptoms looked for and absent.";
        may results: Many<RawResult> = list(RawResult::shape()), "Outcomes.";
        may found: Texts = list(Shape::Id("suspect")), "Suspects found with one's own eyes.";
        may sound: Texts = list(Shape::Id("suspect")), "Suspects looked at and sound.";
        may tools: Texts = list(Shape::Id("tool")), "Tools at hand, when not all.";
        need expect: Many<RawExpect> = list(RawExpect::shape()), "What must come out.";
    }
}
