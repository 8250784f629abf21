//! How a question is put on the screen: the step that it belongs to, where that is not above it yet, and its answers.

use super::ending::repaired_causes;
use super::question::{Question, options};
use super::steps::in_doubt;
use super::talk::Talk;
use crate::advice::Step;
use jobs::{Job, Standing};
use screens::guide as screen;
use screens::job::leak_size;
use screens::text::{paragraph, percent};

impl Talk<'_> {
    pub(super) fn show(&mut self, question: &Question, job: &Job, standing: &Standing) {
        let instructed = question.step().is_none_or(|s| !self.instructed.insert(s));
        let text = match question {
            Question::Reading { test, reading, .. } => {
                let mut text = String::new();
                if !instructed && let Some(test) = self.base.test(test) {
                    self.steps += 1;
                    text = screen::test(
                        test,
                        self.steps,
                        &mut self.cautioned,
                        self.base,
                        &standing.network.vehicle,
                        self.look,
                    );
                }
                if let Some((_, reading)) = self.base.reading(reading) {
                    let choices = options(reading);
                    let names: Vec<&str> = choices.iter().map(|c| c.name.as_str()).collect();
                    text.push_str(&screen::reading_list(reading, &names, self.look));
                }
                text
            }
            Question::Repair { repair } => match self.base.repair(repair) {
                Some((_, found)) if !instructed => {
                    self.steps += 1;
                    let clears = found.removes.iter().map(|s| standing.now(s)).sum::<f64>().min(1.0);
                    screen::repair(
                        found,
                        self.steps,
                        clears,
                        &mut self.cautioned,
                        self.base,
                        &standing.network.vehicle,
                        self.look,
                    )
                }
                Some((_, found)) => {
                    let mut text = String::from("\n");
                    paragraph(&mut text, "", &format!("repair [{}]: {}.", found.id, found.does), self.look.width);
                    text
                }
                None => String::new(),
            },
            Question::Close => {
                let causes = repaired_causes(job, standing, self.base);
                let names: Vec<String> = causes.iter().map(|c| self.base.suspect_name(c)).collect();
                let cause = if names.is_empty() { "none confirmed".to_owned() } else { names.join("; ") };
                let fixed = standing
                    .fixed
                    .map_or(String::new(), |f| format!(" The car is fixed with probability {}.", percent(f)));
                let mut text = String::from("\n");
                let words = format!("The job can be closed.{fixed} Cause: {cause}.");
                paragraph(&mut text, "", &words, self.look.width);
                text
            }
            Question::HandOn => {
                let mut text = String::from("\n");
                let mut words =
                    "Nothing is left that is worth doing with these tools. The job can be handed on.".to_owned();
                if let Some(size) = leak_size(standing) {
                    words.push(' ');
                    words.push_str(&size);
                }
                paragraph(&mut text, "", &words, self.look.width);
                text
            }
            Question::Start { topics } => screen::start(topics, self.look),
            Question::Which { said, list, .. } => screen::which(said, &self.suspects_named(list), self.look),
            Question::Choose { list } => screen::others(&self.named(list), self.look),
            Question::Sure(doubt) => {
                let mut text = String::from("\n");
                paragraph(&mut text, "", &in_doubt(doubt, self.base), self.look.width);
                text
            }
        };
        self.say(&text);
    }

    pub(super) fn named(&self, list: &[Step]) -> Vec<(String, String)> {
        let name = |step: &Step| match step {
            Step::Test(id) => (id.clone(), self.base.test(id).map_or_else(|| id.clone(), |t| t.name.clone())),
            Step::Repair(id) => {
                let does = self.base.repair(id).map_or_else(|| id.clone(), |(_, r)| r.does.clone());
                (id.clone(), format!("repair: {does}"))
            }
            Step::Close => ("close".to_owned(), "close the job".to_owned()),
            Step::HandOn => ("hand on".to_owned(), "hand the job on".to_owned()),
        };
        list.iter().map(name).collect()
    }

    fn suspects_named(&self, list: &[String]) -> Vec<(String, String)> {
        list.iter().map(|s| (s.clone(), self.base.suspect_name(s))).collect()
    }
}
