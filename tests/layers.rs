//! Holds the arrows between the layers one way, by reading the sources: which module names which, which alone may name
//! the YAML library, and which know no file, no clock and no terminal.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// The layers, lowest first. A module may use those of lower rows and itself; modules of one row do not know each
/// other. A module that stands in no row fails the test, so that its place is decided and not found.
const LAYERS: &[&[&str]] = &[
    &["knowledge"],
    &["search"],
    &["shipped", "network"],
    &["inference"],
    &["gauge", "car"],
    &["evidence"],
    &["ranking", "planning"],
    &["jobs", "cases"],
    &["learning"],
    &["shop"],
    &["screens"],
    &["pages"],
    &["cli"],
    &["commands"],
    &["lib", "main"],
];

/// Modules that only compute.
const PURE: &[&str] = &["network", "inference", "ranking", "planning", "gauge", "car"];

/// What a pure module never names.
const WORLD: &[&str] = &[
    "std::fs",
    "std::time",
    "std::env",
    "std::net",
    "std::process",
    "SystemTime",
    "Instant::now",
    "println!",
    "eprintln!",
    "print!",
    "dbg!",
    "stdout()",
    "stderr()",
    "anstream",
    "anstyle",
    "terminal_size",
    "jiff::",
    "rusqlite",
];

/// One source file: its layer, its path, and its lines without remarks and without what is compiled for tests only.
struct Source {
    layer: String,
    path: String,
    lines: Vec<(usize, String)>,
}

fn sources() -> Vec<Source> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut paths = Vec::new();
    collect(&root, &mut paths);
    paths.sort();
    assert!(paths.len() > 40, "the sources are not where they were: {paths:?}");
    paths.into_iter().map(|path| source(&root, &path)).collect()
}

fn collect(folder: &Path, out: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            // A folder `tests` holds a module's own tests, which may look at anything.
            if path.file_name().is_some_and(|n| n != "tests") {
                collect(&path, out);
            }
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push(path);
        }
    }
}

fn source(root: &Path, path: &Path) -> Source {
    let relative = path.strip_prefix(root).unwrap();
    let first = relative.iter().next().unwrap().to_str().unwrap();
    let text = fs::read_to_string(path).unwrap();
    let lines = text
        .lines()
        .take_while(|l| l.trim() != "#[cfg(test)]")
        .enumerate()
        .map(|(i, l)| (i + 1, l.split("//").next().unwrap_or_default().to_owned()))
        .collect();
    Source { layer: first.trim_end_matches(".rs").to_owned(), path: format!("src/{}", relative.display()), lines }
}

fn row(layer: &str) -> Option<usize> {
    LAYERS.iter().position(|r| r.contains(&layer))
}

/// The modules of this crate that a line names: `crate::a::b`, and every head in `crate::{a::b, c}`.
fn named(line: &str) -> BTreeSet<String> {
    let word = |text: &str| text.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>();
    let mut out = BTreeSet::new();
    for own in ["crate::", "faultodds::"] {
        for (i, _) in line.match_indices(own) {
            // `$crate::…` in a macro and `some_crate::…` are something else or the same; only a longer word is not ours.
            if line[..i].chars().next_back().is_some_and(|c| c.is_alphanumeric() || c == '_') {
                continue;
            }
            let rest = &line[i + own.len()..];
            if let Some(list) = rest.strip_prefix('{') {
                let mut depth = 0;
                let mut heads = String::new();
                for c in list.chars() {
                    match c {
                        '{' => depth += 1,
                        '}' => depth -= 1,
                        c if depth == 0 => heads.push(c),
                        _ => {}
                    }
                    if depth < 0 {
                        break;
                    }
                }
                out.extend(heads.split(',').map(|h| word(h.trim())));
            } else {
                out.insert(word(rest));
            }
        }
    }
    out.remove("");
    out
}

#[test]
fn names_are_found_in_use_lines() {
    let names = |line| named(line).into_iter().collect::<Vec<_>>();
    assert_eq!(names("use crate::network::{Network, build::build};"), ["network"]);
    assert_eq!(names("use crate::{cli::Cli, screens::{text, json}, shipped};"), ["cli", "screens", "shipped"]);
    assert_eq!(names("let x: crate::inference::World = my_crate::jobs();"), ["inference"]);
}

#[test]
fn lower_layers_do_not_know_higher_ones() {
    let mut wrong = Vec::new();
    for source in sources() {
        let Some(own) = row(&source.layer) else {
            panic!("{} belongs to no layer: give `{}` its row in tests/layers.rs", source.path, source.layer);
        };
        let whole: String = source.lines.iter().map(|(_, l)| l.trim()).collect::<Vec<_>>().join(" ");
        for name in named(&whole).into_iter().filter(|n| *n != source.layer) {
            // Macros and items of the crate's root are no module.
            let Some(other) = row(&name) else { continue };
            if other >= own {
                let at = source.lines.iter().find(|(_, l)| l.contains(&name)).map_or(0, |(n, _)| *n);
                wrong.push(format!("{}:{at}: `{}` uses `{name}`, which stands above it", source.path, source.layer));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn one_module_names_the_yaml_library() {
    for source in sources().iter().filter(|s| s.path != "src/knowledge/yaml.rs") {
        for (n, line) in &source.lines {
            let names = ["serde_yaml", "serde_saphyr"].iter().any(|l| line.contains(l));
            assert!(!names, "{}:{n}: only src/knowledge/yaml.rs names the YAML library", source.path);
        }
    }
}

#[test]
fn pure_modules_know_no_file_no_clock_and_no_terminal() {
    for source in sources().iter().filter(|s| PURE.contains(&s.layer.as_str())) {
        for (n, line) in &source.lines {
            if let Some(word) = WORLD.iter().find(|w| line.contains(**w)) {
                panic!("{}:{n}: `{word}` in a module that only computes", source.path);
            }
        }
    }
}

#[test]
fn every_module_says_first_what_it_answers_for() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    for source in sources() {
        let text = fs::read_to_string(root.join(&source.path)).unwrap();
        assert!(text.starts_with("//! "), "{}: the first line says what the module answers for", source.path);
    }
}
