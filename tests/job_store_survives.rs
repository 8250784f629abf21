//! The store of jobs under real processes: killed at random, eight at once, and on files and folders that cannot be
//! used. Nothing acknowledged may be lost, nothing that is not ours may be touched.

use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Output, Stdio};
use std::thread::sleep;
use std::time::Duration;
use tempfile::TempDir;

fn command(db: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_faultodds"));
    command.env("FAULTODDS_DB", db).env("TZ", "UTC").env_remove("FAULTODDS_JOB").env_remove("FAULTODDS_KB");
    command
}

fn run(db: &Path, args: &[&str]) -> Output {
    command(db).args(args).stdin(Stdio::null()).output().unwrap()
}

fn done(db: &Path, args: &[&str]) -> String {
    let out = run(db, args);
    assert!(out.status.success(), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

fn refused(db: &Path, args: &[&str]) -> String {
    let out = run(db, args);
    assert_eq!(out.status.code(), Some(2), "{args:?}: {}", String::from_utf8_lossy(&out.stdout));
    String::from_utf8(out.stderr).unwrap()
}

/// All notes in the store, in the order of jobs and events.
fn notes(db: &Path) -> Vec<String> {
    let mut out = Vec::new();
    for line in done(db, &["job", "export"]).lines() {
        let job: serde_json::Value = serde_json::from_str(line).unwrap();
        for e in job["events"].as_array().unwrap() {
            if e["event"]["kind"] == "noted" {
                out.push(e["event"]["body"]["text"].as_str().unwrap().to_owned());
            }
        }
    }
    out
}

/// A linear congruential generator (Knuth's MMIX constants): the same kills in every run, up to the system's timing.
struct Chance(u64);

impl Chance {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n
    }
}

/// Runs so many events, each by a process of its own, and kills so many of them at a random moment.
fn killed_commands(events: u64, kills: u64) {
    let folder = TempDir::new().unwrap();
    let db = folder.path().join("jobs.db");
    let mut chance = Chance(17);
    // How long one event takes here, so that the kills fall all over it.
    let started = std::time::Instant::now();
    done(&db, &["job", "open", "P0455"]);
    let typical = u64::try_from(started.elapsed().as_micros()).unwrap();
    let (mut acknowledged, mut cut_off) = (Vec::new(), 0);
    for i in 0..events {
        let text = format!("event {i}");
        let mut child =
            command(&db).args(["job", "note", &text]).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
        if chance.below(events) < kills {
            sleep(Duration::from_micros(chance.below(typical)));
            child.kill().unwrap();
        }
        if child.wait().unwrap().success() {
            acknowledged.push(text);
        } else {
            cut_off += 1;
            // The store opens, whatever moment was hit.
            done(&db, &["job", "list"]);
        }
    }
    assert!(cut_off > kills / 3, "only {cut_off} processes were killed in time");
    whole(&db, &acknowledged);
}

/// Every acknowledged note is there once, in order, and no note is there twice.
fn whole(db: &Path, acknowledged: &[String]) {
    let stored = notes(db);
    let mut unique = stored.clone();
    unique.sort();
    unique.dedup();
    assert_eq!(unique.len(), stored.len(), "an event is there twice");
    let kept: Vec<&String> = stored.iter().filter(|s| acknowledged.contains(s)).collect();
    assert_eq!(kept, acknowledged.iter().collect::<Vec<_>>(), "an acknowledged event is lost or out of order");
    done(db, &["job", "check"]);
}

struct Guide {
    child: Child,
    input: ChildStdin,
    output: BufReader<std::process::ChildStdout>,
}

fn guide(db: &Path) -> Guide {
    let mut child =
        command(db).arg("guide").stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    let input = child.stdin.take().unwrap();
    let output = BufReader::new(child.stdout.take().unwrap());
    Guide { child, input, output }
}

/// Long conversations that are killed while they write.
fn killed_conversations(kills: u64, most: u64) {
    let folder = TempDir::new().unwrap();
    let db = folder.path().join("jobs.db");
    done(&db, &["job", "open", "P0455"]);
    let mut chance = Chance(23);
    let mut acknowledged = Vec::new();
    for talk in 0..kills {
        let Guide { mut child, mut input, output } = guide(&db);
        let lines = 1 + chance.below(most);
        for i in 0..lines {
            writeln!(input, "note talk {talk} line {i}").unwrap();
        }
        let mut told = 0;
        let stop_after = chance.below(lines);
        for line in output.lines() {
            let Ok(line) = line else { break };
            if line.starts_with("stored as event") {
                acknowledged.push(format!("talk {talk} line {told}"));
                told += 1;
                if told > stop_after {
                    break;
                }
            }
        }
        sleep(Duration::from_micros(chance.below(30_000)));
        child.kill().unwrap();
        child.wait().unwrap();
        drop(input);
    }
    whole(&db, &acknowledged);
}

#[test]
fn killed_processes_lose_nothing_that_was_acknowledged() {
    killed_commands(150, 40);
}

#[test]
fn killed_conversations_lose_nothing_that_was_acknowledged() {
    killed_conversations(12, 8);
}

/// The whole of it takes minutes: `cargo test --release --test job_store_survives -- --ignored`.
#[test]
#[ignore = "takes minutes; run before a release"]
fn two_hundred_kills_in_a_thousand_events() {
    killed_commands(1000, 200);
    killed_conversations(60, 20);
}

#[test]
fn eight_processes_at_once_all_succeed() {
    let folder = TempDir::new().unwrap();
    let db = folder.path().join("jobs.db");
    // They also find no store, and all of them make it.
    let openers: Vec<Child> = (0..8)
        .map(|_| {
            command(&db).args(["job", "open", "P0442"]).stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap()
        })
        .collect();
    for opener in openers {
        let out = opener.wait_with_output().unwrap();
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    }
    const EACH: usize = 12;
    std::thread::scope(|scope| {
        for writer in 0..8 {
            let db = &db;
            scope.spawn(move || {
                for i in 0..EACH {
                    done(db, &["job", "note", &format!("{writer}/{i}"), "--job", "1"]);
                }
            });
        }
    });
    let mut stored = notes(&db);
    assert_eq!(stored.len(), 8 * EACH);
    for writer in 0..8 {
        let own: Vec<String> = stored.iter().filter(|n| n.starts_with(&format!("{writer}/"))).cloned().collect();
        assert_eq!(own, (0..EACH).map(|i| format!("{writer}/{i}")).collect::<Vec<_>>());
    }
    stored.sort();
    stored.dedup();
    assert_eq!(stored.len(), 8 * EACH);
    let jobs: serde_json::Value = serde_json::from_str(&done(&db, &["job", "list", "--json"])).unwrap();
    assert_eq!(jobs["total"], 8);
    done(&db, &["job", "check"]);
}

/// Runs a command that must be refused and must not touch the file.
fn left_alone(db: &Path, args: &[&str]) -> String {
    let before = fs::read(db).unwrap();
    let told = refused(db, args);
    assert_eq!(fs::read(db).unwrap(), before, "{args:?} touched the file");
    told
}

const EVERY_WAY: [&[&str]; 6] = [
    &["job", "open", "P0455"],
    &["job", "list"],
    &["job", "show"],
    &["job", "note", "x"],
    &["job", "export"],
    &["guide"],
];

#[test]
fn files_that_cannot_be_used_are_told_and_left_alone() {
    let folder = TempDir::new().unwrap();
    let db = folder.path().join("jobs.db");
    done(&db, &["job", "open", "P0455"]);
    for i in 0..5 {
        done(&db, &["job", "note", &format!("{i} {}", "long ".repeat(1000))]);
    }
    let whole = fs::read(&db).unwrap();
    let wrong: [(&str, Vec<u8>, &str); 4] = [
        ("cut.db", whole[..whole.len() / 2].to_vec(), "cut short"),
        ("text.db", b"Dear customer, thank you for bringing your car in today.\n".repeat(50), "not a store"),
        (
            "torn.db",
            whole[..4096].iter().copied().chain(std::iter::repeat_n(0xa5, whole.len() - 4096)).collect(),
            "damaged",
        ),
        ("later.db", later(&whole), "later version"),
    ];
    for (name, bytes, words) in wrong {
        let file = folder.path().join(name);
        fs::write(&file, bytes).unwrap();
        for args in EVERY_WAY {
            let told = left_alone(&file, args);
            assert!(told.contains(words) && told.contains(name), "{args:?}: {told}");
        }
    }
    // Nor does a backup overwrite anything.
    let told = refused(&db, &["job", "backup", folder.path().join("text.db").to_str().unwrap()]);
    assert!(told.contains("not overwritten"), "{told}");
}

/// The same store, marked as one of a later version: `user_version` is the four bytes at 60 of the header.
fn later(whole: &[u8]) -> Vec<u8> {
    let mut bytes = whole.to_vec();
    bytes[60..64].copy_from_slice(&1000_u32.to_be_bytes());
    bytes
}

fn am_root() -> bool {
    Command::new("id").arg("-u").output().is_ok_and(|o| o.stdout.starts_with(b"0\n"))
}

/// As somebody who may not write there: root may write everywhere, so root becomes nobody.
fn as_nobody(db: &Path, args: &[&str]) -> Output {
    let mut command = command(db);
    if am_root() {
        command.uid(65534).gid(65534);
    }
    command.args(args).output().unwrap()
}

#[test]
fn a_read_only_folder_is_told() {
    use std::os::unix::fs::PermissionsExt;
    let folder = TempDir::new().unwrap();
    let db = folder.path().join("jobs.db");
    done(&db, &["job", "open", "P0455"]);
    let before = fs::read(&db).unwrap();
    fs::set_permissions(&db, fs::Permissions::from_mode(0o444)).unwrap();
    fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o555)).unwrap();
    let inner = folder.path().join("new/jobs.db");
    for (path, args) in [(&db, ["job", "note", "x"]), (&inner, ["job", "open", "P0455"])] {
        let out = as_nobody(path, &args);
        let told = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(out.status.code(), Some(2), "{told}");
        assert!(told.contains("jobs.db") && told.contains("--db FILE"), "{told}");
    }
    fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o755)).unwrap();
    assert_eq!(fs::read(&db).unwrap(), before);
}

