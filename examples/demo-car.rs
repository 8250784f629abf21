//! Makes the invented captures of `data-demo/car`: cargo run --example demo-car -- data-demo/car

use faultodds::car::simulated::{SimulatedCar, SimulatedUnit};
use faultodds::car::{CodeText, Questions, Unit, ask};
use std::fmt::Write as _;
use std::path::Path;
use std::{env, fs, io};

const ENGINE: Unit = Unit::Short(0xE8);
const GEARBOX: Unit = Unit::Short(0xE9);

fn codes(list: &[&str]) -> Vec<CodeText> {
    list.iter().filter_map(|c| c.parse().ok()).collect()
}

fn text(text: &str, size: usize) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    bytes.resize(size, 0);
    bytes
}

/// What every engine of this demo answers: a warm idle on a mild day, half a tank.
fn idling(unit: &mut SimulatedUnit) -> &mut SimulatedUnit {
    for (number, bytes) in [
        (0x04, &[0x38][..]),
        (0x05, &[0x82]),
        (0x06, &[0x81]),
        (0x07, &[0x83]),
        (0x0B, &[0x22]),
        (0x0C, &[0x0B, 0x54]),
        (0x0D, &[0x00]),
        (0x0F, &[0x44]),
        (0x1F, &[0x02, 0x10]),
        (0x2E, &[0x00]),
        (0x2F, &[0x80]),
        (0x32, &[0xFF, 0xD8]),
        (0x33, &[0x65]),
        (0x42, &[0x36, 0xB0]),
        (0x46, &[0x3C]),
    ] {
        unit.live(number, bytes);
    }
    unit.answer(&[0x09, 0x04], &[&[1][..], &text("EXAMPLE-EC-0420", 16)].concat());
    unit
}

/// Readiness: what is open since clearing and this trip.
fn ready(unit: &mut SimulatedUnit, lamp_and_codes: u8, since: u8, trip: u8) -> &mut SimulatedUnit {
    unit.live(0x01, &[lamp_and_codes, 0x07, 0xE5, since]).live(0x41, &[0, 0x07, 0xE5, trip])
}

/// Frozen with a code: fuel level in 255ths, ambient and intake in °C.
fn frozen<'a>(unit: &'a mut SimulatedUnit, code: &str, level: u8, ambient: u8) -> &'a mut SimulatedUnit {
    let bytes = codes(&[code]).first().map_or([0, 0], |c| c.0.to_be_bytes());
    unit.frozen(0x02, &bytes).frozen(0x2F, &[level]).frozen(0x46, &[ambient + 40]).frozen(0x0F, &[ambient + 44]);
    unit.frozen(0x05, &[0x7B]).frozen(0x0C, &[0x1B, 0x58]).frozen(0x0D, &[0x3D]).frozen(0x1F, &[0x03, 0x84])
}

/// A small leak, found with the tank nearly full on a warm day; the gearbox is well.
fn small_leak() -> SimulatedCar {
    let mut car = SimulatedCar::default();
    let engine = idling(car.unit(ENGINE));
    engine.codes(3, &codes(&["P0442"])).codes(7, &codes(&["P0442"])).codes(0x0A, &codes(&["P0442"]));
    ready(engine, 0x81, 0x00, 0x05).live(0x30, &[0x2C]).live(0x31, &[0x05, 0x14]).live(0x21, &[0x00, 0x3F]);
    frozen(engine, "P0442", 0xDE, 33);
    engine.tests(0x3B, &[(0x81, 0xFD, [0x0276, 0x8000, 0x01F4])]);
    engine.tests(0x3C, &[(0x82, 0xFD, [0x0322, 0x8000, 0x00C8])]);
    engine.tests(0x3D, &[(0x83, 0xFD, [0xFB50, 0x8000, 0xFE0C])]);
    engine.tests(0x21, &[(0x90, 0x20, [0x0020, 0x0000, 0x00A0])]);
    let mut counts = vec![16];
    for n in [210u16, 480, 150, 200, 0, 0, 260, 270, 0, 0, 190, 205, 0, 0, 31, 44] {
        counts.extend(n.to_be_bytes());
    }
    engine.answer(&[0x09, 0x08], &counts);
    let gearbox = car.unit(GEARBOX);
    gearbox.codes(3, &[]).codes(7, &[]).live(0x01, &[0x00, 0x04, 0x00, 0x00]);
    gearbox.answer(&[0x09, 0x04], &[&[1][..], &text("EXAMPLE-TC-0007", 16)].concat());
    car
}

/// Cleared in the yard an hour ago: nothing stored, nothing run, and the permanent code still there.
fn just_cleared() -> SimulatedCar {
    let mut car = SimulatedCar::default();
    let engine = idling(car.unit(ENGINE));
    engine.codes(3, &[]).codes(7, &[]).codes(0x0A, &codes(&["P0455"]));
    ready(engine, 0x00, 0xE5, 0xE5).live(0x30, &[0x00]).live(0x31, &[0x00, 0x01]).live(0x4E, &[0x00, 0x09]);
    engine.tests(0x3B, &[(0x81, 0xFD, [0, 0, 0])]).tests(0x3C, &[(0x82, 0xFD, [0, 0, 0])]);
    car
}

