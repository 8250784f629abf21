//! First screens fit a terminal of 24 rows by 80 columns, and every line breaks at words at every width.

use crate::desk::Desk;
use unicode_width::UnicodeWidthStr;

const CARS: &[&[&str]] = &[
    &["rank", "P0455"],
    &["rank", "P0441", "P0455", "--vehicle", "age=12,140000km,salt"],
    &["rank", "P0442", "--result", "purge-valve-hold=20 -> 12 inHg in 4 min"],
    &["rank", "P0420", "P0171"],
    &["rank", "P0443", "--tools", "torch"],
];

#[test]
fn the_first_screen_of_rank_fits_and_ends_with_what_to_do() {
    let desk = Desk::new();
    for args in CARS {
        let text = desk.done(args);
        assert!(text.lines().count() <= 23, "{args:?}: {} lines\n{text}", text.lines().count());
        let at = |piece: &str| text.find(piece).unwrap_or_else(|| panic!("`{piece}` is not in:\n{text}"));
        assert!(at("CAUTION") < at("Check first:") && at("Check first:") < at("  good "), "{text}");
        assert!(at("  good ") < at("  bad "), "{text}");
    }
}

#[test]
fn the_first_screen_of_next_fits_and_calls_the_money_an_example() {
    let desk = Desk::new();
    for args in [
        &["next", "P0455"][..],
        &["next", "P0441", "P0455", "--vehicle", "age=12,140000km,salt"],
        &["next", "P0442", "--result", "purge-valve-hold=20 -> 12 inHg in 4 min"],
        &["next", "P0443", "--tools", "torch"],
    ] {
        let text = desk.done(args);
        assert!(text.lines().count() <= 23, "{args:?}: {} lines\n{text}", text.lines().count());
        let at = |piece: &str| text.find(piece).unwrap_or_else(|| panic!("`{piece}` is not in:\n{text}"));
        assert!(at("From here the whole job costs") < at("CAUTION") && at("CAUTION") < at("Do now:"), "{text}");
        assert!(text.contains("example"), "{text}");
    }
}

#[test]
fn every_line_keeps_to_the_width_and_breaks_at_words() {
    let desk = Desk::new();
    desk.done(&["job", "open", "P0455", "--vehicle", "screw-cap", "--reference", "a rather long reference of a job"]);
    desk.done(&["job", "record", "cap-look-reseat:loose=fail", "purge-valve-hold=20 -> 12 inHg in 4 min"]);
    let all: &[&[&str]] = &[
        &["rank", "P0455"],
        &["rank", "P0455", "--long"],
        &["job", "show"],
        &["job", "show", "--sheet"],
        &["job", "show", "--workshop"],
        &["job", "show", "--proof"],
        &["job", "list"],
        &["rank", "--job", "1"],
        &["shop", "show"],
        &["next", "P0455"],
        &["kb", "show", "P0455"],
        &["kb", "show", "smoke-whole"],
    ];
    for args in all {
        let wide = words(&desk.done(&[args, &["--width", "140"][..]].concat()));
        // Tables of the base are made for 50 columns and more.
        let least = if args[0] == "kb" { 50 } else { 32 };
        for width in [32, 50, 80, 140].into_iter().filter(|w| *w >= least) {
            let text = desk.done(&[args, &["--width", &width.to_string()][..]].concat());
            for line in text.lines() {
                // An id is typed again as it stands: it is not parted, and on 32 columns some are longer than their place.
                let id =
                    width == 32 && line.split_whitespace().last().is_some_and(|w| w.contains('/') && w.width() > 20);
                assert!(line.width() <= width || id, "{args:?} at {width}: {} columns: {line}", line.width());
            }
            if ["job", "kb"].contains(&args[0]) && !args.contains(&"--sheet") {
                // Nothing is parted inside: the same words stand there at every width, but for what is cut with `…`.
                let now = words(&text);
                let parted: Vec<&String> = now.iter().filter(|w| !w.contains('…') && !wide.contains(*w)).collect();
                // Names that are cut at the widest stand there in full where they are wrapped.
                assert!(parted.len() <= 2 + now.len() / 100, "{args:?} at {width}: {parted:?}");
            }
        }
    }
}

fn words(text: &str) -> std::collections::BTreeSet<String> {
    text.split_whitespace()
        .filter(|w| w.chars().all(|c| c.is_alphanumeric() || "-/:".contains(c)))
        .map(str::to_owned)
        .collect()
}

#[test]
fn screens_at_50_80_and_140_columns() {
    let desk = Desk::new();
    for (name, args) in
        [("rank", &["rank", "P0455"][..]), ("rank long", &["rank", "P0455", "--long"]), ("next", &["next", "P0455"])]
    {
        for width in ["50", "80", "140"] {
            let text = desk.done(&[args, &["--width", width][..]].concat());
            insta::assert_snapshot!(format!("{name} at {width}"), text);
        }
    }
    for width in ["50", "80", "140"] {
        let script = "9 years, no smoke machine\n2\n1\n1\nstop\n";
        let desk = Desk::new();
        let out = desk.typed(&["guide", "P0455", "--vehicle", "screw-cap", "--width", width], script);
        insta::assert_snapshot!(format!("guide at {width}"), String::from_utf8(out.stdout).unwrap());
    }
}

#[test]
fn help_texts_break_at_words() {
    let desk = Desk::new();
    for args in [&["rank", "--help"][..], &["job", "--help"], &["job", "retest", "--help"], &["guide", "--help"]] {
        let text = desk.done(args);
        in_the_end(&text, "General options:");
        assert!(text.lines().all(|l| l.width() <= 100), "{text}");
    }
}

/// The heading stands behind all others.
fn in_the_end(text: &str, heading: &str) {
    let at = text.find(heading).unwrap_or_else(|| panic!("`{heading}` is not in:\n{text}"));
    let others = ["Options:", "Arguments:", "Commands:"].iter().filter_map(|h| text.find(&format!("\n{h}")));
    assert!(others.max().is_none_or(|o| o < at), "{text}");
}
