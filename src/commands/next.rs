//! `next`: candidates for the next step, best first, and how the first one is done.

use super::planned::Subject;
use super::{Ending, Io, Loaded, Stop};
use cli::plan::NextArgs;
use evidence::{EvidenceError, Kind};
use inference::Prepared;
use knowledge::Base;
use planning::{Detail, Effort, Posed, Question, Shop, State, next_steps, quote, with_steps};
use rayon::prelude::*;
use screens::failure;
use screens::next::{NextScreen, Repaired, Saved};
use shop::is_example;
use std::collections::BTreeMap;
use std::path::Path;

/// Missing tools looked into.
const TOOLS: usize = 3;

pub(super) fn run(args: &NextArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let loaded = Loaded::new(kb, io)?;
    let base = &loaded.base;
    if let Some(stranger) = args.about.iter().find(|id| base.test(id).is_none()) {
        let known = base.tests.iter().map(|t| t.id.as_str());
        return Err(EvidenceError::unknown(Kind::Test, stranger, known).into());
    }
    let subject = Subject::said(&args.subject, &loaded, io)?;
    let shop = subject.shop(&args.shop, base)?;
    let question = Question::thorough(base, &subject.network, &subject.told.evidence, &shop);
    let posed = subject.pose(question)?;
    // The figure of `plan` and `quote`; what others cost more is told apart by looking ahead alone.
    let plan = || with_steps(&posed, &Effort::quick(), &Detail::quick());
    let with_tool = |tool: String| -> Result<(String, Option<f64>), Stop> {
        let with: Shop = shop.with_tool(base, &tool);
        let posed = subject.pose(Question { shop: &with, ..question })?;
        Ok((tool, first_figure(&posed)))
    };
    let tools = || most_missed(&posed).into_par_iter().map(with_tool).collect::<Result<Vec<_>, Stop>>();
    let ((steps, whole), with_tools) = rayon::join(plan, tools);
    let saved = with_tools?.into_iter().filter(|_| !steps.steps.is_empty());
    let saved: Vec<Saved> = saved.filter_map(|(tool, then)| Some(Saved { tool, saves: steps.ahead - then? })).collect();
    let after = subject.after_repair(base, &shop)?;
    let after = after.as_ref().filter(|a| a.close || a.worth_proving());
    let leaders = leaders(&subject, base)?;
    let screen = NextScreen {
        base,
        shop: &shop,
        posed: &posed,
        steps: &steps,
        saved: &saved,
        after: after.map(|a| Repaired { fixed: a.fixed, close: a.close, looked: a.looked, tests: &a.tests }),
        vehicle: &subject.network.vehicle,
        codes: &subject.codes,
        top: args.top.max(1),
        leaders: &leaders,
        limit: subject.limit(None, &shop, &quote(&whole)),
        example: is_example(subject.shop_file(&args.shop).as_deref()) && args.shop.rate.is_none(),
    };
    if args.json {
        io.show_json(&screen.json())?;
    } else {
        subject.tell(base, io)?;
        let text = if args.long { screen.text(io.look) } else { screen.first(io.look) };
        io.show(&text)?;
        for (i, id) in args.about.iter().enumerate() {
            let told = screen.about(id, io.look).unwrap_or_default();
            io.show(&if i == 0 { format!("\n{told}") } else { told })?;
        }
    }
    Ok(if screen.nothing_to_do() { Ending::No } else { Ending::Done })
}

/// What the first step costs by looking ahead.
fn first_figure(posed: &Posed) -> Option<f64> {
    let start = State::start(&posed.problem, &posed.universe);
    let steps = next_steps(&posed.problem, &posed.universe, &start, &Effort::quick());
    (!steps.steps.is_empty()).then_some(steps.ahead)
}

/// Suspects by name, the most probable first.
fn leaders(subject: &Subject, base: &Base) -> Result<Vec<(String, f64)>, Stop> {
    let refused = |e| failure::inference(&e, &subject.network);
    let posterior = Prepared::new(&subject.network, &subject.told.evidence).and_then(|mut p| p.posterior());
    let now = posterior.map_err(refused)?.now;
    let mut list: Vec<(usize, f64)> = now.into_iter().enumerate().collect();
    let id = |s: usize| &subject.network.suspects[s].id;
    list.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| id(a.0).cmp(id(b.0))));
    Ok(list.into_iter().take(6).map(|(s, p)| (base.suspect_name(id(s)), p)).collect())
}

/// The tools that alone keep most tests from being done.
fn most_missed(posed: &Posed) -> Vec<String> {
    let mut missed: BTreeMap<&str, usize> = BTreeMap::new();
    for (_, tools) in &posed.lacking {
        if let [tool] = tools.as_slice() {
            *missed.entry(tool).or_default() += 1;
        }
    }
    let mut missed: Vec<(&str, usize)> = missed.into_iter().collect();
    missed.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
    missed.into_iter().take(TOOLS).map(|(t, _)| t.to_owned()).collect()
}
