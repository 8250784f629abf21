#!/usr/bin/env python3
"""Makes posterior-noisy-or.json and posterior-noisy-max.json, reference posteriors for the exact engine.

What: random networks in the shape of `faultodds kb export --json` with evidence, the posterior of every
suspect and ln P(evidence).
  posterior-noisy-or.json   300 networks, two-level findings only, 5 to 20 suspects, several positive and
                            negative findings, some unobserved; about a quarter also have measured readings
                            (a pair of likelihoods).
  posterior-noisy-max.json  150 networks with monitors of 3 to 5 levels beside two-level findings, hard
                            evidence at any level and, in about half of the cases, vectors of likelihoods.

Who says so: pyAgrum 3.3.1, LazyPropagation, gives the stored numbers. Two-level findings are built with
`addNoisyORNet` (`addNoisyOR` is the compound form, another model), suspects are named as targets; findings
with more levels are written out as full tables, P(Y <= s | X) = leak(<= s) * product over present i of
P_i(Y <= s). pgmpy 1.1.2, VariableElimination, full tables throughout, must agree within 1e-12 wherever the
network has at most PGMPY_SUSPECTS suspects ("checked_by_pgmpy": true); it gives ln P(evidence) by the chain
rule, one query a finding. A plain numpy enumeration of all 2^n sets of suspects must agree within 1e-12 in
every case. `evidenceProbability()` with likelihoods was checked to mean sum over levels of likelihood x
P(level, other evidence), likelihoods taken as given and not rescaled (they may exceed 1).

Distributions over levels start with the lowest level ("normal" or "none") and sum to 1; findings that are
not named in "evidence" are unobserved, NOT negative.

Networks and evidence are the same on every run; pyAgrum orders its sums differently from run to run, so the
last one or two digits of the reference values may change (seen: 3e-16 in a posterior, 4e-15 in a logarithm).

How (Python 3.11, under a minute on two cores):
    python3 -m venv venv && venv/bin/pip install pyagrum==3.3.1 pgmpy==1.1.2 numpy
    venv/bin/python tests/outside/make/posterior.py tests/outside
"""
import json
import logging
import math
import random
import sys
import warnings
from importlib.metadata import version
from multiprocessing import Pool
from pathlib import Path

import numpy as np

TOLERANCE = 1e-12
PGMPY_SUSPECTS = 13
KINDS = ["monitor", "symptom", "reading"]


# ---------------------------------------------------------------- random networks

def distribution(rng, levels, most, zero_share=0.0):
    """A distribution over `levels` levels in steps of 1/10000, `most` the largest share above level 0."""
    above = [0] * (levels - 1)
    total = max(1, round(10000 * most))
    cuts = sorted(rng.randint(0, total) for _ in range(levels - 2))
    for k, (a, b) in enumerate(zip([0] + cuts, cuts + [total])):
        above[k] = b - a
    for k in range(levels - 1):
        if levels > 2 and rng.random() < zero_share:
            above[k] = 0
    return [(10000 - sum(above)) / 10000] + [a / 10000 for a in above]


def random_network(rng, suspects, findings, multi_level, widest):
    net = {"suspects": [], "findings": []}
    for i in range(suspects):
        prior = float("%.3g" % 10 ** rng.uniform(-4, -0.3))
        net["suspects"].append({"id": f"part-{i}/fault", "prior": prior})
    ids = [s["id"] for s in net["suspects"]]
    for j in range(findings):
        levels = rng.choice([3, 4, 5]) if multi_level and (j < 2 or rng.random() < 0.5) else 2
        kind = "monitor" if levels > 2 and j < 2 else rng.choice(KINDS)
        name = {"monitor": f"monitor:m{j}", "symptom": f"symptom:s{j}", "reading": f"test-{j}:r"}[kind]
        if levels == 2:
            names = ["normal", "abnormal"]
        else:
            names = ["none"] + [f"level-{k}" for k in range(1, levels)]
        leak = [1.0] + [0.0] * (levels - 1) if rng.random() < 0.06 else distribution(
            rng, levels, 10 ** rng.uniform(-4, -0.7), 0.2)
        touched = rng.sample(ids, rng.randint(1, min(widest, suspects)))
        links = {}
        for i in sorted(touched, key=ids.index):
            most = 1.0 if rng.random() < 0.03 else rng.uniform(0.02, 0.99)
            links[i] = distribution(rng, levels, most, 0.2)
        net["findings"].append({"id": name, "kind": kind, "levels": names, "leak": leak, "links": links})
    return net


def sampled_levels(rng, net, boost):
    """The levels of one random car. With `boost`, faults are common, so that many findings are abnormal."""
    present = {s["id"] for s in net["suspects"] if rng.random() < (max(s["prior"], boost))}
    out = []
    for f in net["findings"]:
        level = 0
        for dist in [f["leak"]] + [d for i, d in f["links"].items() if i in present]:
            level = max(level, rng.choices(range(len(dist)), dist)[0])
        out.append(level)
    return out


