//! `plan --form html`: what the page must know beside the plan: whose it is, and in which words it is asked and recorded.

use super::Io;
use super::planned::Subject;
use cli::plan::{PlanArgs, SubjectArgs};
use cli::shared::ShopArgs;
use pages::plan::PlanPage;
use screens::Look;
use screens::job::which_line;
use screens::plan::PlanScreen;
use screens::text::harmless;
use shop::is_example;

/// The page; where there is nothing to plan, the words that say so.
pub(super) fn page(
    args: &PlanArgs,
    subject: &Subject,
    carried: &PlanScreen<'_>,
    drawn: &PlanScreen<'_>,
    io: &Io,
) -> String {
    let said = said(&args.subject);
    let (about, opening, next) = match subject.job() {
        Some(job) => (which_line(job), format!("faultodds job use --job {}", job.number), String::new()),
        None => (
            about(carried, &args.subject),
            format!("faultodds job open{said}"),
            format!("faultodds next{said}{}", of_shop(&args.shop)),
        ),
    };
    let again = match subject.codes.as_slice() {
        [] => "# the complaint is still there: record what is noticed with faultodds job record --symptom".to_owned(),
        codes => format!("faultodds job retest {}", codes.join(" ")),
    };
    let page = PlanPage {
        screen: carried,
        drawn,
        network: &subject.network,
        about: &about,
        opening: &opening,
        again: &again,
        next: &next,
        day: io.today.to_string(),
        example: is_example(subject.shop_file(&args.shop).as_deref()) && args.shop.rate.is_none(),
    };
    page.html().unwrap_or_else(|| carried.text(Look::new(100)))
}

/// The codes in the base's words, and the car as it was described.
fn about(screen: &PlanScreen<'_>, args: &SubjectArgs) -> String {
    let title = |c: &String| screen.base.code(c).map(|found| format!("{c}: {}", found.title));
    let mut parts: Vec<String> = screen.codes.iter().filter_map(title).collect();
    if !args.car.vehicle.is_empty() {
        parts.push(format!("Car: {}", args.car.vehicle.join(", ")));
    }
    parts.join(". ")
}

/// What was said of the car, as it is typed again.
fn said(args: &SubjectArgs) -> String {
    let mut out = String::new();
    let mut put = |option: &str, words: &[String]| {
        for word in words {
            let option = if option.is_empty() { String::new() } else { format!(" {option}") };
            out.push_str(&format!("{option} {}", quoted(word)));
        }
    };
    put("", &args.codes);
    let (car, group) = (&args.car, &args.group);
    put("--vehicle", &car.vehicle);
    put("--symptom", &car.symptom);
    put("--no-symptom", &car.no_symptom);
    put("--result", &car.result);
    put("--found", &car.found);
    put("--sound", &car.sound);
    put("--already", &car.already);
    for (option, word) in [("--make", &group.make), ("--model", &group.model), ("--engine", &group.engine)] {
        put(option, word.as_slice());
    }
    if let Some(file) = &args.capture.capture {
        put("--car", &[file.display().to_string()]);
    }
    if car.codes_incomplete {
        out.push_str(" --codes-incomplete");
    }
    out
}

/// What was said of the shop on the line.
fn of_shop(args: &ShopArgs) -> String {
    let mut out = String::new();
    if let Some(tools) = &args.tools {
        out.push_str(&format!(" --tools {}", quoted(&tools.join(","))));
    }
    if !args.without.is_empty() {
        out.push_str(&format!(" --without {}", quoted(&args.without.join(","))));
    }
    out
}

/// A word as a shell takes it, without what a shell would act on.
fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "_:=/.,%+-".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        return word.to_owned();
    }
    let kept: String = harmless(word).chars().filter(|c| !"\"$`\\!\u{fffd}".contains(*c)).collect();
    format!("\"{kept}\"")
}
