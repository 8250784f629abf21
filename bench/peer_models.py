"""One question written down for pyAgrum and pgmpy: suspects with grades and causes, ordered findings. Used by `peers.py`.

A suspect is a node of 1 + grades states, absent first. One that others bring about has P(absent | causes) =
(1 - p) * product over present causes of (1 - c), the noisy-OR, as one table (direct) or as a chain of two-state
nodes (chain). A finding is the maximum of what its background and its suspects set, again as one table or a chain.
"""
import sys
from itertools import product
from pathlib import Path

HERE = Path(__file__).resolve().parent
for folder in (HERE.parent / "tests/outside/make", HERE.parent / "make"):
    if (folder / "check_rank.py").exists():
        sys.path.insert(0, str(folder))
import check_rank  # noqa: E402

MOST_CELLS = 1 << 22


def reduced(network, evidence, keep_negatives):
    """(suspects {id: {"prior", "shares", "causes", "seen"}}, findings [(finding, likelihoods)], folded posteriors).

    Suspects come in an order in which causes stand before what they bring about. `seen` is what findings at their
    lowest level say of each state. Folded are the suspects that nothing is left to speak of: {id: posterior}.
    """
    suspects = {}
    for s in network["suspects"]:
        grades = s.get("grades", [{"id": "", "share": 1.0}])
        suspects[s["id"]] = {"prior": s["prior"], "grades": [g["id"] for g in grades], "shares": [g["share"] for g in grades],
                             "causes": {}, "seen": [1.0] * (1 + len(grades))}
    for s in network["suspects"]:
        for victim, p in s.get("brings", {}).items():
            suspects[victim]["causes"][s["id"]] = p
    left = []
    for finding, like in check_rank.read_evidence(network, evidence):
        rows = {i: [d[g] for g in suspects[i]["grades"]] if isinstance(d, dict) else [d] * len(suspects[i]["grades"])
                for i, d in finding["links"].items()}
        if not keep_negatives and like[0] > 0 and not any(like[1:]):
            for i, own in rows.items():
                suspects[i]["seen"] = [1.0] + [a * row[0] for a, row in zip(suspects[i]["seen"][1:], own)]
        else:
            left.append(({**finding, "links": rows}, like))
    # Whoever a cause ties to a suspect that is left is left too; the rest is in closed form where no cause is.
    tied = {i: {i} for i in suspects}
    for i, s in suspects.items():
        for c in s["causes"]:
            both = tied[i] | tied[c]
            tied.update({x: both for x in both})
    touched = {x for f, _ in left for i in f["links"] for x in tied[i]}
    for i, s in suspects.items():
        if len(tied[i]) == 1:
            # No cause: what was seen folds into the prior and the shares.
            present = [s["prior"] * a * b for a, b in zip(s["shares"], s["seen"][1:])]
            s["prior"] = sum(present) / (1 - s["prior"] + sum(present))
            s["shares"] = [x / sum(present) for x in present] if sum(present) else s["shares"]
            s["seen"] = [1.0] * len(s["seen"])
    alone = {i: s["prior"] for i, s in suspects.items() if i not in touched and len(tied[i]) == 1}
    order, waiting = [], [i for i in suspects if i in touched]
    while waiting:
        order += [i for i in waiting if not any(c in waiting for c in suspects[i]["causes"])]
        waiting = [i for i in waiting if i not in order]
    # All chains in the same order of suspects: otherwise they tangle and the peers fail much earlier.
    place = {i: k for k, i in enumerate(order)}
    left = [({**f, "links": dict(sorted(f["links"].items(), key=lambda x: place[x[0]]))}, like) for f, like in left]
    return {i: suspects[i] for i in order}, left, alone


def maximum(rows):
    """Table [before][state of a suspect][after] of the highest of `before` and what the suspect sets in that state."""
    n = len(rows[0])
    table = [[[0.0] * n for _ in range(1 + len(rows))] for _ in range(n)]
    for before in range(n):
        table[before][0][before] = 1.0
        for state, dist in enumerate(rows, 1):
            for level, p in enumerate(dist):
                table[before][state][max(before, level)] += p
    return table


def full_table(finding):
    """Rows over the parents' states (last parent fastest), each a distribution over levels."""
    rows = [finding["leak"]]
    n = len(finding["leak"])
    for own in finding["links"].values():
        step = maximum(own)
        rows = [[sum(row[b] * step[b][state][a] for b in range(n)) for a in range(n)]
                for row in rows for state in range(1 + len(own))]
    return rows


def brought_about(suspect, cards):
    """Rows over the states of the causes (last one fastest), each a distribution over the states of the suspect."""
    out = []
    for states in product(*(range(n) for n in cards)):
        absent = 1 - suspect["prior"]
        for state, p in zip(states, suspect["causes"].values()):
            absent *= 1 - p if state else 1.0
        out.append([absent] + [(1 - absent) * share for share in suspect["shares"]])
    return out