def random_evidence(rng, net, soft_share):
    levels = sampled_levels(rng, net, rng.choice([0.05, 0.15, 0.3, 0.7]))
    if rng.random() < 0.3:  # evidence that does not go together
        levels = [rng.randrange(len(f["levels"])) if rng.random() < 0.4 else s for f, s in zip(net["findings"], levels)]
    soft_case = rng.random() < soft_share
    evidence = []
    for f, level in zip(net["findings"], levels):
        if rng.random() < 0.2:
            continue
        if soft_case and rng.random() < 0.4:
            like = [float("%.4g" % (10 ** rng.uniform(-2.5, 0.6))) for _ in f["levels"]]
            if rng.random() < 0.15:
                like[rng.randrange(len(like))] = 0.0
            evidence.append({"finding": f["id"], "likelihoods": like})
        else:
            evidence.append({"finding": f["id"], "level": f["levels"][level]})
    return evidence


def vectors(net, evidence):
    """finding id -> likelihood per level (a hard level is 1 at that level and 0 elsewhere)."""
    levels = {f["id"]: f["levels"] for f in net["findings"]}
    return {e["finding"]: e.get("likelihoods") or [float(n == e["level"]) for n in levels[e["finding"]]] for e in evidence}


# ---------------------------------------------------------------- three ways to the answer

def full_table(net, finding):
    """Array [parent 1, ..., parent k, level] of P(level | parents).

    The product of the cumulative distributions, differenced, but without the subtraction: the maximum of two
    is at s when one is at s and the other at or below s. So no digit is lost in small probabilities.
    """
    table = np.array(finding["leak"])
    for dist in finding["links"].values():
        dist = np.array(dist)
        below_dist = np.concatenate([[0.0], np.cumsum(dist)[:-1]])
        below_table = np.concatenate([np.zeros_like(table[..., :1]), np.cumsum(table, axis=-1)[..., :-1]], axis=-1)
        there = table * (below_dist + dist) + below_table * dist
        table = np.stack([table, there], axis=-2)  # this parent's axis just before the level axis
    return table


def by_pyagrum(net, evidence):
    import pyagrum as gum
    bn = gum.BayesNet()
    for s in net["suspects"]:
        bn.add(gum.LabelizedVariable(s["id"], s["id"], 2))
        bn.cpt(s["id"]).fillWith([1.0 - s["prior"], s["prior"]])
    for f in net["findings"]:
        variable = gum.LabelizedVariable(f["id"], f["id"], len(f["levels"]))
        if len(f["levels"]) == 2:
            bn.addNoisyORNet(variable, f["leak"][1])
            for i, dist in f["links"].items():
                bn.addWeightedArc(i, f["id"], dist[1])
        else:
            bn.add(variable)
            for i in f["links"]:
                bn.addArc(i, f["id"])
            # pyAgrum wants the level fastest, then the first parent, then the second, ...
            table = full_table(net, f)
            k = table.ndim - 1
            bn.cpt(f["id"]).fillWith(table.transpose(*reversed(range(k)), k).ravel().tolist())
    ie = gum.LazyPropagation(bn)
    ie.setNumberOfThreads(1)
    for s in net["suspects"]:
        ie.addTarget(s["id"])
    for e in evidence:
        like = vectors(net, [e])[e["finding"]]
        ie.addEvidence(e["finding"], like if "likelihoods" in e else like.index(1.0))
    ie.makeInference()
    post = {s["id"]: float(ie.posterior(s["id"])[1]) for s in net["suspects"]}
    return post, math.log(ie.evidenceProbability())


def by_pgmpy(net, evidence):
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    from pgmpy.models import DiscreteBayesianNetwork
    model = DiscreteBayesianNetwork()
    for s in net["suspects"]:
        model.add_node(s["id"])
        model.add_cpds(TabularCPD(s["id"], 2, [[1.0 - s["prior"]], [s["prior"]]]))
    for f in net["findings"]:
        model.add_node(f["id"])
        model.add_edges_from([(i, f["id"]) for i in f["links"]])
        n = len(f["levels"])
        model.add_cpds(TabularCPD(f["id"], n, full_table(net, f).reshape(-1, n).T, evidence=list(f["links"]),
                                  evidence_card=[2] * len(f["links"])))
    hard, soft, ln_evidence = {}, [], 0.0

    def query(name):
        # A query with virtual evidence changes the engine, so each query gets its own.
        return VariableElimination(model).query([name], evidence=dict(hard) or None, virtual_evidence=list(soft) or None,
                                                show_progress=False).values

    for e in evidence:
        like = np.array(vectors(net, [e])[e["finding"]])
        ln_evidence += math.log(float(like @ query(e["finding"])))
        if "likelihoods" in e:
            soft.append(TabularCPD(e["finding"], len(like), (like / like.max()).reshape(-1, 1)))
        else:
            hard[e["finding"]] = int(like.argmax())
    # TabularCPD wants columns that sum to 1, virtual evidence does not; pgmpy does not check it there.
    return {s["id"]: float(query(s["id"])[1]) for s in net["suspects"]}, ln_evidence


