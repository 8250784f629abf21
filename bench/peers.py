#!/usr/bin/env python3
"""Times the same exact queries in pyAgrum 3.3.1 and pgmpy 1.1.2 and checks that the answers are equal.

Used by hand, no part of the test suite:

    python3 -m venv venv && venv/bin/pip install pyagrum==3.3.1 pgmpy==1.1.2 numpy
    faultodds kb export --json > network.json
    faultodds rank P0455 --json > one.json;  faultodds rank P0455 P0441 --json > two.json
    venv/bin/python bench/peers.py network.json one.json two.json

or, without the program, on made-up networks of 110 suspects, 250 findings, 40 parents a finding:

    venv/bin/python bench/peers.py --random 110,250,40 --positives 1,2,3,4,6,8,10,12

An evidence file is the answer of `rank --json`, or any JSON with "evidence": [{"finding", "level"} or
{"finding", "likelihoods"}]. If it has "suspects" with probabilities these are compared too ("answer").

What the peers are given is made as easy for them as an expert would: only observed findings; every finding
at its lowest level folded into the priors beforehand (exact; `--keep-negatives` gives them as nodes); only
suspects that touch a finding that is left. Two ways to write a finding down:
  direct  one node with all its suspects as parents: pyAgrum `addNoisyORNet` for two levels, otherwise and in
          pgmpy a full table of 2^parents x levels cells
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

HERE = Path(__file__).resolve().parent
for folder in (HERE.parent / "tests/outside/make", HERE.parent / "make"):
    if (folder / "check_rank.py").exists():
        sys.path.insert(0, str(folder))
import check_rank  # noqa: E402


def reduced(network, evidence, keep_negatives):
    """(suspects {id: prior}, findings [(finding, likelihoods)], folded posteriors of suspects left out)."""
    prior = {s["id"]: s["prior"] for s in network["suspects"]}
    left = []
    for finding, like in check_rank.read_evidence(network, evidence):
        if not keep_negatives and like[0] > 0 and not any(like[1:]):
            for i, dist in finding["links"].items():
                present = prior[i] * dist[0]
                prior[i] = present / (1 - prior[i] + present)
        else:
            left.append((finding, like))
    # All chains in the same order of suspects: otherwise they tangle and the peers fail much earlier.
    order = {i: k for k, i in enumerate(prior)}
    left = [({**f, "links": dict(sorted(f["links"].items(), key=lambda x: order[x[0]]))}, like) for f, like in left]
    touched = {i for f, _ in left for i in f["links"]}
    return {i: p for i, p in prior.items() if i in touched}, left, {i: p for i, p in prior.items() if i not in touched}


def maximum(dist):
    """Table [before][suspect absent or present][after] of the highest of `before` and what the suspect sets."""
    n = len(dist)
    table = [[[0.0] * n, [0.0] * n] for _ in range(n)]
    for before in range(n):
        table[before][0][before] = 1.0
        for level, p in enumerate(dist):
            table[before][1][max(before, level)] += p
    return table


def full_table(finding):
    """Rows over the parents' states (last parent fastest), each a distribution over levels."""
    rows = [finding["leak"]]
    for dist in finding["links"].values():
        step = maximum(dist)
        n = len(dist)
        rows = [r for row in rows for r in (row, [sum(row[b] * step[b][1][a] for b in range(n)) for a in range(n)])]
    return rows


def refuse_wide(finding, library):
    if len(finding["links"]) > 22:
        raise MemoryError(f"{library} would need a table of 2^{len(finding['links'])} x {len(finding['levels'])} cells")


