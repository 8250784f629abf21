//! `schema`: the JSON Schema of the shapes that the program prints and reads.

use super::{Ending, Io, Stop};
use knowledge::near::{did_you_mean, near};
use screens::failure::Failure;
use screens::kb_list;
use screens::schemas::{self, ALL};

/// Prints one schema, or which there are.
pub(super) fn run(shape: Option<&str>, io: &mut Io) -> Result<Ending, Stop> {
    let Some(shape) = shape else {
        let told = |text: &str| {
            let words = [schemas::title(text), schemas::about(text)];
            words.into_iter().flatten().collect::<Vec<_>>().join(": ")
        };
        let list: Vec<(String, String)> = ALL.iter().map(|(name, text)| ((*name).to_owned(), told(text))).collect();
        io.show(&kb_list::text(&list, io.look.width))?;
        return Ok(Ending::Done);
    };
    let Some((_, text)) = schemas::named(shape) else {
        let failure = Failure::new(format!("there is no shape `{shape}`"));
        let hint = did_you_mean(&near(shape, ALL.iter().map(|(name, _)| *name), 2));
        let hint = hint.unwrap_or_else(|| "they are listed by: faultodds schema".to_owned());
        return Err(failure.hint(hint).hint("those of a base's entries are printed by: faultodds kb schema").into());
    };
    io.show(text)?;
    Ok(Ending::Done)
}
