#!/usr/bin/env python3
"""Makes car-values.json: code bytes, scalings and readiness bits as a decoding library has them, to compare our own with.

Source: PyPI `obd` 0.7.3 (GPL-2.0, for tests only): obd.decoders.parse_dtc, the decoders of its table of values,
obd.UnitsAndScaling.UAS_IDS, obd.decoders.status. Only numbers and hashes are kept, none of its text.

How:
    venv/bin/pip install obd==0.7.3
    venv/bin/python tests/outside/make/car_values.py tests/outside

Contents:
  codes      for each first byte the first 16 digits of the SHA-256 of its 256 codes joined by blanks; the library has
             no code for two empty bytes, for which "P0000" stands
  values     [number of the value, bytes, result]: every byte for values of one byte, 40 pairs for those of two;
             temperatures, pressures and the like in the unit that the library uses for that value
  scalings   [id, bytes, result in ohm, Hz or the library's unit]
  readiness  [four bytes, lamp, codes, 1 for compression ignition, per check 0 absent, 1 ran, 2 not run] in the order
             of `CHECKS`; a check that the library does not name is left out with -1
"""
import hashlib
import json
import logging
import random
import sys
from importlib.metadata import version
from pathlib import Path

import obd
from obd import decoders
from obd.UnitsAndScaling import UAS_IDS

logging.disable(logging.CRITICAL)
NUMBERS = [0x04, 0x05, 0x06, 0x07, 0x08, 0x09, 0x0B, 0x0C, 0x0D, 0x0F, 0x10, 0x11, 0x1F, 0x21, 0x2C, 0x2D, 0x2E, 0x2F,
           0x30, 0x31, 0x32, 0x33, 0x3C, 0x3D, 0x3E, 0x3F, 0x42, 0x43, 0x44, 0x46, 0x4D, 0x4E, 0x52, 0x53, 0x54, 0x5C]
# Our word for a check: the library's name of it.
CHECKS = [("misfire", "MISFIRE_MONITORING"), ("fuel-system", "FUEL_SYSTEM_MONITORING"),
          ("components", "COMPONENT_MONITORING"), ("catalyst", "CATALYST_MONITORING"),
          ("heated-catalyst", "HEATED_CATALYST_MONITORING"), ("evap", "EVAPORATIVE_SYSTEM_MONITORING"),
          ("secondary-air", "SECONDARY_AIR_SYSTEM_MONITORING"), ("oxygen-sensor", "OXYGEN_SENSOR_MONITORING"),
          ("oxygen-heater", "OXYGEN_SENSOR_HEATER_MONITORING"), ("egr", "EGR_VVT_SYSTEM_MONITORING"),
          ("hydrocarbon-catalyst", "NMHC_CATALYST_MONITORING"), ("nox-catalyst", "NOX_SCR_AFTERTREATMENT_MONITORING"),
          ("boost-pressure", "BOOST_PRESSURE_MONITORING"), ("exhaust-sensor", "EXHAUST_GAS_SENSOR_MONITORING"),
          ("particulate-filter", "PM_FILTER_MONITORING")]


class Message:
    def __init__(self, data):
        self.data = bytearray(data)


def codes():
    out = []
    for high in range(256):
        row = []
        for low in range(256):
            found = decoders.parse_dtc((high, low))
            row.append(found[0].upper() if found else "P0000")
        out.append(hashlib.sha256(" ".join(row).encode()).hexdigest()[:16])
    return out


def number(quantity, unit=None):
    return float(quantity.to(unit).magnitude if unit else quantity.magnitude)


def values():
    dice, out = random.Random(19), []
    for n in NUMBERS:
        command = obd.commands[1][n]
        size = command.bytes - 2
        if size == 1:
            raws = [[b] for b in range(256)]
        else:
            raws = [[0, 0], [255, 255], [127, 255], [128, 0]] + [[dice.randrange(256), dice.randrange(256)] for _ in range(36)]
        for raw in raws:
            q = command.decode([Message([0x41, n] + raw)])
            out.append([n, bytes(raw).hex(), number(q)])
    return out


def scalings():
    dice, out = random.Random(20), []
    units = {0x13: "ohm", 0x15: "ohm", 0x21: "hertz", 0x23: "hertz"}
    for i, scale in sorted(UAS_IDS.items()):
        if i == 0x2E:
            continue
        for raw in [(0, 0), (255, 255), (127, 255), (128, 0)] + [(dice.randrange(256), dice.randrange(256)) for _ in range(8)]:
            out.append([i, bytes(raw).hex(), number(scale(bytearray(raw)), units.get(i))])
    return out


def readiness():
    dice, out = random.Random(21), []
    for _ in range(600):
        raw = [dice.randrange(256) for _ in range(4)]
        s = decoders.status([Message([0x41, 0x01] + raw)])
        states = []
        for _, name in CHECKS:
            test = getattr(s, name, None)
            if test is None or not test.name:
                states.append(-1 if test is None else 0)
            else:
                states.append(0 if not test.available else 1 if test.complete else 2)
        out.append([bytes(raw).hex(), int(s.MIL), s.DTC_count, int(s.ignition_type == "compression"), states])
    return out


def make(out):
    parts = {
        "made_with": {"library": "obd", "version": version("obd"), "script": "tests/outside/make/car_values.py"},
        "licence_note": "the library is GPL-2.0; numbers and hashes only; test use only",
        "checks": [c for c, _ in CHECKS],
    }
    text = json.dumps(parts, indent=1)[:-2]
    for name, rows in [("codes", codes()), ("values", values()), ("scalings", scalings()), ("readiness", readiness())]:
        lines = [json.dumps(r, separators=(",", ":")) for r in rows]
        packed = [" ,".join(lines[i:i + 16]).replace(" ,", ",") for i in range(0, len(lines), 16)]
        text += f',\n "{name}": [\n' + ",\n".join(packed) + "\n]"
        print(name, len(rows))
    text += "\n}\n"
    json.loads(text)
    (Path(out) / "car-values.json").write_text(text)


if __name__ == "__main__":
    make(sys.argv[1] if len(sys.argv) > 1 else ".")
