#!/usr/bin/env python3
"""Checks the answer of `faultodds rank --json` with an independent exact calculator.

    faultodds kb export --json > network.json
    faultodds rank P0455 --json > rank.json
    python3 tests/outside/make/check_rank.py network.json rank.json

Reads the network and, from the answer, the evidence, the probabilities and log_evidence; computes the
probabilities anew and compares within 1e-9 (`--tolerance`). `--json` prints the recomputed values instead.
Exit code 0 equal, 1 different, 2 cannot be checked. Python 3.9 or newer, standard library only.

Method: inclusion-exclusion (Quickscore, Heckerman 1989, here for ordered levels), which shares nothing with a
table over triggered findings. With F_ij(l) = P(suspect i alone leaves finding j at or below level l) and
likelihoods L_j(l), the evidence on one finding is

    sum over l of L_j(l) P(Y_j = l | X)  =  sum over l of c_j(l) F_j0(l) * product over present i of F_ij(l),
    c_j(l) = L_j(l) - L_j(l + 1), beyond the highest level 0.

Hence P(evidence) is a signed sum over one level a finding of products over suspects of 1 - p + p * product
over j of F_ij(l_j). For a suspect with grades the product over j is the mean over its grades. Suspects that causes
tie together are one factor, a sum over which of those that bring others about are present:
P(i absent | causes) = (1 - p_i) * product over present causes c of (1 - b_ci). A finding at its lowest level has
one term, a positive one two, a measured one as many as it has levels: the terms are 2 ^ positives or more. A
factor is multiplied in as soon as its last finding has its level. The sum cancels heavily, so it is done with
decimals of 60 digits (`decimal`); the digits lost are measured and the whole is repeated with more when fewer
than 20 are left. Repairs made before count only as what `kb export --already` makes of them.

Levels above the lowest are read as given and the lowest is 1 minus their sum, so that rounding in the last
digit of a distribution does not matter; a distribution whose sum is off by more than 1e-9 is an error.
"""
import argparse
import json
import math
import sys
from decimal import Decimal, getcontext

MOST_TERMS = 1 << 22
MOST_CAUSES = 14


class Refused(Exception):
    """The question cannot be checked; the text says why."""


def cumulative(dist, where):
    """P(at or below each level), exactly 1 at the top."""
    if abs(sum(dist) - 1) > 1e-9 or min(dist) < -1e-15:
        raise Refused(f"{where}: not a distribution over the levels: {dist}")
    out, above = [Decimal(1)], Decimal(0)
    for p in reversed(dist[1:]):
        above += Decimal(p)
        out.append(1 - above)
    return out[::-1]


def signed_terms(likelihoods):
    """[(level, c(level))] without the zeros."""
    steps = [Decimal(x) for x in likelihoods] + [Decimal(0)]
    return [(k, steps[k] - steps[k + 1]) for k in range(len(likelihoods)) if steps[k] != steps[k + 1]]


def read_evidence(network, evidence):
    """[(finding, likelihoods)], one entry a finding."""
    findings = {f["id"]: f for f in network["findings"]}
    out, seen = [], {}
    for e in evidence:
        f = findings.get(e["finding"])
        if f is None:
            raise Refused(f"evidence on {e['finding']}, which the network does not have")
        likelihoods = e.get("likelihoods")
        if likelihoods is None:
            if e.get("level") not in f["levels"]:
                raise Refused(f"{f['id']} has no level {e.get('level')}; it has {f['levels']}")
            likelihoods = [1.0 if name == e["level"] else 0.0 for name in f["levels"]]
        if len(likelihoods) != len(f["levels"]):
            raise Refused(f"{f['id']}: {len(likelihoods)} likelihoods for {len(f['levels'])} levels")
        if f["id"] in seen:
            if seen[f["id"]] != likelihoods:
                raise Refused(f"{f['id']} has two different entries in the evidence")
            continue
        seen[f["id"]] = likelihoods
        out.append((f, likelihoods))
    return out


def exact(network, evidence, digits=60):
    """({suspect: P(present | evidence)}, ln P(evidence)) with about 20 right digits or more."""
    while True:
        getcontext().prec = digits
        total, absolute, joint = once(network, evidence)
        if total == 0 and absolute == 0:
            raise Refused("the evidence has probability zero")
        lost = math.inf if total == 0 else (absolute / abs(total)).log10()
        if digits - lost >= 20:
            if total < 0:
                raise Refused("the evidence came out with a negative probability: a mistake in this script")
            return {i: float(p / total) for i, p in joint.items()}, float(total.ln())
        if digits >= 480:
            raise Refused("the evidence has probability zero (nothing left at 480 digits)")
        digits *= 2


