//! Asking the car itself over a CAN interface of the kernel. Asks the person first; sends reading services only.

use super::{Io, Stop};
use crate::car::{Bus, Questions, Report, ask};
use crate::cli::car::ReadArgs;
use crate::screens::failure::Failure;
use std::io::Write as _;

/// The report of the car on that interface.
pub(super) fn asked(interface: &str, args: &ReadArgs, io: &mut Io) -> Result<Report, Stop> {
    let mut bus = open(interface)?;
    consent(interface, args.yes, io)?;
    let questions = Questions { vehicle_number: false, long_addresses: args.long_addresses };
    let found = ask(&mut *bus, questions).map_err(|e| Failure::new(format!("{interface}: {e}")))?;
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

/// Nothing is sent before a person has said so, on the line or here.
fn consent(interface: &str, yes: bool, io: &mut Io) -> Result<(), Stop> {
    let what = format!(
        "About 70 requests for reading will be sent on {interface}, some 15 a second. Nothing is cleared or changed. \
         Do this with the car standing."
    );
    if yes {
        return Ok(());
    }
    if !io.interactive {
        let failure = Failure::new("nothing was sent: sending on a car's bus needs a yes");
        return Err(failure.hint(what).hint("add --yes").into());
    }
    writeln!(io.err, "{what}\nSend them? yes or no:")?;
    io.err.flush()?;
    let mut answer = String::new();
    io.input.read_line(&mut answer)?;
    if answer.trim().eq_ignore_ascii_case("yes") { Ok(()) } else { Err(Failure::new("nothing was sent").into()) }
}

fn open(interface: &str) -> Result<Box<dyn Bus>, Failure> {
    let failure = Failure::new(format!("{interface}: this build has no support for CAN interfaces"));
    Err(failure.hint("build it with --features can on Linux, or log the traffic and read the file"))
}
