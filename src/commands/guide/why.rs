//! Why a step is asked for: what it is good for, what it costs against the others, and what the last event changed.

use crate::advice::Step;
use jobs::{Change, Event, Job, JobError, Standing};
use knowledge::Base;
use screens::Look;
use screens::job as job_screen;
use screens::text::paragraph;

/// The words for it; `because` is what the planner says of the step.
pub fn why(
    step: Option<&Step>,
    because: Option<&str>,
    job: &Job,
    standing: &Standing,
    base: &Base,
    look: Look,
) -> Result<String, JobError> {
    let words = match step {
        Some(Step::Test(id)) => base.test(id).map_or("", |t| t.why.as_str()),
        Some(Step::Repair(_)) => "The faults that this repair removes are the most likely ones by now.",
        Some(Step::Close) => "The probability that the car is fixed is high enough.",
        Some(Step::HandOn) => {
            "No step here is worth more than it costs, or all that could tell more were done or skipped."
        }
        None => "What was typed can mean two things, and a guess could store the wrong one.",
    };
    let mut text = String::new();
    paragraph(&mut text, "", words, look.width);
    if let Some(because) = because {
        paragraph(&mut text, "", because, look.width);
    }
    let tells = |event: &Event| !matches!(event, Event::Noted(_) | Event::Undone(_));
    if let Some(last) = job.log.iter().rev().find(|e| e.holds && e.number > 1 && tells(&e.event)) {
        let before = Standing::of(&job.upto(last.number - 1), base)?;
        let after = Standing::of(&job.upto(last.number), base)?;
        paragraph(&mut text, "last, ", &screens::job_words::in_words(&last.event, base), look.width);
        text.push_str(&job_screen::moved(&Change::between(&before, &after), base, look));
    }
    job_screen::leaders(&mut text, standing, base, 8, look);
    Ok(text)
}
