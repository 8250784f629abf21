//! Completions in the shells themselves: words are typed into bash and zsh at a terminal, and fish is asked. A shell that is not
//! installed is passed over with a word.

mod support;

use std::fs;
use std::io::{Read, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use support::program;

/// What is typed, and what must then stand on the terminal.
const TYPED: [(&str, &str); 10] = [
    ("faultodds rank P044", "P0442"),
    ("faultodds rank P0455 --found filler-cap/loo", "filler-cap/loose"),
    ("faultodds rank P0455 --sound filler-cap/loo", "filler-cap/loose"),
    ("faultodds rank P0455 --result cap-look-res", "cap-look-reseat="),
    ("faultodds rank P0455 --result cap-look-reseat=un", "cap-look-reseat=unclear"),
    ("faultodds rank P0455 --symptom hard-start-after-ref", "hard-start-after-refuel"),
    ("faultodds rank P0455 --vehicle age=9,salt,saddle-t", "age=9,salt,saddle-tank"),
    ("faultodds rank P0455 --tools smoke-machine,hand-vac", "smoke-machine,hand-vacuum-pump"),
    ("faultodds kb show cap-look-res", "show cap-look-reseat"),
    ("faultodds job record cap-look-res", "record cap-look-reseat="),
];

fn has(shell: &str) -> bool {
    let there = Command::new(shell).arg("--version").stdout(Stdio::null()).stderr(Stdio::null()).status().is_ok();
    if !there {
        println!("{shell} is not installed: passed over");
    }
    there
}

/// The program's folder at the head of the path, and a folder with its completions for the shell under that name.
fn shell(folder: &Path, shell: &str, file: &str) -> String {
    let made = program().args(["completions", shell]).output().unwrap();
    assert!(made.status.success());
    fs::write(folder.join(file), made.stdout).unwrap();
    let own = Path::new(env!("CARGO_BIN_EXE_faultodds")).parent().unwrap();
    format!("{}:{}", own.display(), std::env::var("PATH").unwrap_or_default())
}

/// Types each line, a tab, and what empties the line again; answers what stood on the terminal, without colours.
fn typed(folder: &Path, path: &str, command: &str) -> String {
    let mut child = Command::new("script")
        .args(["-qec", command, "/dev/null"])
        .env("PATH", path)
        .env("ZDOTDIR", folder)
        .env("HOME", folder)
        .env("TERM", "dumb")
        .env("COLUMNS", "200")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let (mut keys, mut screen) = (child.stdin.take().unwrap(), child.stdout.take().unwrap());
    // What is typed before the prompt stands is the terminal's own and not the shell's.
    let (mut seen, mut some) = (Vec::new(), [0; 4096]);
    while !String::from_utf8_lossy(&seen).contains("ready>") {
        let n = screen.read(&mut some).unwrap();
        assert!(n > 0, "{command} ended: {}", String::from_utf8_lossy(&seen));
        seen.extend_from_slice(&some[..n]);
    }
    for (line, _) in TYPED {
        keys.write_all(format!("{line}\t\x15").as_bytes()).unwrap();
    }
    keys.write_all(b"exit\n").unwrap();
    screen.read_to_end(&mut seen).unwrap();
    child.wait().unwrap();
    String::from_utf8_lossy(&seen).replace(['\r', '\x08'], "")
}

#[test]
fn bash_completes_words_of_the_base() {
    if !has("bash") || !has("script") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = shell(folder.path(), "bash", "faultodds.bash");
    let rc = folder.path().join("rc");
    let quiet =
        "bind 'set enable-bracketed-paste off'\nbind 'set show-all-if-ambiguous on'\nbind 'set page-completions off'";
    fs::write(&rc, format!("PS1='ready> '\nsource '{}'\n{quiet}\n", folder.path().join("faultodds.bash").display()))
        .unwrap();
    let seen = typed(folder.path(), &path, &format!("bash --noprofile --rcfile '{}' -i", rc.display()));
    for (line, wanted) in TYPED {
        assert!(seen.contains(wanted), "{line}: {wanted} is not in\n{seen}");
    }
}

#[test]
fn zsh_completes_words_of_the_base() {
    if !has("zsh") || !has("script") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = shell(folder.path(), "zsh", "_faultodds");
    let here = folder.path().display();
    let rc = format!(
        "PS1='ready> '\nunsetopt zle_bracketed_paste 2>/dev/null\nfpath=('{here}' $fpath)\nautoload -Uz compinit\ncompinit -u -D\nsetopt no_beep\n"
    );
    fs::write(folder.path().join(".zshrc"), rc).unwrap();
    let seen = typed(folder.path(), &path, "zsh -i");
    for (line, wanted) in TYPED {
        assert!(seen.contains(wanted), "{line}: {wanted} is not in\n{seen}");
    }
}

#[test]
fn fish_completes_words_of_the_base() {
    if !has("fish") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = shell(folder.path(), "fish", "faultodds.fish");
    for (line, wanted) in TYPED {
        let ask = format!("source '{}'; complete -C '{line}'", folder.path().join("faultodds.fish").display());
        let out = Command::new("fish")
            .args(["--no-config", "-c", &ask])
            .env("PATH", &path)
            .env("HOME", folder.path())
            .output();
        let out = String::from_utf8(out.unwrap().stdout).unwrap();
        let word = wanted.rsplit(' ').next().unwrap();
        assert!(out.lines().any(|l| l.starts_with(word)), "{line}: {word} is not in\n{out}");
    }
}

/// What is no word of the base is left to the shell: commands, options, files.
#[test]
fn what_the_base_does_not_hold_is_left_to_the_shell() {
    for words in
        [&["ra"][..], &["job", "re"], &["rank", "--fo"], &["car", "read", "x"], &["rank", "--found", "no-such"], &[]]
    {
        let out = program().args(["complete", "--"]).args(words).output().unwrap();
        assert!(out.status.success() && out.stdout.is_empty(), "{words:?}");
    }
    let out = program().args(["complete", "--", "rank", "p0455", "p044"]).output().unwrap();
    assert!(String::from_utf8(out.stdout).unwrap().starts_with("P0440\t"), "small letters will do");
}