def by_enumeration(net, evidence):
    ids = [s["id"] for s in net["suspects"]]
    n = len(ids)

    weight = np.ones([2] * n)
    for i, s in enumerate(net["suspects"]):
        shape = [1] * n
        shape[i] = 2
        weight = weight * np.array([1.0 - s["prior"], s["prior"]]).reshape(shape)
    likes = vectors(net, evidence)
    for f in net["findings"]:
        if f["id"] not in likes:
            continue
        total = full_table(net, f) @ np.array(likes[f["id"]])
        shape = [1] * n
        for i in f["links"]:
            shape[ids.index(i)] = 2  # links are in the order of the suspects
        weight = weight * total.reshape(shape)
    p = float(weight.sum())
    post = {i: float(np.take(weight, 1, axis=k).sum()) / p for k, i in enumerate(ids)}
    return post, math.log(p)


# ---------------------------------------------------------------- cases

def apart(a, b):
    return max(max(abs(a[0][i] - b[0][i]) for i in a[0]), abs(a[1] - b[1]))


def make(job):
    which, number = job
    warnings.filterwarnings("ignore")
    logging.disable(logging.WARNING)
    multi = which == "noisy-max"
    for attempt in range(1000):
        rng = random.Random(f"{which} {number} {attempt}")
        suspects = 5 + number % 16 if not multi else rng.randint(5, 14)
        net = random_network(rng, suspects, rng.randint(4, 14 if not multi else 9), multi, rng.choice([3, 5, 8 if not multi else 6]))
        evidence = random_evidence(rng, net, 0.5 if multi else 0.25)
        lowest = {f["id"]: f["levels"][0] for f in net["findings"]}
        hard = [e for e in evidence if "level" in e]
        positives = sum(e["level"] != lowest[e["finding"]] for e in hard)
        if positives < (1 if multi else 2) or len(hard) - positives < 1:
            continue
        possible = by_enumeration_or_none(net, evidence)
        if possible is not None and possible[1] > math.log(1e-25):
            break
    else:
        raise SystemExit(f"no possible case {job}")
    reference = by_pyagrum(net, evidence)
    worst = apart(reference, possible)
    small = suspects <= PGMPY_SUSPECTS
    if small:
        worst = max(worst, apart(reference, by_pgmpy(net, evidence)))
    if worst > TOLERANCE:
        raise SystemExit(f"{job}: the references differ by {worst}")
    return worst, {"network": net, "evidence": evidence, "posterior": reference[0], "log_evidence": reference[1],
                   "checked_by_pgmpy": small}


def by_enumeration_or_none(net, evidence):
    with np.errstate(all="ignore"):
        try:
            post, ln_p = by_enumeration(net, evidence)
        except (ValueError, ZeroDivisionError):
            return None
    return (post, ln_p) if math.isfinite(ln_p) else None


def main():
    out = Path(sys.argv[1] if len(sys.argv) > 1 else ".")
    for which, count in (("noisy-or", 300), ("noisy-max", 150)):
        with Pool(2) as pool:
            made = pool.map(make, [(which, k) for k in range(count)], chunksize=4)
        cases = [case for _, case in made]
        header = {
            "made_with": [
                {"library": "pyagrum", "version": version("pyagrum"), "how":
                    "LazyPropagation, every suspect a target (addTarget), one thread, addNoisyORNet for two levels, full tables above; "
                    "log_evidence = ln evidenceProbability(), likelihoods as given: these are the stored numbers"},
                {"library": "pgmpy", "version": version("pgmpy"), "how":
                    "VariableElimination on full tables, virtual evidence for likelihoods, ln P(evidence) by the chain "
                    "rule: agrees to 1e-12 in the cases marked checked_by_pgmpy"},
                {"library": "numpy", "version": np.__version__, "how":
                    "enumeration of all sets of suspects: agrees to 1e-12 in every case"}],
            "script": "tests/outside/make/posterior.py",
            "tolerance": TOLERANCE,
            "worst_difference_between_references": max(w for w, _ in made),
        }
        lines = json.dumps(header)[:-1] + ', "cases": [\n' + ",\n".join(json.dumps(c, separators=(",", ":")) for c in cases) + "\n]}\n"
        path = out / f"posterior-{which}.json"
        path.write_text(lines)
        json.loads(lines)
        pos = [sum(1 for e in c["evidence"] if e.get("level") not in (None, "normal", "none")) for c in cases]
        print(f"{path}: {len(cases)} cases, {len(lines) / 1e6:.2f} MB, {sum(c['checked_by_pgmpy'] for c in cases)} also by pgmpy, "
              f"worst difference {header['worst_difference_between_references']:.1e}, positives {min(pos)} to {max(pos)}, "
              f"with likelihoods {sum(any('likelihoods' in e for e in c['evidence']) for c in cases)}, "
              f"smallest ln P(evidence) {min(c['log_evidence'] for c in cases):.1f}")


if __name__ == "__main__":
    main()
