//! Holds the arrows between the layers one way, by reading the manifests and the sources: which crate stands on which, which
//! module alone may name the YAML library, and which crates know no file, no clock and no terminal.

use std::fs;
use std::path::{Path, PathBuf};

/// The layers, lowest first: folders of `src`, each a crate. One may use those of lower rows; crates of one row do not know
/// each other. One that stands in no row fails the test, so that its place is decided and not found.
const LAYERS: &[&[&str]] = &[
    &["knowledge"],
    &["search"],
    &["network"],
    &["inference"],
    &["shipped", "gauge", "car"],
    &["evidence"],
    &["ranking", "planning"],
    &["jobs"],
    &["learning"],
    &["shop"],
    &["screens"],
    &["pages"],
    &["cli"],
    &["commands"],
];

/// Crates that only compute.
const PURE: &[&str] = &["network", "inference", "ranking", "planning", "gauge", "car"];

/// What a pure crate never names.
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

/// The crates of this project that a manifest names, those of its own tests apart.
fn named(manifest: &str) -> Vec<String> {
    let lasting = manifest.split("[dev-dependencies]").next().unwrap_or_default();
    lasting.lines().filter_map(|l| l.strip_prefix("faultodds-")?.split(['.', ' ']).next().map(str::to_owned)).collect()
}

#[test]
fn lower_layers_do_not_know_higher_ones() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut wrong = Vec::new();
    let mut seen = 0;
    for folder in fs::read_dir(root).unwrap().map(|e| e.unwrap().path()).filter(|p| p.is_dir()) {
        let layer = folder.file_name().unwrap().to_str().unwrap();
        let Some(own) = row(layer) else { panic!("`{layer}` belongs to no layer: give it its row in tests/layers.rs") };
        for name in named(&fs::read_to_string(folder.join("Cargo.toml")).unwrap()) {
            seen += 1;
            if row(&name).is_none_or(|other| other >= own) {
                wrong.push(format!("`{layer}` uses `{name}`, which does not stand below it"));
            }
        }
    }
    assert!(seen > 40, "the manifests are not as they were: {seen} arrows");
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
