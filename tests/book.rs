//! The book and the man pages run: every command in `src/cli/book` does what stands there, every example of a man page works.
//! `BOOK=overwrite cargo test --test book` renews the output shown.
#![cfg(unix)]

mod support;

use rayon::prelude::*;
use std::fs;
use std::path::{Path, PathBuf};
use support::book::{Place, run_page};
use support::run;

fn pages() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/cli/book");
    let mut pages: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    pages.sort();
    assert_eq!(pages.len(), 3);
    pages
}

#[test]
fn every_command_of_the_book_does_what_stands_there() {
    let wrong: Vec<String> = pages().par_iter().flat_map(|page| run_page(page, &Place::with_base())).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

#[test]
fn pages_are_short_and_begin_with_what_can_hurt() {
    for page in pages() {
        let text = fs::read_to_string(&page).unwrap();
        let lines = text.lines().count();
        let name = page.file_stem().unwrap().to_str().unwrap();
        assert_eq!(run(&["book", name]).out, text);
        assert!(run(&["book"]).out.contains(name));
        assert!((80..=190).contains(&lines), "{}: {lines} lines", page.display());
        let cautions = text.find("> **Cautions.**").unwrap_or(usize::MAX);
        assert!(cautions < text.find("```").unwrap(), "{}: cautions come before commands", page.display());
    }
}

/// What must have happened before the examples of a page make sense.
const BEFORE: &[(&str, &str)] = &[
    ("faultodds-job-reopen.1", "faultodds job close --as handed-on"),
    ("faultodds-job-retest.1", "faultodds job repair filler-cap/reseat"),
    ("faultodds-job-import.1", "faultodds job export > jobs.jsonl"),
    ("faultodds-past-decide.1", "faultodds past held > held.yaml"),
    ("faultodds-kb-check.1", concat!("ln -s ", env!("CARGO_MANIFEST_DIR"), "/kb kb")),
    ("faultodds-kb-diff.1", concat!("ln -s ", env!("CARGO_MANIFEST_DIR"), "/kb kb; ln -s kb kb-new")),
];

/// A place with twelve jobs, a reading on the current one, past jobs, and the files that examples name.
fn furnished() -> Place {
    let place = Place::new();
    let done = |line: &str| {
        let ran = place.sh(line);
        assert_eq!(ran.code, 0, "{line}: {}", ran.out);
    };
    done("cp data-demo/shop.yaml my-shop.yaml; mkdir -p ~/.local/share/bash-completion/completions");
    done("cp data-demo/clean-mapping.yaml past-mapping.yaml; head -n 41 data-demo/clean.csv > past.csv");
    for _ in 0..12 {
        done("faultodds job open P0455 --vehicle age=9,screw-cap");
    }
    done("faultodds job use --job 11 && faultodds job record cap-look-reseat:loose=fail");
    done("faultodds past import past.csv --mapping past-mapping.yaml");
    place
}

/// The commands under EXAMPLES, as a person would type them.
fn examples(page: &str) -> Vec<String> {
    let Some((_, section)) = page.split_once("\n.SH EXAMPLES\n.nf\n") else { return Vec::new() };
    let plain = section.split("\n.fi").next().unwrap().replace("\\-", "-").replace("\\*(Aq", "'").replace("\\\\", "\\");
    let mut out: Vec<String> = Vec::new();
    for line in plain.lines() {
        match out.last_mut().filter(|_| line.starts_with(' ')) {
            Some(command) => *command += &format!("\n{line}"),
            None => out.push(line.to_owned()),
        }
    }
    out
}

#[test]
fn every_man_page_has_examples_and_they_run() {
    let folder = tempfile::tempdir().unwrap();
    assert_eq!(run(&["man-pages", folder.path().to_str().unwrap()]).code, 0);
    let furnished = furnished();
    let pages: Vec<_> = fs::read_dir(folder.path()).unwrap().map(|e| e.unwrap()).collect();
    assert!(pages.len() > 60);
    let wrong: Vec<String> = pages
        .par_iter()
        .flat_map(|page| {
            let name = page.file_name().into_string().unwrap();
            let place = furnished.copy();
            let before = BEFORE.iter().filter(|(of, _)| *of == name).map(|(_, line)| (*line).to_owned());
            let examples = examples(&fs::read_to_string(page.path()).unwrap());
            let none = examples.is_empty().then(|| format!("{name} has no example"));
            let run = before.chain(examples).map(|line| (place.sh(&line), line));
            let wrong = run.filter(|(ran, _)| ran.code > 1).map(|(ran, line)| format!("{name}: {line}\n{}", ran.out));
            none.into_iter().chain(wrong).collect::<Vec<_>>()
        })
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}