/// After the repair and a few trips: the check has run and passed with room.
fn repaired() -> SimulatedCar {
    let mut car = SimulatedCar::default();
    let engine = idling(car.unit(ENGINE));
    engine.codes(3, &[]).codes(7, &[]).codes(0x0A, &[]);
    ready(engine, 0x00, 0x00, 0x00).live(0x30, &[0x05]).live(0x31, &[0x00, 0x8E]).live(0x4E, &[0x01, 0x2C]);
    engine.tests(0x3B, &[(0x81, 0xFD, [0x0032, 0x8000, 0x01F4])]);
    engine.tests(0x3C, &[(0x82, 0xFD, [0x0041, 0x8000, 0x00C8])]);
    engine.tests(0x3D, &[(0x83, 0xFD, [0xFB50, 0x8000, 0xFE0C])]);
    car
}

/// Four units under long addresses; one has a code of the network and one a maker's own.
fn several_units() -> SimulatedCar {
    let mut car = SimulatedCar::default();
    let engine = idling(car.unit(Unit::Long(0x10)));
    engine.codes(3, &codes(&["P0441", "P0171"])).codes(7, &[]).codes(0x0A, &[]);
    ready(engine, 0x82, 0x04, 0x24).live(0x30, &[0x12]).live(0x31, &[0x02, 0x80]);
    car.unit(Unit::Long(0x18)).codes(3, &[]).live(0x01, &[0x00, 0x04, 0x00, 0x00]);
    car.unit(Unit::Long(0x28)).codes(3, &codes(&["U0100"])).live(0x01, &[0x01, 0x04, 0x00, 0x00]);
    car.unit(Unit::Long(0x33)).codes(3, &codes(&["P1A2B"])).live(0x01, &[0x01, 0x04, 0x00, 0x00]);
    car
}

/// Busy units: one asks for patience before its codes, one refuses permanent codes.
fn patience() -> SimulatedCar {
    let mut car = SimulatedCar::default();
    let engine = idling(car.unit(ENGINE));
    engine.codes(3, &codes(&["P0401", "P0403"])).codes(7, &codes(&["P0402"]));
    ready(engine, 0x82, 0x80, 0x80)
        .live(0x30, &[0x09])
        .live(0x31, &[0x01, 0x10])
        .live(0x2C, &[0x40])
        .live(0x2D, &[0xE0]);
    engine.slow.push(3);
    engine.refuses.insert(0x0A, 0x11);
    let gearbox = car.unit(GEARBOX);
    gearbox.codes(3, &[]).live(0x01, &[0x00, 0x04, 0x00, 0x00]);
    gearbox.refuses.insert(0x06, 0x11);
    car
}

/// The log with frames lost, doubled and crossed, always the same ones.
fn damaged(log: &str) -> String {
    let mut lines: Vec<&str> = log.lines().collect();
    for at in (7..lines.len()).step_by(31).collect::<Vec<_>>() {
        lines.insert(at, lines[at]);
    }
    let long: Vec<usize> = (0..lines.len()).filter(|&i| lines[i].contains("7E8#2")).collect();
    if let [.., second, last] = long[..] {
        lines.swap(second, last);
    }
    // The list of permanent codes and the first test result do not arrive.
    lines.retain(|l| !l.contains("7E8#044A") && !l.contains("7E8#21") || l.contains("7E8#2145"));
    lines.join("\n") + "\n"
}

/// The printed form of the same frames.
fn printed(log: &str) -> String {
    let mut out = String::new();
    for frame in log.lines().filter_map(|l| l.split(' ').nth(2)) {
        let Some((id, data)) = frame.split_once('#') else { continue };
        let bytes: Vec<&str> = (0..data.len()).step_by(2).filter_map(|i| data.get(i..i + 2)).collect();
        let _ = writeln!(out, "  can0  {id}   [{}]  {}", bytes.len(), bytes.join(" "));
    }
    out
}

const BYTES: &str = "\
# Requests and answers as a person might note them, one message a line.
01 01
41 01 81 07 E5 00
03
43 01 04 56
07
47 00
0A
7F 0A 11
02 02 00
42 02 00 04 56
02 2F 00
42 2F 00 73
";

fn log(mut car: SimulatedCar, long_addresses: bool) -> io::Result<String> {
    let asked = ask(&mut car, Questions { vehicle_number: false, long_addresses });
    asked.map_err(|e| io::Error::other(e.to_string()))?;
    Ok(car.log())
}

fn main() -> io::Result<()> {
    let folder = env::args().nth(1).ok_or_else(|| io::Error::other("say into which folder, such as data-demo/car"))?;
    let folder = Path::new(&folder);
    fs::create_dir_all(folder)?;
    let leak = log(small_leak(), false)?;
    for (name, text) in [
        ("small-leak.log", leak.clone()),
        ("just-cleared.log", log(just_cleared(), false)?),
        ("repaired.log", log(repaired(), false)?),
        ("several-units.txt", printed(&log(several_units(), true)?)),
        ("patience.log", log(patience(), false)?),
        ("lossy.log", damaged(&leak)),
        ("noted.txt", BYTES.to_owned()),
    ] {
        fs::write(folder.join(name), text)?;
    }
    Ok(())
}