def pyagrum_model(suspects, findings, form):
    import pyagrum as gum
    bn = gum.BayesNet()
    for i, p in suspects.items():
        bn.add(gum.LabelizedVariable(i, i, 2))
        bn.cpt(i).fillWith([1 - p, p])
    for f, _ in findings:
        n = len(f["levels"])
        if form == "direct" and n == 2:
            bn.addNoisyORNet(gum.LabelizedVariable(f["id"], f["id"], 2), f["leak"][1])
            for i, dist in f["links"].items():
                bn.addWeightedArc(i, f["id"], dist[1])
        elif form == "direct":
            refuse_wide(f, "pyagrum")
            bn.add(gum.LabelizedVariable(f["id"], f["id"], n))
            for i in reversed(list(f["links"])):
                bn.addArc(i, f["id"])
            bn.cpt(f["id"]).fillWith([p for row in full_table(f) for p in row])
        else:
            names = [f"{f['id']}~{k}" for k in range(len(f["links"]))] + [f["id"]]
            bn.add(gum.LabelizedVariable(names[0], names[0], n))
            bn.cpt(names[0]).fillWith(f["leak"])
            for before, after, (i, dist) in zip(names, names[1:], f["links"].items()):
                bn.add(gum.LabelizedVariable(after, after, n))
                bn.addArc(i, after)
                bn.addArc(before, after)
                bn.cpt(after).fillWith([p for states in maximum(dist) for row in states for p in row])
    return bn


def pyagrum_query(bn, suspects, findings):
    import pyagrum as gum
    ie = gum.LazyPropagation(bn)
    ie.setNumberOfThreads(1)
    ie.setTargets(set(suspects))
    for f, like in findings:
        ie.addEvidence(f["id"], like)
    ie.makeInference()
    return {i: float(ie.posterior(i)[1]) for i in suspects}


def pgmpy_model(suspects, findings, form):
    import numpy as np
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.models import DiscreteBayesianNetwork
    model = DiscreteBayesianNetwork()

    def node(name, n, columns, parents, cards):
        model.add_node(name)
        model.add_edges_from([(p, name) for p in parents])
        model.add_cpds(TabularCPD(name, n, np.array(columns).reshape(-1, n).T, evidence=parents, evidence_card=cards))

    for i, p in suspects.items():
        node(i, 2, [1 - p, p], [], [])
    for f, _ in findings:
        n = len(f["levels"])
        if form == "direct":
            refuse_wide(f, "pgmpy")
            node(f["id"], n, full_table(f), list(f["links"]), [2] * len(f["links"]))
        else:
            names = [f"{f['id']}~{k}" for k in range(len(f["links"]))] + [f["id"]]
            node(names[0], n, f["leak"], [], [])
            for before, after, (i, dist) in zip(names, names[1:], f["links"].items()):
                node(after, n, maximum(dist), [before, i], [n, 2])
    return model


def pgmpy_query(model, suspects, findings):
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    hard = {f["id"]: like.index(1.0) for f, like in findings if sorted(like)[-2:] == [0.0, 1.0]}
    soft = [TabularCPD(f["id"], len(like), [[x / max(like)] for x in like]) for f, like in findings if f["id"] not in hard]
    engine = VariableElimination(model)
    out = {}
    for i in suspects:
        if soft:
            engine = VariableElimination(model)  # virtual evidence changes the engine
        out[i] = float(engine.query([i], evidence=hard or None, virtual_evidence=list(soft) or None, show_progress=False).values[1])
    return out