def nodes(suspects, findings, form):
    """[(name, states, parents, rows over the parents' states, last one fastest)], parents before children."""
    out, card = [], {}

    def node(name, states, parents, rows):
        cells = states
        for p in parents:
            cells *= card[p]
        if cells > MOST_CELLS:
            raise MemoryError(f"a table of {cells:.1e} cells would be needed")
        card[name] = states
        out.append((name, states, parents, rows()))

    for i, s in suspects.items():
        states, causes = 1 + len(s["shares"]), list(s["causes"])
        if form == "direct" or len(causes) < 2:
            node(i, states, causes, lambda: brought_about(s, [card[c] for c in causes]))
            continue
        # Brought about so far, by itself or by the causes up to here: a chain of two-state nodes.
        before, by_itself = None, 1 - s["prior"]
        for k, c in enumerate(causes):
            p, last = s["causes"][c], k + 1 == len(causes)
            rows = []
            for earlier in ([by_itself] if before is None else [1.0, 0.0]):
                for state in range(card[c]):
                    absent = earlier * (1 - p if state else 1.0)
                    rows.append([absent] + [(1 - absent) * x for x in (s["shares"] if last else [1.0])])
            name = i if last else f"{i}<{k}"
            node(name, states if last else 2, [c] if before is None else [before, c], lambda: rows)
            before = name
    for f, _ in findings:
        n = len(f["levels"])
        if form == "direct":
            node(f["id"], n, list(f["links"]), lambda: full_table(f))
            continue
        names = [f"{f['id']}~{k}" for k in range(len(f["links"]))] + [f["id"]]
        node(names[0], n, [], lambda: [f["leak"]])
        for before, after, (i, own) in zip(names, names[1:], f["links"].items()):
            node(after, n, [before, i], lambda: [row for states in maximum(own) for row in states])
    return out


def spoken_for(suspects, findings):
    """Everything that was seen, {node: likelihood of each state}: findings, and what the folded ones say of suspects."""
    return {**{i: s["seen"] for i, s in suspects.items() if set(s["seen"]) != {1.0}}, **{f["id"]: like for f, like in findings}}


def pyagrum_model(suspects, findings, form):
    import pyagrum as gum
    bn = gum.BayesNet()
    # pyAgrum's own noisy-OR, where it fits: two levels, suspects without grades.
    own = {f["id"]: f for f, _ in findings
           if form == "direct" and len(f["levels"]) == 2 and all(len(rows) == 1 for rows in f["links"].values())}
    others = [(f, like) for f, like in findings if f["id"] not in own]
    for name, states, parents, rows in nodes(suspects, others, form):
        bn.add(gum.LabelizedVariable(name, name, states))
        for p in reversed(parents):
            bn.addArc(p, name)
        bn.cpt(name).fillWith([p for row in rows for p in row])
    for f in own.values():
        bn.addNoisyORNet(gum.LabelizedVariable(f["id"], f["id"], 2), f["leak"][1])
        for i, rows in f["links"].items():
            if rows[0][1] > 0:  # pyAgrum refuses a weight of nothing
                bn.addWeightedArc(i, f["id"], rows[0][1])
    return bn


def pyagrum_query(bn, suspects, findings):
    import pyagrum as gum
    ie = gum.LazyPropagation(bn)
    ie.setNumberOfThreads(1)
    ie.setTargets(set(suspects))
    for name, like in spoken_for(suspects, findings).items():
        ie.addEvidence(name, like)
    ie.makeInference()
    return {i: [float(p) for p in ie.posterior(i).tolist()[1:]] for i in suspects}


def pgmpy_model(suspects, findings, form):
    import numpy as np
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.models import DiscreteBayesianNetwork
    model, card = DiscreteBayesianNetwork(), {}
    for name, states, parents, rows in nodes(suspects, findings, form):
        card[name] = states
        model.add_node(name)
        model.add_edges_from([(p, name) for p in parents])
        table = np.array(rows).reshape(-1, states).T
        model.add_cpds(TabularCPD(name, states, table, evidence=parents, evidence_card=[card[p] for p in parents]))
    return model


def pgmpy_query(model, suspects, findings):
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    seen = spoken_for(suspects, findings)
    hard = {name: like.index(1.0) for name, like in seen.items() if sorted(like)[-2:] == [0.0, 1.0]}
    soft = [TabularCPD(name, len(like), [[x / max(like)] for x in like]) for name, like in seen.items() if name not in hard]
    engine = VariableElimination(model)
    out = {}
    for i in suspects:
        if i in hard:
            # Nothing is left to ask, and pgmpy refuses to.
            out[i] = [1.0 if state == hard[i] else 0.0 for state in range(1, 1 + len(suspects[i]["shares"]))]
            continue
        if soft:
            engine = VariableElimination(model)  # virtual evidence changes the engine
        answer = engine.query([i], evidence=hard or None, virtual_evidence=list(soft) or None, show_progress=False)
        out[i] = [float(p) for p in answer.values[1:]]
    return out


LIBRARIES = {"pyagrum": (pyagrum_model, pyagrum_query), "pgmpy": (pgmpy_model, pgmpy_query)}
