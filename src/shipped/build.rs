//! Reads and checks the shipped base when the program is built, and packs it so that nothing is parsed at start.
//!
//! Five files go into the build folder: the checked base in two halves, ready to load, the texts of its entries, for commands
//! that show them, the index of the search, and what each symptom speaks for. A base with problems stops the build; `faultodds
//! kb check` draws the same problems better.

mod speaks;

use knowledge::base::{Base, Vehicle};
use std::path::Path;
use std::{env, fs, process};

fn main() {
    // In the project the base lies at the top; an archive of this crate alone carries it within.
    let folder = ["../../kb", "kb"].map(Path::new).into_iter().find(|f| f.is_dir()).unwrap_or(Path::new("kb"));
    println!("cargo:rerun-if-changed={}", folder.display());
    let out = env::var("OUT_DIR").unwrap_or_default();
    let checked = knowledge::check(&knowledge::files::Folder(folder));
    for p in &checked.problems {
        let hint = p.hint.as_ref().map(|h| format!(" ({h})")).unwrap_or_default();
        let (line, column) = (p.place.line, p.place.column);
        eprintln!("kb/{}:{line}:{column}: [{}] {}{hint}", p.file, p.code.word(), p.message);
    }
    if !checked.problems.is_empty() {
        eprintln!("the shipped base has {} problems", checked.problems.len());
        process::exit(1);
    }
    let texts: Vec<(&str, &str)> = checked.files.iter().map(|f| (f.path.as_str(), f.text.as_str())).collect();
    let (half, rest) = halves(&checked.base);
    let half = postcard::to_allocvec(&half).map_err(|e| e.to_string());
    let base = postcard::to_allocvec(&rest).map_err(|e| e.to_string());
    let texts = postcard::to_allocvec(&texts).map_err(|e| e.to_string());
    let index = search::pack(&checked.base).map_err(|e| e.to_string());
    let network = network::build::build(&checked.base, &Vehicle::default());
    let symptoms = checked.base.symptoms.iter().map(|s| s.id.as_str());
    let speaks = speaks::speaks_of(&checked.base, &network, symptoms).map_err(|e| format!("{e:?}"));
    let speaks = speaks.and_then(|s| postcard::to_allocvec(&s).map_err(|e| e.to_string()));
    let files =
        [("base.bin", base), ("half.bin", half), ("texts.bin", texts), ("index.bin", index), ("speaks.bin", speaks)];
    for (name, packed) in files {
        let written = packed.and_then(|bytes| fs::write(Path::new(&out).join(name), bytes).map_err(|e| e.to_string()));
        if let Err(error) = written {
            eprintln!("{name}: {error}");
            process::exit(1);
        }
    }
}

/// The base in two parts that take about as long to unpack, each with the other's sections empty.
fn halves(base: &Base) -> (Base, Base) {
    let (mut half, mut rest) = (Base::default(), base.clone());
    half.tests = std::mem::take(&mut rest.tests);
    half.codes = std::mem::take(&mut rest.codes);
    (half, rest)
}