/// A small disk of its own, when this system lets us have one.
struct SmallDisk(PathBuf);

impl SmallDisk {
    fn new(folder: &Path) -> Option<Self> {
        let mounted = am_root()
            && Command::new("mount")
                .args(["-t", "tmpfs", "-o", "size=192k", "tmpfs"])
                .arg(folder)
                .stderr(Stdio::null())
                .status()
                .is_ok_and(|s| s.success());
        mounted.then(|| Self(folder.to_owned()))
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _gone = Command::new("umount").arg(&self.0).status();
    }
}

#[test]
fn a_full_disk_is_told_and_what_was_acknowledged_stays() {
    let folder = TempDir::new().unwrap();
    // Without a disk of our own the store's own test with a limited file covers the library.
    let Some(disk) = SmallDisk::new(folder.path()) else { return };
    let db = disk.0.join("jobs.db");
    done(&db, &["job", "open", "P0455"]);
    let mut acknowledged = Vec::new();
    let told = loop {
        let text = format!("{} {}", acknowledged.len(), "x".repeat(3000));
        let out = run(&db, &["job", "note", &text]);
        if !out.status.success() {
            assert_eq!(out.status.code(), Some(2));
            break String::from_utf8_lossy(&out.stderr).into_owned();
        }
        acknowledged.push(text);
        assert!(acknowledged.len() < 1000, "the disk never filled");
    };
    assert!(told.contains("full"), "{told}");
    // Once there is room again, all is as it was and goes on.
    let more = Command::new("mount").args(["-o", "remount,size=4m"]).arg(&disk.0).status().unwrap();
    assert!(more.success());
    whole(&db, &acknowledged);
    done(&db, &["job", "note", "goes on"]);
}

