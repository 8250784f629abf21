//! `kb show`: one entry of any kind by its id.

use super::super::job_input::store;
use super::super::{Ending, Io, Loaded, Stop};
use cli::ShowArgs;
use evidence::{Epoch, EvidenceError, History, Kind, parse_vehicle};
use inference::posterior;
use jobs::{Access, Standing};
use knowledge::Base;
use knowledge::base::Vehicle;
use network::build::build;
use screens::failure::{self, Failure};
use screens::paint::{HEADING, paint};
use screens::text::{hanging, harmless, percent, right};
use screens::{json, kb_show};
use std::path::Path;

pub(super) fn run(args: &ShowArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let loaded = Loaded::new(kb, io)?;
    let id = args.id.as_str();
    let ending = match args.job {
        None => {
            let vehicle = parse_vehicle(&args.vehicle, loaded.base, io.today.year())?;
            entry(id, args.json, loaded.base, &vehicle, &|s| loaded.shipped_prior(s), io)?
        }
        Some(number) => in_job(number, args, &loaded, io)?,
    };
    let mut told = String::new();
    for line in loaded.of_shop(id).iter().filter(|_| !args.json) {
        hanging(&mut told, "  ", "    ", &harmless(line), io.look.width);
    }
    if !told.is_empty() {
        io.show(&format!("\n{}\n{told}", paint(HEADING, "from this shop's own jobs")))?;
    }
    Ok(ending)
}

/// The entry on the car of a job, and how likely the suspects in it are there now.
fn in_job(number: i64, args: &ShowArgs, loaded: &Loaded, io: &mut Io) -> Result<Ending, Stop> {
    if !args.vehicle.is_empty() {
        let failure = Failure::new("a job and words about a vehicle are given; only one of them can be meant");
        return Err(failure.hint("record what is known of the car with: faultodds job amend --vehicle WORDS").into());
    }
    let job = store(&args.store, Access::Read)?.job(number)?;
    let base = loaded.for_job(&job);
    let standing = Standing::of(&job, &base)?;
    let ending = entry(&args.id, false, &base, &standing.network.vehicle, &|s| loaded.shipped_prior(s), io)?;
    let lower = args.id.trim().to_lowercase();
    let of_part = base.part(&lower).map(|p| p.suspects.iter().map(|s| s.id.as_str()).collect());
    let asked: Vec<&str> =
        of_part.unwrap_or_else(|| base.suspect(&lower).map(|(_, s)| s.id.as_str()).into_iter().collect());
    let fitted: Vec<&str> =
        asked.iter().copied().filter(|id| standing.network.suspects.iter().any(|s| s.id == *id)).collect();
    if !asked.is_empty() {
        io.show(&format!("\n{}\n", paint(HEADING, format!("now, in job {number}"))))?;
    }
    for id in &fitted {
        let lead = format!("{}  ", right(&percent(standing.now(id)), 6));
        let mut line = String::new();
        hanging(&mut line, &lead, "        ", &base.suspect_name(id), io.look.width);
        io.show(&line)?;
    }
    if fitted.is_empty() && !asked.is_empty() {
        io.show("   not on this car\n")?;
    }
    Ok(ending)
}

