"""The cases that a model got most wrong, and why."""

from __future__ import annotations

import heapq
from itertools import count
from math import isfinite

from brinebayes.advice.weights import weigh
from brinebayes.cases.record import Case
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.belief import Belief, Question, believe
from brinebayes.network.contradiction import look
from brinebayes.network.local import Floats
from brinebayes.record import record
from brinebayes.scoring.batches import Batch
from brinebayes.scoring.known import last_question
from brinebayes.scoring.ranking import by_fault

#: Things told or seen that are named as reasons.
REASONS = 4
#: Decibans below which something is no reason: a factor of 1.26.
SLIGHT = 1.0


@record
class Push:
    """How far one thing that was said or seen moved the odds towards the wrong fault, in decibans:
    against the fault that was found. `outcome`: what was seen, empty for a complaint."""

    what: str
    outcome: str
    decibans: float


@record
class Missed:
    """A case whose least expected confirmed fault was held for improbable before the first repair.

    `found`, `chance`, `place`: that fault; `leader`, `leader_chance`: the fault that led in its
    place. `before`: decibans that the leader was ahead by from the site alone. `pushes`: what
    moved the odds to the leader most. `conflict`: bits by which the evidence hardly goes together,
    0 if it does, and `suspect`: the observation whose removal explains most of that, or empty.
    """

    case: str
    found: str
    chance: float
    place: int
    leader: str
    leader_chance: float
    before: float
    pushes: tuple[Push, ...]
    conflict: float
    suspect: str
    invented: bool


class Worst:
    """The cases with the least expected confirmed faults so far, at most `most` of them."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._turn = count()
        self._heap: list[tuple[float, int, Case, str, int]] = []

    def add(self, batch: Batch, faults: Floats) -> None:
        """`faults`: (cases, faults) beliefs before the first repair."""
        rows, which, values = by_fault(faults, batch.found)
        for row, fault, one in zip(rows.tolist(), which.tolist(), values.tolist(), strict=True):
            loss, place = one[3], round(1.0 / one[2])
            if place == 1:
                continue
            entry = (loss, -next(self._turn), batch.cases[row], str(fault), place)
            if len(self._heap) < self._most:
                heapq.heappush(self._heap, entry)
            elif self._heap and entry > self._heap[0]:
                heapq.heapreplace(self._heap, entry)

    def missed(self, model: Model) -> tuple[Missed, ...]:
        """With the reasons, the worst first."""
        faults = tuple(model.faults)
        kept = sorted(self._heap, key=lambda entry: (-entry[0], -entry[1]))
        return tuple(_missed(model, case, faults[int(k)], place) for _, _, case, k, place in kept)


def _missed(model: Model, case: Case, found: str, place: int) -> Missed:
    question = last_question(model, case)
    belief = believe(model, question)
    there = {one.fault for one in case.undisputed}
    leader = max((f for f in belief.faults if f not in there), key=lambda f: belief.faults[f])
    evidence = weigh(model, question, (leader, found))
    pushes = [
        Push(one.what, _outcome(model, question, one.what), one.decibans[0] - one.decibans[1])
        for one in evidence.weights
    ]
    pushes = [one for one in pushes if isfinite(one.decibans) and one.decibans >= SLIGHT]
    pushes.sort(key=lambda one: (-one.decibans, one.what))
    conflict = look(belief) if isinstance(belief, Belief) else None
    suspects = conflict.suspects if conflict is not None else ()
    return Missed(
        case.id,
        found,
        belief.faults[found],
        place,
        leader,
        belief.faults[leader],
        evidence.before[0] - evidence.before[1],
        tuple(pushes[:REASONS]),
        conflict.bits if conflict is not None else 0.0,
        suspects[0][0] if suspects else "",
        case.invented,
    )


def _outcome(model: Model, question: Question, what: str) -> str:
    """The likeliest outcome of an observation as it was last made."""
    if what in model.complaints:
        return ""
    seen = next(one for one in reversed(question.seen) if one.observation == what)
    return graph.states_of(model, what)[seen.likelihood.index(max(seen.likelihood))]
