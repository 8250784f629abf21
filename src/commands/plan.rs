//! `plan`: the next step for every outcome, as text, JSON, Graphviz, Mermaid or a drawing.

use super::planned::Subject;
use super::{Ending, Io, Loaded, Stop};
use crate::cli::plan::{PlanArgs, PlanForm};
use crate::planning::{Detail, Effort, Question, State, lower_bound, plan};
use crate::screens::failure::Failure;
use crate::screens::plan::{Cut, PlanScreen};
use crate::screens::{plan_forms, plan_svg};
use std::path::Path;

pub(super) fn run(args: &PlanArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    if !(0.0..=100.0).contains(&args.least) {
        return Err(Failure::new(format!("--least {}: it must be between 0 and 100", args.least)).into());
    }
    let loaded = Loaded::new(kb, io)?;
    let base = &loaded.base;
    let subject = Subject::said(&args.subject, &loaded, io)?;
    let shop = subject.shop(&args.shop, base)?;
    let posed = subject.pose(Question::thorough(base, &subject.network, &subject.told.evidence, &shop))?;
    let whole = plan(&posed, &Effort::quick(), &Detail::quick());
    let start = State::start(&posed.problem, &posed.universe);
    let screen = PlanScreen {
        base,
        shop: &shop,
        posed: &posed,
        plan: &whole,
        bound: lower_bound(&posed.problem, &posed.universe, &start),
        codes: &subject.codes,
        cut: Cut { depth: args.depth.max(1), least: args.least / 100.0 },
    };
    if args.json {
        io.show_json(&screen.json())?;
    } else {
        let text = match args.form {
            PlanForm::Text => {
                subject.tell(base, io)?;
                screen.text(io.look)
            }
            PlanForm::Dot => plan_forms::dot(&screen.drawn().root),
            PlanForm::Mermaid => plan_forms::mermaid(&screen.drawn().root),
            PlanForm::Svg => plan_svg::svg(&screen.drawn()),
        };
        io.show(&text)?;
    }
    Ok(if whole.root.is_none() { Ending::No } else { Ending::Done })
}