def child(library, form, gigabytes, seconds):
    """Runs in a process of its own: a job on stdin, a result on stdout."""
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
    suspects, findings = json.load(sys.stdin)
    build, query = {"pyagrum": (pyagrum_model, pyagrum_query), "pgmpy": (pgmpy_model, pgmpy_query)}[library]
    try:
        start = time.process_time()
        model = build(suspects, findings, form)
        built = time.process_time() - start
        times = []
        while not times or (len(times) < 5 and sum(times) < seconds / 20):
            start = time.process_time()
            posterior = query(model, suspects, findings)
            times.append(time.process_time() - start)
        json.dump({"build": built, "query": sorted(times)[len(times) // 2], "posterior": posterior}, sys.stdout)
    except MemoryError as e:
        json.dump({"failed": f"memory: {e}" if str(e) else "memory"}, sys.stdout)
    except Exception as e:  # the libraries raise many kinds; all mean that there is no answer
        json.dump({"failed": f"{type(e).__name__}: {e}".split("\n")[0][:90]}, sys.stdout)


def run(library, form, suspects, findings, args):
    command = [sys.executable, __file__, "--child", library, form, "--gigabytes", str(args.gigabytes), "--seconds", str(args.seconds)]
    try:
        done = subprocess.run(command, input=json.dumps([suspects, findings]), capture_output=True, text=True,
                              timeout=args.seconds, env={**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"})
    except subprocess.TimeoutExpired:
        return {"failed": f"over {args.seconds:g} s"}
    try:
        return json.loads(done.stdout)
    except ValueError:
        lines = done.stderr.strip().splitlines()
        return {"failed": f"memory or crash, exit {done.returncode} {lines[-1][:60] if lines else ''}".strip()}


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


def main():
    parser = argparse.ArgumentParser(description="time exact queries in pyAgrum and pgmpy")
    parser.add_argument("network", nargs="?")
    parser.add_argument("evidence", nargs="*")
    parser.add_argument("--random", metavar="SUSPECTS,FINDINGS,PARENTS")
    parser.add_argument("--positives", default="1,2,4,8,12")
    parser.add_argument("--keep-negatives", action="store_true")
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--gigabytes", type=float, default=8)
    parser.add_argument("--only", help="comma-separated, of pyagrum:direct,pyagrum:chain,pgmpy:direct,pgmpy:chain")
    parser.add_argument("--child", nargs=2, help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.child:
        return child(*args.child, args.gigabytes, args.seconds)
    questions = []
    if args.random:
        size = [int(x) for x in args.random.split(",")]
        for m in map(int, args.positives.split(",")):
            questions.append((f"{m} positive", *random_question(random.Random(f"peers {m}"), *size, m), None))
    elif args.network and args.evidence:
        network = json.loads(Path(args.network).read_text())
        for path in args.evidence:
            answer = json.loads(Path(path).read_text())
            said = {s["id"]: s["probability"] for s in answer.get("suspects", []) if "probability" in s}
            questions.append((Path(path).stem, network, answer["evidence"], said))
    else:
        parser.error("give a network and evidence files, or --random")
    ways = args.only.split(",") if args.only else ["pyagrum:direct", "pyagrum:chain", "pgmpy:direct", "pgmpy:chain"]
    print(f"{'question':<16} {'suspects':>8} {'findings':>8}  {'by':<20} {'build s':>9} {'query s':>9} {'apart':>8}")
    unequal = False
    for name, network, evidence, said in questions:
        suspects, findings, alone = reduced(network, evidence, args.keep_negatives)

        def line(by, build, query, posterior, name=name, suspects=suspects, findings=findings):
            apart = f"{max([abs(posterior[i] - exact[i]) for i in posterior], default=0.0):.1e}" if exact and posterior is not None else "-"
            print(f"{name:<16} {len(suspects):>8} {len(findings):>8}  {by:<20} {build:>9} {query:>9} {apart:>8}", flush=True)
            return apart != "-" and float(apart) > 1e-9

        exact = None
        try:
            start = time.perf_counter()
            exact, _ = check_rank.exact(network, evidence)
            line("exact, 60 digits", "-", f"{time.perf_counter() - start:.4f}", alone)  # apart: the folded ones
        except check_rank.Refused as e:
            print(f"{name:<16} exact value not available: {e}")
        if said:
            unequal |= line("answer", "-", "-", said)
        for way in ways:
            library, form = way.split(":")
            result = run(library, form, suspects, findings, args)
            if "failed" in result:
                print(f"{name:<16} {len(suspects):>8} {len(findings):>8}  {library + ' ' + form:<20} did not finish ({result['failed']})", flush=True)
            else:
                unequal |= line(f"{library} {form}", f"{result['build']:.4f}", f"{result['query']:.4f}", result["posterior"])
    if unequal:
        print("NOT equal within 1e-9")
    return 1 if unequal else 0


if __name__ == "__main__":
    sys.exit(main())
