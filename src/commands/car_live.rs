//! Asking the car itself over a CAN interface of the kernel. Asks the person first; sends reading services only.

use super::{Io, Stop};
use car::{Answered, Report};
#[cfg(all(feature = "can", target_os = "linux"))]
use car::{Questions, ask};
use cli::car::ReadArgs;
use screens::failure::Failure;
#[cfg(any(test, all(feature = "can", target_os = "linux")))]
use std::io::{BufRead, Write};

/// The report of the car on that interface.
pub(super) fn asked(interface: &str, args: &ReadArgs, io: &mut Io) -> Result<Report, Stop> {
    let found = questioned(interface, args, io)?;
    if !found.any {
        let failure = Failure::new(format!("nobody answers on {interface} ({} questions sent)", found.sent));
        return Err(failure
            .hint("is the ignition on, and is the interface up at the car's speed (500 kbit/s on most)?")
            .hint(if args.long_addresses {
                "try it without --long-addresses"
            } else {
                "some cars answer only under long addresses: --long-addresses"
            })
            .into());
    }
    Ok(found.report)
}

/// What is asked: never the identification number.
#[cfg(all(feature = "can", target_os = "linux"))]
fn questions(args: &ReadArgs) -> Questions {
    Questions { vehicle_number: false, long_addresses: args.long_addresses }
}

/// How a yes can be had.
#[cfg(any(test, all(feature = "can", target_os = "linux")))]
#[derive(Clone, Copy)]
struct Asked {
    /// It was said on the line.
    yes: bool,
    /// A person sits at the terminal.
    interactive: bool,
}

/// Nothing is sent before a person has said so, on the line or here.
#[cfg(any(test, all(feature = "can", target_os = "linux")))]
fn consent(interface: &str, asked: Asked, input: &mut dyn BufRead, err: &mut dyn Write) -> Result<(), Stop> {
    let what = format!(
        "About 70 requests for reading will be sent on {interface}, some 15 a second. Nothing is cleared or changed. \
         Do this with the car standing."
    );
    if asked.yes {
        return Ok(());
    }
    if !asked.interactive {
        let failure = Failure::new("nothing was sent: sending on a car's bus needs a yes");
        return Err(failure.hint(what).hint("add --yes").into());
    }
    writeln!(err, "{what}\nSend them? yes or no:")?;
    err.flush()?;
    let mut answer = String::new();
    input.read_line(&mut answer)?;
    if answer.trim().eq_ignore_ascii_case("yes") { Ok(()) } else { Err(Failure::new("nothing was sent").into()) }
}

/// Asks over an interface of the kernel, and keeps what was seen where that is wanted.
#[cfg(all(feature = "can", target_os = "linux"))]
fn questioned(interface: &str, args: &ReadArgs, io: &mut Io) -> Result<Answered, Stop> {
    let failed = |e: car::BusError| {
        Failure::new(format!("{interface}: {e}")).hint("see the interfaces there are with: ip link show type can")
    };
    let mut bus = super::can_bus::Interface::open(interface, args.keep.is_some()).map_err(failed)?;
    let asked = Asked { yes: args.yes, interactive: io.interactive };
    consent(interface, asked, &mut io.input, &mut io.err)?;
    let found = ask(&mut bus, questions(args)).map_err(failed)?;
    if let Some(file) = &args.keep {
        let wrong = |e: std::io::Error| Failure::new(format!("{}: {e}", file.display()));
        std::fs::write(file, bus.log(interface)).map_err(wrong)?;
    }
    Ok(found)
}

#[cfg(not(all(feature = "can", target_os = "linux")))]
fn questioned(interface: &str, _args: &ReadArgs, _io: &mut Io) -> Result<Answered, Stop> {
    let failure = Failure::new(format!("{interface}: this build has no support for CAN interfaces"));
    Err(failure.hint("build it with --features can on Linux, or log the traffic and read the file").into())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(typed: &str, yes: bool, interactive: bool) -> bool {
        consent("can0", Asked { yes, interactive }, &mut typed.as_bytes(), &mut Vec::new()).is_ok()
    }

    #[test]
    fn only_a_yes_is_a_yes() {
        assert!(said("yes\n", false, true));
        for (typed, interactive) in [("y\n", true), ("no\n", true), ("", true), ("yes\n", false)] {
            assert!(!said(typed, false, interactive), "{typed:?}");
        }
        assert!(said("", true, false));
    }
}
