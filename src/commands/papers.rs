//! The book, and shell completions and man pages made from the command line's own description; completions ask `complete` for
//! the base's words.

use super::{Ending, Io, Stop};
use clap::builder::Resettable;
use clap::{Command, CommandFactory};
use clap_mangen::Man;
use clap_mangen::roff::{Roff, roman};
use cli::Cli;
use cli::book::PAGES;
use knowledge::near::{did_you_mean, near};
use screens::failure::Failure;
use screens::kb_list;
use std::path::Path;

/// Prints a page of the book, or which there are.
pub(super) fn book(page: Option<&str>, io: &mut Io) -> Result<Ending, Stop> {
    let Some(page) = page else {
        let list: Vec<(String, String)> =
            PAGES.iter().map(|(name, whom, _)| ((*name).to_owned(), format!("for {whom}"))).collect();
        io.show(&kb_list::text(&list, io.look.width))?;
        return Ok(Ending::Done);
    };
    let Some((.., text)) = PAGES.iter().find(|(name, ..)| *name == page.trim().to_lowercase()) else {
        let names = PAGES.iter().map(|(name, ..)| *name);
        let hint = did_you_mean(&near(page, names.clone(), 2));
        let hint = hint.unwrap_or_else(|| format!("the pages are {}", names.collect::<Vec<_>>().join(", ")));
        return Err(Failure::new(format!("the book has no page `{page}`")).hint(hint).into());
    };
    io.show(text)?;
    Ok(Ending::Done)
}

/// Prints the completions for a shell.
pub(super) fn completions(shell: clap_complete::Shell, io: &mut Io) -> Result<Ending, Stop> {
    let mut text = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "faultodds", &mut text);
    let text = super::complete::script(shell, &String::from_utf8_lossy(&text));
    io.out.write_all(text.as_bytes())?;
    Ok(Ending::Done)
}

/// Writes a man page for each command into the folder.
pub(super) fn man_pages(folder: &Path, io: &mut Io) -> Result<Ending, Stop> {
    let mut whole = Cli::command().disable_help_subcommand(true);
    whole.build();
    let made = std::fs::create_dir_all(folder).and_then(|()| pages_below(&whole, folder));
    made.map_err(|e| Failure::new(format!("{}: {e}", folder.display())))?;
    io.show(&format!("man pages written to {}\n", folder.display()))?;
    Ok(Ending::Done)
}

fn pages_below(command: &Command, folder: &Path) -> std::io::Result<()> {
    for below in command.get_subcommands().filter(|s| !s.is_hide_set()) {
        pages_below(below, folder)?;
    }
    let (name, text) = man_page(command)?;
    std::fs::write(folder.join(name), text)
}

/// File name and text of a command's page. What stands under its help is parted: examples get the section in which readers
/// of man pages look for them.
fn man_page(command: &Command) -> std::io::Result<(String, Vec<u8>)> {
    let help = command.get_after_help().map(ToString::to_string).unwrap_or_default();
    let (examples, notes) = parted(&help);
    let page = Man::new(command.clone().after_help(Resettable::Reset));
    let mut text = Vec::new();
    page.render(&mut text)?;
    let mut own = Roff::new();
    if !notes.is_empty() {
        own.control("SH", ["NOTES"]);
        for note in notes {
            own.control("PP", []).text([roman(note)]);
        }
    }
    if !examples.is_empty() {
        own.control("SH", ["EXAMPLES"]).control("nf", []);
        for line in examples {
            own.text([roman(line)]);
        }
        own.control("fi", []);
    }
    own.to_writer(&mut text)?;
    Ok((page.get_filename(), text))
}

/// The lines of the examples under a help text, continued lines indented; and its other lines.
fn parted(help: &str) -> (Vec<String>, Vec<&str>) {
    let (mut examples, mut notes, mut inside) = (Vec::new(), Vec::new(), false);
    for line in help.lines() {
        let begun = line.strip_prefix("Examples:").or_else(|| line.strip_prefix("Example:"));
        inside = begun.is_some() || (inside && !line.trim().is_empty());
        let words = begun.unwrap_or(line).trim();
        match (inside, words.is_empty()) {
            (_, true) => {}
            (true, _) if words.starts_with("faultodds ") => examples.push(words.to_owned()),
            (true, _) => examples.push(format!("    {words}")),
            (false, _) => notes.push(words),
        }
    }
    (examples, notes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn examples_are_told_from_what_else_is_under_a_help_text() {
        let help =
            "A remark.\n\nExamples: faultodds rank P0455 \\\n     --why\n   faultodds next\n\nExit codes: 0 done.";
        let (examples, notes) = parted(help);
        assert_eq!(examples, ["faultodds rank P0455 \\", "    --why", "faultodds next"]);
        assert_eq!(notes, ["A remark.", "Exit codes: 0 done."]);
    }
}