/// A letter that changes on the disk is in no export, and whoever exports is told.
#[test]
fn a_damaged_job_is_left_out_of_an_export_and_named() {
    let folder = TempDir::new().unwrap();
    let db = folder.path().join("jobs.db");
    for words in ["hose chafed", "seal brittle", "cap loose"] {
        done(&db, &["job", "open", "P0455"]);
        done(&db, &["job", "note", words]);
    }
    let good = done(&db, &["job", "export"]);
    let mut bytes = fs::read(&db).unwrap();
    let at = bytes.windows(12).position(|w| w == b"seal brittle").unwrap();
    bytes[at + 11] ^= 1;
    fs::write(&db, bytes).unwrap();
    let out = run(&db, &["job", "export"]);
    let (lines, told) = (String::from_utf8(out.stdout).unwrap(), String::from_utf8(out.stderr).unwrap());
    assert_eq!(out.status.code(), Some(1), "{told}");
    assert_eq!(lines.lines().collect::<Vec<_>>(), [0, 2].map(|n| good.lines().nth(n).unwrap()));
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("event 2 of job 2 is not what was stored"), "{told}");
    assert!(told.contains("2 jobs were written") && told.contains("not what was stored: 2"), "{told}");
    let others = run(&db, &["job", "export", "1", "3"]);
    assert_eq!((others.status.code(), others.stderr.as_slice()), (Some(0), &b""[..]));
    assert_eq!(run(&db, &["job", "check"]).status.code(), Some(1));
}
