//! A car as the words of the command line say it: codes, findings, repairs, tools, a capture.

use super::symptoms::{found_said, symptoms_said};
use super::{Io, Stop};
use cli::CarArgs;
use cli::car::CaptureArgs;
use evidence::{
    CarSaid, Epoch, EvidenceError, History, Kind, MonitorResult, Stranger, Taken, car_said, codes_said, looks_said,
    parse_vehicle, renewed_said, results_said, unknown_repair,
};
use knowledge::base::{Base, Vehicle};
use screens::car_taken;
use screens::failure::Failure;

/// The car as said on the command line.
#[derive(Debug)]
pub(super) struct Car {
    pub vehicle: Vehicle,
    pub codes: Vec<String>,
    pub strangers: Vec<Stranger>,
    pub history: History,
    /// What the car said of itself, where a capture was given.
    pub own_words: Option<CarSaid>,
}

impl Car {
    /// Reads codes and what is known of the car.
    pub fn said(
        codes: &[String],
        args: &CarArgs,
        capture: &CaptureArgs,
        base: &Base,
        io: &mut Io,
    ) -> Result<Self, Stop> {
        let said = codes_said(codes, base)?;
        // With something else to reason from, strangers alone do no harm.
        let nothing_else = args.symptom.is_empty() && args.result.is_empty() && capture.capture.is_none();
        let said = if nothing_else { said.some_known()? } else { said };
        let (codes, strangers) = (said.known, said.strangers);
        let mut vehicle = parse_vehicle(&args.vehicle, base, io.today.year())?;
        let mut already = Vec::new();
        for repair in &args.already {
            already.push(repair_said(repair, base)?);
        }
        let mut present = Epoch {
            codes_complete: !args.codes_incomplete && !codes.is_empty(),
            codes,
            symptoms: symptoms_said(&args.symptom, base, io)?,
            no_symptoms: symptoms_said(&args.no_symptom, base, io)?,
            results: results_said(&args.result, base)?,
            looks: looks_said(&found_said(&args.found, base, io)?, &args.sound, base)?,
            ..Epoch::default()
        };
        let taken = if already.is_empty() { Taken::AtFirst } else { Taken::AfterRepair };
        let own_words = own_words(capture, false, taken, base, io)?;
        if let Some(own) = &own_words {
            own.into_epoch(&mut present, base);
            own.into_vehicle(&mut vehicle, base);
            present.codes_complete &= !args.codes_incomplete;
        }
        let codes = present.codes.clone();
        let history = History::visit(already, present);
        let vehicle = history.settle(base, &vehicle);
        Ok(Self { vehicle, codes, strangers, history, own_words })
    }

    /// Whether a capture is all there is, and holds nothing that speaks for a fault.
    pub fn nothing_wrong(&self) -> bool {
        let (Some(own), Some(present)) = (&self.own_words, self.history.epochs.last()) else { return false };
        let answered = |reading: &String| own.readings.iter().any(|a| a.reading == *reading);
        present.codes.is_empty()
            && present.symptoms.is_empty()
            && present.looks.is_empty()
            && !present.monitor_results.iter().any(MonitorResult::failed)
            && present.results.iter().all(|(r, _)| answered(r))
    }
}

/// What a capture says as evidence, and the car's identification number only where that was asked for.
pub(super) fn own_words(
    capture: &CaptureArgs,
    with_number: bool,
    taken: Taken,
    base: &Base,
    io: &mut Io,
) -> Result<Option<CarSaid>, Stop> {
    let Some(file) = &capture.capture else { return Ok(None) };
    let report = super::car::capture(file, io, car::Wanted { vehicle_number: with_number })?;
    if report.is_empty() {
        let failure = Failure::new(format!("{}: no control unit answers in this capture", file.display()));
        return Err(failure.hint(format!("look at it with: faultodds car read {}", file.display())).into());
    }
    Ok(Some(car_said(&report, base, taken)))
}

/// A repair by its id; a part with only one repair stands for it.
pub(super) fn repair_said(said: &str, base: &Base) -> Result<String, EvidenceError> {
    let (id, how) = renewed_said(said)?;
    let id = id.to_lowercase();
    let with = |repair: &str| how.as_ref().map_or_else(|| repair.to_owned(), |how| format!("{repair}={how}"));
    if let Some((_, repair)) = base.repair(&id) {
        return Ok(with(&repair.id));
    }
    if let Some(part) = base.part(&id) {
        if let [only] = part.repairs.as_slice() {
            return Ok(with(&only.id));
        }
        let why =
            format!("say which repair: {}", part.repairs.iter().map(|r| r.id.as_str()).collect::<Vec<_>>().join(", "));
        return Err(EvidenceError::Unusable { what: id, why });
    }
    Err(unknown_repair(&id, base))
}

/// Refuses tools that the base does not know.
pub(super) fn check_tools(tools: &[String], base: &Base) -> Result<(), EvidenceError> {
    match tools.iter().find(|t| base.tool(t).is_none()) {
        Some(unknown) => Err(EvidenceError::unknown(Kind::Tool, unknown, base.tools.iter().map(|t| t.id.as_str()))),
        None => Ok(()),
    }
}

/// Tells back what was taken from a capture, if there was one.
pub(super) fn tell_taken(own: Option<&CarSaid>, base: &Base, io: &mut Io) -> Result<(), Stop> {
    if let Some(own) = own {
        let text = car_taken::text(own, base, io.look);
        io.show(&text)?;
    }
    Ok(())
}
