//! `report`: a job as a page to hand over.

use super::base::of_job;
use super::job_input::{store, which_told};
use super::planned::shop;
use super::{Ending, Io, Loaded, Stop};
use cli::pages::ReportArgs;
use jobs::{Access, Standing};
use pages::report::ReportPage;
use screens::workshop::story;
use shop::is_example;
use std::path::Path;

pub(super) fn run(args: &ReportArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let loaded = Loaded::new(kb, io)?;
    let shop = shop(&args.shop, loaded.base)?;
    let store = store(&args.store, Access::Read)?;
    let job = store.job(which_told(&store, args.number.or(args.which.job), io)?)?;
    loaded.tell_groups(&of_job(&job), io)?;
    let base = &*loaded.for_job(&job);
    let standing = Standing::of(&job, base)?;
    let story = args.workshop.then(|| story(&job, base));
    let example = is_example(args.shop.shop.as_deref()) && args.shop.rate.is_none();
    let page = ReportPage {
        job: &job,
        standing: &standing,
        base,
        shop: (!example).then_some(&shop),
        story: story.as_ref(),
        now: &io.now,
    };
    io.show(&page.html())?;
    Ok(Ending::Done)
}
