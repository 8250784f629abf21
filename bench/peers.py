#!/usr/bin/env python3
"""Puts the same exact queries to pyAgrum 3.3.1 and pgmpy 1.1.2, times them and checks that the answers are equal.

Used by hand, no part of the test suite:

    python3 -m venv venv && venv/bin/pip install pyagrum==3.3.1 pgmpy==1.1.2 numpy
    venv/bin/python bench/peers.py --program target/release/faultodds P0455 "P0480 --found fan-feed/fuse-blown"

which asks the program for the network and its answer to each question, or with files of one's own

    venv/bin/python bench/peers.py network.json one.json two.json

or, without the program, on made-up networks of 110 suspects, 250 findings, 40 parents a finding:

    venv/bin/python bench/peers.py --random 110,250,40 --positives 1,2,3,4,6,8,10,12

or, for grades, causes and things found, on so many small made-up networks that `examples/posterior.rs` answers too:

    cargo build --release --example posterior
    venv/bin/python bench/peers.py --small 200 --example target/release/examples/posterior

An evidence file is the answer of `rank --json`, or any JSON with "evidence": [{"finding", "level"} or
{"finding", "likelihoods"}]. If it has "suspects" with probabilities these are compared too ("answer").

What the peers are given is made as easy for them as an expert would: only observed findings; every finding
at its lowest level folded into the priors beforehand (exact; `--keep-negatives` gives them as nodes), for suspects
that causes tie together into a likelihood of their states; only suspects that touch a finding that is left, and whom
causes tie to these. Two ways to write a finding down (`peer_models.py`):
  direct  one node with all its suspects as parents: pyAgrum `addNoisyORNet` for two levels and suspects without
          grades, otherwise and in pgmpy a full table of as many cells as the states of the parents make
  chain   a chain of nodes, each the maximum of the one before and of what one more suspect sets: small tables
          only, all chains in the same order of suspects: kind to a general library
A query is: evidence in, probabilities of all these suspects out; building the model is timed apart. Times of the
peers are processor seconds of one thread, so that what else the machine does adds nothing to them. pgmpy
answers one suspect a query, all of them are counted. Each run is a process of its own with a limit of time
(`--seconds`, 60) and memory (`--gigabytes`, 8); beyond them the table says "did not finish" and why. The
column "apart" is the largest difference from the exact value (tests/outside/make/check_rank.py, 60 digits).
It also prints that script's own seconds, which is a check and not a fast program.
"""
import argparse
import json
import os
import random
import resource
import subprocess
import sys
import time
from pathlib import Path

from peer_models import LIBRARIES, check_rank, reduced

TOLERANCE = 1e-9