class Unit:
    """Suspects that causes tie together: one factor of every term."""

    def __init__(self, members, brings, prior):
        self.brings = {i: {v: Decimal(p) for v, p in brings[i].items()} for i in members if brings[i]}
        self.absent = {i: 1 - prior[i] for i in members}
        self.causes, waiting = [], set(self.brings)
        while waiting:
            free = [i for i in members if i in waiting and not any(i in self.brings[c] for c in waiting)]
            if not free:
                raise Refused(f"causes go round in a circle among {sorted(waiting)}")
            self.causes += free
            waiting -= set(free)
        if len(self.causes) > MOST_CAUSES:
            raise Refused(f"{len(self.causes)} causes in one group are too many for this calculator (at most {MOST_CAUSES})")
        self.others = [i for i in members if i not in self.brings]

    def weigh(self, reach):
        """The factor, and the part of it in which each member is present; `reach` is what presence multiplies by."""
        joint = {i: Decimal(0) for i in self.absent}

        def descend(k, weight, absent):
            if k < len(self.causes):
                c = self.causes[k]
                total = descend(k + 1, weight * absent[c], absent)
                brought = {v: absent[v] * (1 - p) for v, p in self.brings[c].items()}
                own = descend(k + 1, weight * (1 - absent[c]) * reach[c], {**absent, **brought})
                joint[c] += own
                return total + own
            parts = [((1 - absent[i]) * reach[i], absent[i]) for i in self.others]
            total = weight
            for present, none in parts:
                total *= present + none
            for i, (present, none) in zip(self.others, parts):
                if present:
                    joint[i] += total * present / (present + none)
            return total

        return descend(0, Decimal(1), self.absent), joint


def units_of(network, prior):
    """[Unit] of all suspects."""
    brings = {s["id"]: s.get("brings", {}) for s in network["suspects"]}
    group = {i: {i} for i in prior}
    for cause, victims in brings.items():
        for victim in victims:
            if victim not in prior:
                raise Refused(f"{cause} brings about {victim}, which is no suspect")
            if group[cause] is not group[victim]:
                both = group[cause] | group[victim]
                group.update({i: both for i in both})
    members = {id(g): [i for i in prior if group[i] is g] for g in group.values()}
    return [Unit(m, brings, prior) for m in members.values()]


def once(network, evidence):
    prior = {s["id"]: Decimal(s["prior"]) for s in network["suspects"]}
    # Shares are divided by their sum, which rounding leaves beside 1.
    shares = {}
    for s in network["suspects"]:
        raw = {g["id"]: Decimal(g["share"]) for g in s.get("grades", [{"id": "", "share": 1}])}
        if abs(sum(raw.values()) - 1) > Decimal("1e-9"):
            raise Refused(f"{s['id']}: the shares of its grades add up to {sum(raw.values())}")
        shares[s["id"]] = {g: x / sum(raw.values()) for g, x in raw.items()}
    # P(one-term findings | suspect present in this grade), leaks apart
    spread = {i: [Decimal(1)] * len(own) for i, own in shares.items()}
    constant = Decimal(1)
    branching = []
    for f, likelihoods in read_evidence(network, evidence):
        terms = signed_terms(likelihoods)
        leak = cumulative(f["leak"], f"{f['id']} leak")
        links = {}
        for i, d in f["links"].items():
            if i not in prior:
                raise Refused(f"{f['id']} has a link of {i}, which is no suspect")
            rows = [d[g] for g in shares[i]] if isinstance(d, dict) else [d] * len(shares[i])
            links[i] = [cumulative(row, f"{f['id']} link of {i}") for row in rows]
        if not terms:
            return Decimal(0), Decimal(0), {}
        if len(terms) == 1:
            level, c = terms[0]
            constant *= c * leak[level]
            for i, rows in links.items():
                spread[i] = [r * row[level] for r, row in zip(spread[i], rows)]
        else:
            branching.append((terms, leak, links))

    units = units_of(network, prior)
    own = {i: k for k, unit in enumerate(units) for i in unit.absent}
    # Parts that share no unit are independent: each gets its own sum.
    groups = []
    for item in branching:
        touched = {own[i] for i in item[2]}
        touching = [g for g in groups if g[1] & touched]
        merged = ([item], touched)
        for g in touching:
            groups.remove(g)
            merged = (g[0] + merged[0], g[1] | merged[1])
        groups.append(merged)
    count = sum(math.prod(len(t) for t, _, _ in items) for items, _ in groups)
    if count > MOST_TERMS:
        raise Refused(f"{count} terms are too many for this calculator (at most {MOST_TERMS})")

    def presence(reach, unit):
        return {i: sum(share * r for share, r in zip(shares[i].values(), reach[i])) for i in unit.absent}

    total = absolute = constant
    posterior = {}
    for k, unit in enumerate(units):
        if not any(k in g[1] for g in groups):
            factor, joint = unit.weigh(presence(spread, unit))
            total *= factor
            absolute *= factor
            posterior.update({i: p / factor if factor else Decimal(0) for i, p in joint.items()})
    for items, members in groups:
        part, part_absolute, joint = group_sum(items, [units[k] for k in members], own, units, spread, presence)
        total, absolute = total * part, absolute * part_absolute
        posterior.update({i: p / part if part else Decimal(0) for i, p in joint.items()})
    return total, absolute, {i: p * total for i, p in posterior.items()}


