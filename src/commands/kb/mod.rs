//! `kb`: check, show, list, export, schema and diff of the knowledge base.

mod diff;
mod schema;
mod show;

use super::base::{check_folder, check_shipped};
use super::car_said::repair_said;
use super::{Ending, Io, Loaded, Stop};
use cli::{KbArgs, KbCommand};
use evidence::{Epoch, History, parse_vehicle};
use knowledge::near::{did_you_mean, near};
use network::build::build;
use planning::cases;
use screens::failure::Failure;
use screens::{json, kb_list, problems};
use std::path::Path;

pub(super) fn run(args: &KbArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    match &args.command {
        KbCommand::Check { quiet, json } => check(kb, *quiet, *json, io),
        KbCommand::Show(args) => show::run(args, kb, io),
        KbCommand::List { kind, json } => list(kind.as_deref(), *json, kb, io),
        KbCommand::Export { json: _, vehicle, already } => export(vehicle, already, kb, io),
        KbCommand::Schema { kind } => schema::run(kind.as_deref(), io),
        KbCommand::Diff { old, new, json } => diff::run(old, new, *json, io),
    }
}

/// Checks every entry and, when the entries are sound, runs every worked case.
fn check(kb: Option<&Path>, quiet: bool, as_json: bool, io: &mut Io) -> Result<Ending, Stop> {
    let mut checked = match kb {
        Some(folder) => check_folder(folder)?,
        None => check_shipped()?,
    };
    let sound = checked.problems.is_empty();
    if sound {
        checked.problems = cases::run(&checked.base);
    }
    let folder = kb.map(|f| f.display().to_string()).unwrap_or_default();
    if as_json {
        io.show_json(&json::problems(&checked.problems))?;
    } else if !checked.problems.is_empty() {
        let report = problems::report(&checked.problems, &checked.files, &folder, io.look.width);
        io.show(&report)?;
        let told = problems::count(checked.problems.len());
        let cases = if sound { "" } else { "; the worked cases are run once these are mended" };
        io.show(&format!("{told} in {} files{cases}\n", checked.files.len()))?;
    } else if !quiet {
        let b = &checked.base;
        io.show(&format!(
            "{} files, no problem: {} codes, {} suspects, {} tests, {} symptoms; all {} worked cases come out\n",
            checked.files.len(),
            b.codes.len(),
            b.suspects().count(),
            b.tests.len(),
            b.symptoms.len(),
            b.cases.len()
        ))?;
    }
    Ok(if checked.problems.is_empty() { Ending::Done } else { Ending::No })
}

fn list(kind: Option<&str>, as_json: bool, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let loaded = Loaded::new(kb, io)?;
    let Some(kind) = kind else {
        if as_json {
            let counts: serde_json::Map<String, serde_json::Value> = kb_list::KINDS
                .iter()
                .map(|k| ((*k).to_owned(), kb_list::entries(loaded.base, k).map_or(0, |e| e.len()).into()))
                .collect();
            io.show_json(&serde_json::json!({"schema": "faultodds.kb-kinds/1", "counts": counts}))?;
        } else {
            io.show(&kb_list::counts(loaded.base))?;
        }
        return Ok(Ending::Done);
    };
    let Some(entries) = kb_list::entries(loaded.base, kind) else {
        let mut failure = Failure::new(format!("there is no kind of entry `{kind}`"));
        let hint = did_you_mean(&near(kind, kb_list::KINDS, 2));
        failure = failure.hint(hint.unwrap_or_else(|| format!("the kinds are {}", kb_list::KINDS.join(", "))));
        return Err(failure.into());
    };
    if as_json {
        let list: Vec<_> = entries.iter().map(|(id, name)| serde_json::json!({"id": id, "name": name})).collect();
        io.show_json(&serde_json::json!({"schema": "faultodds.list/1", "kind": kind, "entries": list}))?;
    } else {
        io.show(&kb_list::text(&entries, io.look.width))?;
    }
    Ok(Ending::Done)
}

/// The network after the vehicle's factors. Repairs made before the visit leave a suspect present only where they
/// did not take, so they multiply its prior.
fn export(vehicle: &[String], already: &[String], kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let loaded = Loaded::new(kb, io)?;
    let vehicle = parse_vehicle(vehicle, loaded.base, io.today.year())?;
    let mut network = build(loaded.base, &vehicle);
    let history = History::visit(
        already.iter().map(|r| repair_said(r, loaded.base)).collect::<Result<_, _>>()?,
        Epoch::default(),
    );
    for r in &history.tell(loaded.base, &network)?.evidence.repairs {
        for &victim in &r.suspects {
            let (before, left) = (network.suspects[victim].prior, network.suspects[victim].prior * r.fails);
            network.suspects[victim].prior = left;
            // P(there now | one cause) = 1 - (1 - P(there then) × fails) (1 - chance), as a chance beside the new prior.
            for b in network.brings.iter_mut().filter(|b| b.victim == victim) {
                let then = 1.0 - (1.0 - before) * (1.0 - b.p);
                b.p = 1.0 - (1.0 - then * r.fails) * (1.0 - b.p) / (1.0 - left);
            }
        }
    }
    io.show_json(&json::network(&network))?;
    Ok(Ending::Done)
}
