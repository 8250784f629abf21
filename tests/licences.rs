//! Every dependency may be given on under a licence of this list. The list is short on purpose: a new licence is read by a person.

use std::process::Command;

/// What may be given on with the program, each alone or as one of several to choose from.
const ALLOWED: [&str; 9] = [
    "MIT",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-3-Clause",
    "BSD-2-Clause",
    "Zlib",
    "Unicode-3.0",
    "Unlicense",
    "MPL-2.0",
];

/// Whether one of the alternatives, with all that it joins by AND, is allowed.
fn allowed(said: &str) -> bool {
    let bare = said.replace(['(', ')'], "");
    if let Some((left, right)) = bare.split_once(" AND ") {
        return allowed(left) && allowed(right);
    }
    bare.replace('/', " OR ").split(" OR ").any(|one| ALLOWED.contains(&one.trim()))
}

#[test]
fn dependencies_have_licences_that_allow_giving_them_on() {
    assert!(allowed("(Apache-2.0 OR MIT) AND BSD-3-Clause") && !allowed("MIT AND GPL-3.0") && !allowed("GPL-3.0"));
    let args =
        ["metadata", "--locked", "--offline", "--format-version", "1", "--filter-platform", "x86_64-unknown-linux-gnu"];
    let out = Command::new(env!("CARGO")).args(args).current_dir(env!("CARGO_MANIFEST_DIR")).output().unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let told: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    let packages = told["packages"].as_array().unwrap();
    assert!(packages.len() > 100);
    let strange: Vec<String> = packages
        .iter()
        .filter(|p| !allowed(p["license"].as_str().unwrap_or_default()))
        .map(|p| format!("{}: {}", p["name"], p["license"]))
        .collect();
    assert!(strange.is_empty(), "{strange:#?}");
}