def group_sum(items, members, own, units, spread, presence):
    """The signed sum over one level a finding, the same of absolute values, and P(present, evidence)."""
    # Findings with the most suspects first: the many leaves then touch few suspects.
    items = sorted(items, key=lambda x: -len(x[2]))
    last = {}
    for k, (_, _, links) in enumerate(items):
        last.update({own[i]: k for i in links})
    closes = [[units[u] for u, at in last.items() if at == k] for k in range(len(items))]
    reach = dict(spread)  # P(levels chosen so far | suspect present), changed on the way down and put back
    joint = {i: Decimal(0) for unit in members for i in unit.absent}
    one, nothing = Decimal(1), Decimal(0)

    def descend(k, prefix):
        """The sum and absolute sum of everything below, `prefix` included."""
        if k == len(items):
            return prefix, abs(prefix)
        terms, leak, links = items[k]
        here, here_absolute = nothing, nothing
        before = {i: reach[i] for i in links}
        for level, c in terms:
            for i, rows in links.items():
                reach[i] = [r * row[level] for r, row in zip(before[i], rows)]
            factor = prefix * c * leak[level]
            parts = []
            for unit in closes[k]:
                g, present = unit.weigh(presence(reach, unit))
                factor *= g
                parts += [(i, p / g) for i, p in present.items() if p]
            value, magnitude = descend(k + 1, factor)
            for i, s in parts:
                joint[i] += value * s
            here += value
            here_absolute += magnitude
        reach.update(before)
        return here, here_absolute

    total, absolute = descend(0, one)
    return total, absolute, joint


def main():
    parser = argparse.ArgumentParser(description="check the answer of `faultodds rank --json` by inclusion-exclusion")
    parser.add_argument("network", help="faultodds kb export --json")
    parser.add_argument("rank", help="faultodds rank ... --json")
    parser.add_argument("--tolerance", type=float, default=1e-9)
    parser.add_argument("--json", action="store_true", help="print the recomputed values, compare nothing")
    args = parser.parse_args()
    with open(args.network) as a, open(args.rank) as b:
        network, rank = json.load(a), json.load(b)
    posterior, ln_evidence = exact(network, rank["evidence"])
    if args.json:
        json.dump({"posterior": posterior, "log_evidence": ln_evidence}, sys.stdout)
        print()
        return 0
    said = {s["id"]: s["probability"] for s in rank["suspects"]}
    wrong = [f"{i}: in the network, not in the answer" for i in posterior if i not in said]
    wrong += [f"{i}: in the answer, not in the network" for i in said if i not in posterior]
    worst = 0.0
    for i, p in posterior.items():
        if i in said:
            off = abs(said[i] - p)
            worst = max(worst, off) if off == off else math.inf
            if not off <= args.tolerance:
                wrong.append(f"{i}: answer {said[i]!r}, recomputed {p!r}")
    for s in rank["suspects"]:
        if s.get("low") is not None and not 0 <= s["low"] <= s["high"] <= 1:
            wrong.append(f"{s['id']}: interval {s['low']} to {s['high']} is none")
    off = abs(rank["log_evidence"] - ln_evidence)
    if not off <= args.tolerance:
        wrong.append(f"log_evidence: answer {rank['log_evidence']!r}, recomputed {ln_evidence!r}")
    for line in wrong:
        print(line)
    print(f"{len(posterior)} suspects, {len(rank['evidence'])} findings in evidence, largest difference {worst:.1e}, "
          f"ln P(evidence) {ln_evidence:.12g} differs by {off:.1e}: {'NOT equal' if wrong else 'equal'}")
    return 1 if wrong else 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except (Refused, OSError, KeyError, ValueError) as problem:
        print(f"cannot check: {problem!r}" if not isinstance(problem, Refused) else f"cannot check: {problem}", file=sys.stderr)
        sys.exit(2)
