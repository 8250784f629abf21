//! How fast captures are read: 100,000 frames of a drive recorded live, and a million lines that are none.
//! cargo bench --bench car

#![expect(clippy::print_stdout, reason = "a bench prints")]

use faultodds::car::{Wanted, read};
use std::time::Instant;

/// Frames of a drive: one question after the other, other traffic between them.
fn drive(frames: usize) -> Vec<String> {
    let values = [0x04u8, 0x05, 0x0C, 0x0D, 0x2F, 0x32, 0x46];
    (0..frames)
        .map(|at| {
            let seconds = 1_700_000_000 + at / 500;
            let micro = at % 500 * 2000;
            let number = values[at / 4 % values.len()];
            let byte = at * 37 % 256;
            let frame = match at % 4 {
                0 => format!("7DF#0201{number:02X}0000000000"),
                1 if matches!(number, 0x0C | 0x32) => format!("7E8#0441{number:02X}{byte:02X}{byte:02X}000000"),
                1 => format!("7E8#0341{number:02X}{byte:02X}00000000"),
                _ => format!("3{:02X}#{byte:02X}0011223344{byte:02X}", at % 256),
            };
            format!("({seconds}.{micro:06}) can0 {frame}")
        })
        .collect()
}

fn timed(name: &str, lines: &[String]) {
    let mut best = f64::INFINITY;
    for _ in 0..5 {
        let start = Instant::now();
        let report = read(lines.iter().map(String::as_str), Wanted::default());
        best = best.min(start.elapsed().as_secs_f64());
        assert_eq!(report.lines.all, lines.len());
    }
    println!("{name}: {} lines in {:.1} ms, the best of five", lines.len(), best * 1e3);
}

fn main() {
    timed("a drive", &drive(100_000));
    let broken: Vec<String> = drive(1_000_000).iter().map(|l| l.replacen('#', " ", 1)).collect();
    timed("broken lines", &broken);
}