def child(library, form, gigabytes, seconds, repeat):
    """Runs in a process of its own: a question a line on stdin, a result a line on stdout."""
    import logging
    import warnings
    warnings.filterwarnings("ignore")
    logging.disable(logging.WARNING)
    if library == "pgmpy":
        import pgmpy.inference  # noqa: F401  (imported before the limit: it reserves much address space)
    else:
        import pyagrum  # noqa: F401
    in_use = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize() if Path("/proc/self/statm").exists() else 0
    limit = in_use + int(gigabytes * 2**30)
    resource.setrlimit(resource.RLIMIT_AS, (limit, limit))
    build, query = LIBRARIES[library]
    for line in sys.stdin:
        suspects, findings = json.loads(line)
        try:
            start = time.process_time()
            model = build(suspects, findings, form)
            built = time.process_time() - start
            times = []
            while not times or (repeat and len(times) < 5 and sum(times) < seconds / 20):
                start = time.process_time()
                posterior = query(model, suspects, findings)
                times.append(time.process_time() - start)
            answer = {"build": built, "query": sorted(times)[len(times) // 2], "states": posterior}
        except MemoryError as e:
            answer = {"failed": f"memory: {e}" if str(e) else "memory"}
        except Exception as e:  # the libraries raise many kinds; all mean that there is no answer
            answer = {"failed": f"{type(e).__name__}: {e}".split("\n")[0][:90]}
        print(json.dumps(answer), flush=True)


def run(way, questions, args, repeat=True):
    """The answers of a library to [(suspects, findings)], one each, {"states": {suspect: [P of each grade]}} or {"failed"}."""
    library, form = way.split(":")
    command = [sys.executable, __file__, "--child", library, form, "--gigabytes", str(args.gigabytes), "--seconds", str(args.seconds)]
    command += ["--repeat"] if repeat else []
    lines = "".join(json.dumps(q) + "\n" for q in questions)
    env = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    try:
        done = subprocess.run(command, input=lines, capture_output=True, text=True, timeout=args.seconds, env=env)
        out, error = done.stdout, done.stderr.strip().splitlines()
        why = f"memory or crash, exit {done.returncode} {error[-1][:60] if error else ''}".strip()
    except subprocess.TimeoutExpired as e:
        out, why = (e.stdout or b"").decode(), f"over {args.seconds:g} s"
    answers = [json.loads(line) for line in out.splitlines() if line.endswith("}")]
    return answers + [{"failed": why}] * (len(questions) - len(answers))


def random_question(rng, suspects, findings, parents, positives):
    """A made-up network, with `positives` findings abnormal that share suspects, and all others normal."""
    ids = [f"part-{i}/fault" for i in range(suspects)]
    net = {"suspects": [{"id": i, "prior": float("%.3g" % 10 ** rng.uniform(-4, -1.5))} for i in ids], "findings": []}
    for j in range(findings):
        w = {i: rng.randint(2, 95) / 100 for i in rng.sample(ids, min(parents, suspects))}
        leak = rng.choice([0.001, 0.01, 0.05])
        net["findings"].append({"id": f"test-{j}:r", "kind": "reading", "levels": ["normal", "abnormal"], "leak": [1 - leak, leak],
                                "links": {i: [(100 - round(100 * x)) / 100, x] for i, x in w.items()}})
    # One in ten of the other findings was looked at and is normal.
    evidence = [{"finding": f["id"], "level": "abnormal" if j < positives else "normal"}
                for j, f in enumerate(net["findings"]) if j < positives or j % 10 == 0]
    return net, evidence


def distribution(rng, levels, zeros):
    raw = [0.0 if zeros and rng.random() < 0.2 else rng.random() for _ in range(levels)]
    raw[rng.randrange(levels)] += 0.1
    return [x / sum(raw) for x in raw]


def small_question(rng):
    """A small network with grades, trees of causes and causes in common, things found, and evidence on most findings."""
    suspects = []
    for i in range(rng.randint(3, 8)):
        s = {"id": f"part-{i}/fault", "prior": 0.01 + 0.4 * rng.random()}
        if rng.random() < 0.5:
            s["grades"] = [{"id": f"grade {g}", "share": x} for g, x in enumerate(distribution(rng, rng.randint(2, 4), False))]
        suspects.append(s)
    order = rng.sample(suspects, len(suspects))
    for k, victim in enumerate(order):
        for cause in order[:k]:
            if rng.random() < 1.2 / len(suspects):
                cause.setdefault("brings", {})[victim["id"]] = 0.05 + 0.9 * rng.random()
    findings, evidence = [], []
    for j in range(rng.randint(2, 6)):
        levels, links = rng.randint(2, 4), {}
        for s in suspects:
            if rng.random() < 0.6:
                rows = {g["id"]: distribution(rng, levels, True) for g in s.get("grades", [])}
                links[s["id"]] = rows if rows and rng.random() < 0.75 else distribution(rng, levels, True)
        names = [f"level {k}" for k in range(levels)]
        findings.append({"id": f"test-{j}:r", "levels": names, "leak": distribution(rng, levels, False), "links": links})
        if rng.random() < 0.6:
            evidence.append({"finding": f"test-{j}:r", "level": rng.choice(names)})
        elif rng.random() < 0.6:
            evidence.append({"finding": f"test-{j}:r", "likelihoods": [0.1 + rng.random() for _ in names]})
    for s in rng.sample(suspects, rng.randint(0, 2)):
        at = f"seen:{s['id']}"
        findings.append({"id": at, "levels": ["normal", "abnormal"], "leak": [0.9997, 0.0003], "links": {s["id"]: [0.05, 0.95]}})
        evidence.append({"finding": at, "level": rng.choice(["normal", "abnormal"])})
    return {"suspects": suspects, "findings": findings}, evidence


def presence(states):
    return {i: sum(own) for i, own in states.items()}


def farthest(a, b):
    """The largest difference over what the first has; without end where the second lacks it."""
    off = [abs(a[i] - b[i]) if i in b else float("inf") for i in a]
    return max([x if x == x else float("inf") for x in off], default=0.0)


def small(args, ways):
    """Small made-up networks to the program and to the libraries. Returns whether any two differ."""
    rng = random.Random("grades and causes")
    questions = [small_question(rng) for _ in range(args.small)]
    lines = "".join(json.dumps({"network": n, "evidence": e}) + "\n" for n, e in questions)
    done = subprocess.run([args.example], input=lines, capture_output=True, text=True, check=True)
    said = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(said) == len(questions), "the program did not answer all"
    program = [{s["id"]: s["probability"] for s in a["suspects"]} for a in said]
    exact = [check_rank.exact(n, e)[0] for n, e in questions]
    graded = sum(any("grades" in s for s in n["suspects"]) for n, _ in questions)
    tied = sum(any("brings" in s for s in n["suspects"]) for n, _ in questions)
    seen = sum(any(x["finding"].startswith("seen:") for x in e) for _, e in questions)
    print(f"{len(questions)} networks, {graded} with grades, {tied} with causes, {seen} with something found or looked at and sound")
    print(f"{'by':<20} {'answered':>8} {'exact apart':>12} {'program apart':>14} {'grades apart':>13}")
    worst = [max(map(farthest, exact, program))]
    print(f"{'program':<20} {len(said):>8} {worst[0]:>12.1e} {'-':>14} {'-':>13}")
    for way in ways:
        put = [reduced(n, e, args.keep_negatives) for n, e in questions]
        answers = run(way, [(s, f) for s, f, _ in put], args, repeat=False)
        apart = [0.0, 0.0, 0.0]
        failed = {}
        for k, a in enumerate(answers):
            if "failed" in a:
                failed[a["failed"]] = failed.get(a["failed"], 0) + 1
                continue
            own = presence(a["states"])
            shares = {(s["id"], g): share * s["probability"] for s in said[k]["suspects"] for g, share in s["grades"].items()}
            names = {i: s["grades"] for i, s in put[k][0].items()}
            states = {(i, g): p for i, row in a["states"].items() for g, p in zip(names[i], row)}
            apart = [max(x, y) for x, y in zip(apart, [farthest(own, exact[k]), farthest(own, program[k]), farthest({s: p for s, p in states.items() if s[1]}, shares)])]
        print(f"{way.replace(':', ' '):<20} {len(answers) - sum(failed.values()):>8} {apart[0]:>12.1e} {apart[1]:>14.1e} {apart[2]:>13.1e}")
        for why, times in sorted(failed.items()):
            print(f"    {times} not: {why}")
        worst += apart
    return max(worst) > TOLERANCE


def asked(program, question):
    """(network, evidence, {suspect: probability}) of a question as one would type it, for the very vehicle of the answer."""
    def told(*words):
        return json.loads(subprocess.run([program, *words], capture_output=True, text=True, check=True).stdout)

    words = question.split()
    answer = told("rank", "--json", *words)
    vehicle = [w for a, b in zip(words, words[1:]) if a in ("--vehicle", "--already") for w in (a, b)]
    vehicle += [w for option in answer["settled"] for w in ("--vehicle", option)]
    said = {s["id"]: s["probability"] for s in answer["suspects"]}
    return told("kb", "export", "--json", *vehicle), answer["evidence"], said


def main():
    parser = argparse.ArgumentParser(description="time exact queries in pyAgrum and pgmpy")
    parser.add_argument("network", nargs="?")
    parser.add_argument("evidence", nargs="*")
    parser.add_argument("--program", help="the program to ask the questions that stand as further arguments")
    parser.add_argument("--small", type=int, metavar="N", help="so many small made-up networks with grades and causes")
    parser.add_argument("--example", default="target/release/examples/posterior")
    parser.add_argument("--random", metavar="SUSPECTS,FINDINGS,PARENTS")
    parser.add_argument("--positives", default="1,2,4,8,12")
    parser.add_argument("--keep-negatives", action="store_true")
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--gigabytes", type=float, default=8)
    parser.add_argument("--only", help="comma-separated, of pyagrum:direct,pyagrum:chain,pgmpy:direct,pgmpy:chain")
    parser.add_argument("--child", nargs=2, help=argparse.SUPPRESS)
    parser.add_argument("--repeat", action="store_true", help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.child:
        return child(*args.child, args.gigabytes, args.seconds, args.repeat)
    ways = args.only.split(",") if args.only else ["pyagrum:direct", "pyagrum:chain", "pgmpy:direct", "pgmpy:chain"]
    if args.small:
        unequal = small(args, ways)
    else:
        unequal = large(parser, args, ways)
    if unequal:
        print(f"NOT equal within {TOLERANCE}")
    return 1 if unequal else 0


def large(parser, args, ways):
    """Questions one by one, with times. Returns whether any answer is off."""
    questions = []
    if args.random:
        size = [int(x) for x in args.random.split(",")]
        for m in map(int, args.positives.split(",")):
            questions.append((f"{m} positive", *random_question(random.Random(f"peers {m}"), *size, m), None))
    elif args.program and args.network:
        questions = [(q, *asked(args.program, q)) for q in [args.network, *args.evidence]]
    elif args.network and args.evidence:
        network = json.loads(Path(args.network).read_text())
        for path in args.evidence:
            answer = json.loads(Path(path).read_text())
            said = {s["id"]: s["probability"] for s in answer.get("suspects", []) if "probability" in s}
            questions.append((Path(path).stem, network, answer["evidence"], said))
    else:
        parser.error("give a network and evidence files, --program and questions, --small or --random")
    print(f"{'question':<16} {'suspects':>8} {'findings':>8}  {'by':<20} {'build s':>9} {'query s':>9} {'apart':>8}")
    unequal = False
    for name, network, evidence, said in questions:
        suspects, findings, alone = reduced(network, evidence, args.keep_negatives)

        def line(by, build, query, posterior, name=name, suspects=suspects, findings=findings):
            apart = f"{farthest(posterior, exact):.1e}" if exact and posterior is not None else "-"
            print(f"{name:<16} {len(suspects):>8} {len(findings):>8}  {by:<20} {build:>9} {query:>9} {apart:>8}", flush=True)
            return apart != "-" and float(apart) > TOLERANCE

        exact = None
        try:
            start = time.perf_counter()
            exact, _ = check_rank.exact(network, evidence)
            unequal |= line("exact, 60 digits", "-", f"{time.perf_counter() - start:.4f}", alone)  # apart: the folded ones
        except check_rank.Refused as e:
            print(f"{name:<16} exact value not available: {e}")
        if said:
            unequal |= line("answer", "-", "-", said)
        for way in ways:
            by = way.replace(":", " ")
            result = run(way, [(suspects, findings)], args)[0]
            if "failed" in result:
                print(f"{name:<16} {len(suspects):>8} {len(findings):>8}  {by:<20} did not finish ({result['failed']})", flush=True)
            else:
                unequal |= line(by, f"{result['build']:.4f}", f"{result['query']:.4f}", presence(result["states"]))
    return unequal


if __name__ == "__main__":
    sys.exit(main())