fn entry(
    id: &str,
    as_json: bool,
    base: &Base,
    vehicle: &Vehicle,
    shipped: kb_show::Shipped<'_>,
    io: &mut Io,
) -> Result<Ending, Stop> {
    let lower = id.trim().to_lowercase();
    let upper = id.trim().to_uppercase();
    let look = io.look;
    macro_rules! page {
        ($kind:literal, $entry:expr, $page:expr) => {
            if let Some(entry) = $entry {
                if as_json {
                    let value = json::entry($kind, entry).map_err(|e| Failure::new(e.to_string()))?;
                    io.show_json(&value)?;
                } else {
                    let page = $page(entry);
                    io.show(&page)?;
                }
                return Ok(Ending::Done);
            }
        };
    }
    if let Some(code) = base.code(&upper) {
        let present = Epoch { codes: vec![code.id.clone()], codes_complete: true, ..Epoch::default() };
        let shares = shares(base, vehicle, present)?;
        if as_json {
            let mut value = json::entry("code", code).map_err(|e| Failure::new(e.to_string()))?;
            let list: Vec<_> = shares.iter().map(|(id, p)| serde_json::json!({"id": id, "probability": p})).collect();
            value["shares_given_code_alone"] = serde_json::Value::from(list);
            io.show_json(&value)?;
        } else {
            io.show(&kb_show::code(base, code, &shares, look))?;
        }
        return Ok(Ending::Done);
    }
    if let Some(symptom) = base.symptom(&lower).filter(|_| !as_json) {
        let shares = shares(base, vehicle, Epoch { symptoms: vec![symptom.id.clone()], ..Epoch::default() })?;
        io.show(&kb_show::symptom(base, symptom, &shares, look))?;
        return Ok(Ending::Done);
    }
    page!("symptom", base.symptom(&lower), |_| String::new());
    page!("part", base.part(&lower), |e| kb_show::part(base, e, vehicle, shipped, look));
    page!("suspect", base.suspect(&lower).map(|(_, s)| s), |e| kb_show::suspect(base, e, vehicle, shipped, look));
    page!("test", base.test(&lower), |e| kb_show::test(base, e, vehicle, look));
    page!("test", base.reading(&lower).map(|(t, _)| t), |e| kb_show::test(base, e, vehicle, look));
    page!("monitor", base.monitor(lower.strip_prefix("monitor:").unwrap_or(&lower)), |e| kb_show::monitor(
        base, e, look
    ));
    page!("repair", base.repair(&lower).map(|(_, r)| r), |e: &knowledge::base::Repair| kb_show::plain(
        &e.id,
        &e.does,
        &[
            ("minutes", e.minutes.to_string()),
            ("parts cost", e.parts_cost.to_string()),
            ("removes", e.removes.join(", ")),
            ("does not take", e.fails.to_string()),
            ("does", e.acts.iter().map(|a| a.word()).collect::<Vec<_>>().join(", ")),
            ("cautions", e.cautions.join(", ")),
        ],
        look
    ));
    page!("tool", base.tool(&lower), |e: &knowledge::base::Tool| kb_show::plain(
        &e.id,
        &e.name,
        &[("also", e.also.join(", ")), ("for", e.what.clone()), ("price (judgement)", e.price.to_string())],
        look
    ));
    page!("setup", base.setup(&lower), |e: &knowledge::base::Setup| kb_show::plain(
        &e.id,
        &e.name,
        &[
            ("cautions", e.cautions.join(", ")),
            ("minutes", e.minutes.to_string()),
            ("only on vehicles with", e.requires.join(", ")),
            ("steps", e.does.join(" ")),
            ("afterwards", e.afterwards.join(" ")),
        ],
        look
    ));
    page!("caution", base.caution(&lower), |e: &knowledge::base::Caution| kb_show::plain(
        &e.id,
        &e.name,
        &[("caution", e.text.clone())],
        look
    ));
    page!("source", base.source(&lower), |e: &knowledge::base::Source| kb_show::plain(
        &e.id,
        &e.title,
        &[("kind", e.kind.word().to_owned()), ("where", e.place.clone()), ("note", e.note.clone().unwrap_or_default())],
        look
    ));
    page!("factor", base.factor(&lower), |e: &knowledge::base::Factor| {
        let bands: Vec<String> = e.bands.iter().map(|b| format!("{:?} ×{}", b.covers, b.times)).collect();
        kb_show::plain(&e.id, &e.name, &[("reads", e.input.word().to_owned()), ("bands", bands.join("; "))], look)
    });
    page!("equipment", base.equipment_choice(&lower), |e: &knowledge::base::Equipment| {
        let options: Vec<String> =
            e.options.iter().map(|o| format!("{} ({}), share {}", o.id, o.name, o.share)).collect();
        kb_show::plain(&e.id, &e.name, &[("ask", e.question.clone()), ("options", options.join("; "))], look)
    });
    page!("case", base.cases.iter().find(|c| c.id == lower), |e: &knowledge::base::Case| kb_show::plain(
        &e.id,
        &e.title,
        &[("why", e.why.clone()), ("file", e.path.clone())],
        look
    ));
    let mut known: Vec<&str> = base.codes.iter().map(|e| e.id.as_str()).collect();
    known.extend(base.parts.iter().map(|e| e.id.as_str()));
    known.extend(base.tests.iter().map(|e| e.id.as_str()));
    known.extend(base.symptoms.iter().map(|e| e.id.as_str()));
    known.extend(base.suspects().map(|(_, e)| e.id.as_str()));
    known.extend(base.monitors.iter().map(|e| e.id.as_str()));
    known.extend(base.tools.iter().map(|e| e.id.as_str()));
    Err(EvidenceError::unknown(Kind::Entry, id, known).into())
}

/// The posterior of every suspect given one thing alone on such a car, most probable first.
fn shares(base: &Base, vehicle: &Vehicle, present: Epoch) -> Result<Vec<kb_show::Share>, Stop> {
    let network = build(base, vehicle);
    let told = History::visit(Vec::new(), present).tell(base, &network)?;
    let now = posterior(&network, &told.evidence).map_err(|e| failure::inference(&e, &network))?.now;
    let mut shares: Vec<kb_show::Share> = network.suspects.iter().zip(now).map(|(s, p)| (s.id.clone(), p)).collect();
    shares.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    Ok(shares)
}
