"""Observations that do not go together: a misread check, or a rare fault that explains them all.

The conflict of findings e_1 .. e_n is log2(P(e_1) ... P(e_n) / P(e_1, ..., e_n)). It is positive
when they are less likely together than if they had nothing to do with each other; findings of one
common cause are more likely together.
Source: Jensen, Chamberlain, Nordahl & Jensen 1991 (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from math import log

import numpy as np
from numpy.typing import NDArray

from brinebayes.network.belief import Belief
from brinebayes.network.evidence import Finding, Ground
from brinebayes.network.junction import JunctionTree
from brinebayes.network.propagate import calibrate
from brinebayes.record import record

Floats = NDArray[np.float64]

#: Bits below which a conflict is rounding.
ROUNDING = 1e-9
#: A fault explains what was seen when it is at least this probable.
CONVINCING = 0.5


@record
class Contradiction:
    """What was seen hardly goes together.

    `bits`: the conflict, in bits. `suspects`: observations whose removal makes it smaller, with
    what is then left, the one that explains most first. `rare_fault`: the fault with which nothing
    is left to explain, if there is one; it is then the better explanation.
    """

    bits: float
    suspects: tuple[tuple[str, float], ...]
    rare_fault: str | None


def look(belief: Belief, least: float = ROUNDING) -> Contradiction | None:
    """The conflict among everything that was said and seen, given the call and the site.

    None where it is not above `least` bits; then nothing is looked for.
    """
    known = belief.ground
    findings = known.findings
    if len(findings) < 2:
        return None
    apart = known.log_probabilities([[one] for one in findings])
    bits = _bits(apart, belief.log_evidence)
    if bits <= least:
        return None
    return Contradiction(bits, _suspects(known, apart, bits), _explaining(belief))


def conflict(tree: JunctionTree, evidence: Mapping[str, Floats]) -> float:
    """Conflict in bits of likelihoods over the variables of any network without open roots."""
    names = tuple(evidence)
    sets = [[name] for name in names] + [list(names)]
    batch = {}
    for name in names:
        used = np.array([name in one for one in sets])
        batch[name] = np.where(used[:, None], evidence[name], 1.0)
    found = calibrate(tree, batch).log_evidence
    return _bits(found[:-1], float(found[-1]))


def _bits(apart: Floats, together: float) -> float:
    """Conflict from natural logs of the probabilities of each finding and of all."""
    return (float(apart.sum()) - together) / log(2.0)


def _suspects(known: Ground, apart: Floats, bits: float) -> tuple[tuple[str, float], ...]:
    """Observations without which less is left to explain; complaints are taken as they are."""
    findings = known.findings
    doubted = [i for i, f in enumerate(findings) if f.observation not in known.model.complaints]
    rests = [[f for f in findings if f is not findings[i]] for i in doubted]
    left = known.log_probabilities(rests) if rests else np.zeros(0)
    found = []
    for i, together in zip(doubted, left.tolist(), strict=True):
        without = _bits(np.delete(apart, i), together)
        if without < bits - ROUNDING:
            found.append((without, findings[i].observation))
    return tuple((name, without) for without, name in sorted(found))


def _explaining(belief: Belief) -> str | None:
    """The most probable fault, if it is likely and leaves no conflict where it is present."""
    known, faults = belief.ground, belief.faults
    fault = max(faults, key=lambda name: faults[name])
    if faults[fault] < CONVINCING:
        return None
    there = _present(known, fault)
    findings = [f for f in known.findings if f.observation != fault]
    sets = [[there], *([there, one] for one in findings), [there, *findings]]
    alone, *apart, together = known.log_probabilities(sets).tolist()
    bits = _bits(np.array(apart) - alone, together - alone)
    return fault if bits <= ROUNDING else None


def _present(known: Ground, fault: str) -> Finding:
    """That a fault was there when the call was made."""
    return Finding(fault, 0, 0, np.array([0.0, 1.0]))
