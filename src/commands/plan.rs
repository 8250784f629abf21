//! `plan`: the next step for every outcome, as text, JSON, Graphviz, Mermaid, a drawing, or a page to carry.

use super::plan_page::page;
use super::planned::Subject;
use super::{Ending, Io, Loaded, Stop};
use cli::plan::{PlanArgs, PlanForm};
use pages::poster;
use planning::{Detail, Effort, Question, State, lower_bound, plan};
use screens::failure::Failure;
use screens::plan::{Cut, PlanScreen};
use screens::plan_forms;
use std::path::Path;

/// How much of a plan is shown, and how much a page carries: there only the way that is taken is seen.
const SHOWN: Cut = Cut { depth: 12, least: 0.02 };
const CARRIED: Cut = Cut { depth: 40, least: 0.008 };

/// The cut that was asked for.
fn cut(args: &PlanArgs, otherwise: Cut) -> Result<Cut, Failure> {
    if let Some(least) = args.least.filter(|l| !(0.0..=100.0).contains(l)) {
        return Err(Failure::new(format!("--least {least}: it must be between 0 and 100")));
    }
    Ok(Cut {
        depth: args.depth.map_or(otherwise.depth, |d| d.max(1)),
        least: args.least.map_or(otherwise.least, |l| l / 100.0),
    })
}

pub(super) fn run(args: &PlanArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let shown = cut(args, SHOWN)?;
    let loaded = Loaded::new(kb, io)?;
    let base = &loaded.base;
    let subject = Subject::said(&args.subject, &loaded, io)?;
    let shop = subject.shop(&args.shop, base)?;
    let posed = subject.pose(Question::thorough(base, &subject.network, &subject.told.evidence, &shop))?;
    let whole = plan(&posed, &Effort::quick(), &Detail::quick());
    let start = State::start(&posed.problem, &posed.universe);
    let bound = lower_bound(&posed.problem, &posed.universe, &start);
    let screen = |cut| PlanScreen { base, shop: &shop, posed: &posed, plan: &whole, bound, codes: &subject.codes, cut };
    let screen_shown = screen(shown);
    if args.json {
        io.show_json(&screen_shown.json())?;
    } else {
        let text = match args.form {
            PlanForm::Text => {
                subject.tell(base, io)?;
                screen_shown.text(io.look)
            }
            PlanForm::Dot => plan_forms::dot(&screen_shown.drawn().root),
            PlanForm::Mermaid => plan_forms::mermaid(&screen_shown.drawn().root),
            PlanForm::Svg => poster::svg(&screen_shown.drawn()),
            PlanForm::Html => page(args, &subject, &screen(cut(args, CARRIED)?), &screen_shown, io),
        };
        io.show(&text)?;
    }
    Ok(if whole.root.is_none() { Ending::No } else { Ending::Done })
}
