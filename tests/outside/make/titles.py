#!/usr/bin/env python3
"""Makes titles-obd.json: hashed word sets of the titles of P0400 to P0499, to compare our own titles with.

Source: the table of trouble codes of PyPI `obd` 0.7.3 (obd.codes.DTC), a reference library under GPL-2.0.
None of its text is kept, here or in the JSON, only hashes of normalised words; the file is used by tests and
is no part of the program.

Normalising a title, step by step (a test must do exactly the same to our titles; ASCII is enough):
  1. Replace abbreviations standing alone as words in CAPITALS, before lowering the case:
         EGR -> exhaust gas recirculation;  AIR -> secondary air injection;  EVAP -> evaporative emission
     ("Air" in mixed case is the ordinary word and stays. A word here is a run of A-Z, a-z, 0-9.)
  2. Lower the case.
  3. Every character other than a-z and 0-9 becomes a space ("Range/Performance" is two words, quotes and
     brackets go, their content stays).
  4. Split at spaces. Drop the words "bank" and "sensor" when the next word consists of digits only, together
     with that number ("(Bank 1)", "Bank 1 Sensor 2"): the table does not have bank numbers.
  5. The word set: duplicates removed, sorted by bytes.
`set` is the first 16 hexadecimal digits of the SHA-256 of the sorted words joined by single spaces; `words`
are the same of every word by itself, sorted. A title
  - equals when its set hash is `set`;
  - contains all words when the hashes of its words include all of `words`;
  - is neither otherwise.

How:
    venv/bin/pip install obd==0.7.3 pyyaml
    venv/bin/python tests/outside/make/titles.py tests/outside            # makes the file
    venv/bin/python tests/outside/make/titles.py --compare kb             # prints how our titles compare (words
                                                                          # of the table only on the terminal)
"""
import hashlib
import json
import re
import sys
from importlib.metadata import version
from pathlib import Path

SPELLED_OUT = {"EGR": "exhaust gas recirculation", "AIR": "secondary air injection", "EVAP": "evaporative emission"}


def word_set(title):
    title = re.sub(r"[A-Za-z0-9]+", lambda m: SPELLED_OUT.get(m.group(), m.group()), title)
    words = re.sub(r"[^a-z0-9]", " ", title.lower()).split()
    kept, k = [], 0
    while k < len(words):
        if words[k] in ("bank", "sensor") and k + 1 < len(words) and words[k + 1].isdigit():
            k += 2
        else:
            kept.append(words[k])
            k += 1
    return sorted(set(kept))


def hashed(text):
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def table():
    from obd.codes import DTC
    return {c: word_set(t) for c, t in sorted(DTC.items()) if re.fullmatch(r"P04\d\d", c)}


def make(out):
    codes = [{"code": c, "set": hashed(" ".join(w)), "words": sorted(map(hashed, w))} for c, w in table().items()]
    examples = ['EGR Sensor "A" Circuit Range/Performance (Bank 1)', "Catalyst Temperature High Bank 2 Sensor 1",
                "Intake Air, AIR pump; EVAP leak"]
    header = {
        "made_with": {"library": "obd", "version": version("obd"), "how":
                      "obd.codes.DTC, P0400 to P0499; only hashes of normalised words, see the script"},
        "licence_note": "the table is GPL-2.0; no text of it is kept; test use only",
        "script": "tests/outside/make/titles.py",
        # Own sentences, to test the normalising itself.
        "normalising_examples": [{"title": t, "words": word_set(t), "set": hashed(" ".join(word_set(t)))} for t in examples],
    }
    text = json.dumps(header, indent=1)[:-2] + ',\n "codes": [\n' + ",\n".join(json.dumps(c) for c in codes) + "\n]}\n"
    json.loads(text)
    (Path(out) / "titles-obd.json").write_text(text)
    print(f"titles-obd.json: {len(codes)} codes, {len({c['set'] for c in codes})} different word sets")


def compare(kb):
    import yaml
    theirs, ours = table(), {}
    for path in sorted(Path(kb).glob("*/codes/*.yaml"), key=lambda p: p.stem):
        ours[path.stem] = yaml.safe_load(path.read_text())["title"]
    counts = {"equal": 0, "contains all": 0, "neither": 0, "not in the table": 0}
    for code, title in ours.items():
        if code not in theirs:
            counts["not in the table"] += 1
            continue
        a, b = set(word_set(title)), set(theirs[code])
        verdict = "equal" if a == b else "contains all" if a > b else "neither"
        counts[verdict] += 1
        if verdict != "equal":
            print(f"{code} {verdict}: {title} | missing {sorted(b - a)} | extra {sorted(a - b)}")
    print(counts)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--compare"]:
        compare(sys.argv[2])
    else:
        make(sys.argv[1] if len(sys.argv) > 1 else ".")
