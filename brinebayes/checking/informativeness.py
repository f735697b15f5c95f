"""Outcomes that never come about, and checks that can never tell anything."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import exp

import numpy as np

from brinebayes.checking.exact import Exact, Floats
from brinebayes.checking.remark import Remark, error, warning
from brinebayes.errors import EvidenceConflict
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.well_formed.spots import CHECKS, COMPLAINTS, Spot
from brinebayes.network import graph
from brinebayes.network.belief import Question, Seen, believe
from brinebayes.record import record

#: Below this a probability is nought and a change is none: sums of doubles, nothing more.
NOUGHT = 1e-12
NO_CHANGE = 1e-9


@record
class Told:
    """What each outcome of each observation and complaint tells, given that somebody called.

    `chances`: (outcomes,), probability of each outcome. `moves`: (outcomes,), the largest change
    of any fault's probability that it brings about.
    """

    chances: Mapping[str, Floats]
    moves: Mapping[str, Floats]


def told(exact: Exact) -> Told:
    """Observations from the joints with all faults, complaints by entering each outcome."""
    now = np.array(list(exact.called.faults.values()))
    chances, moves = {}, {}
    for name in graph.observations(exact.model):
        chance = exact.called.outcomes[name]
        then = exact.called.joint[name] / np.maximum(chance, NOUGHT)[:, None]
        chances[name], moves[name] = chance, np.abs(then - now).max(axis=1)
    for name in exact.model.complaints:
        found = [_entered(exact.model, name, place) for place in (0, 1)]
        chances[name] = np.array([chance for chance, _ in found])
        moves[name] = np.array([np.abs(then - now).max(initial=0.0) for _, then in found])
    return Told(chances, moves)


def _entered(model: Model, complaint: str, place: int) -> tuple[float, Floats]:
    """P(outcome | call) and (faults,) P(fault | outcome, call) of a complaint."""
    likelihood = tuple(float(i == place) for i in range(len(graph.COMPLAINT_STATES)))
    try:
        belief = believe(model, Question(seen=(Seen(0, complaint, likelihood),)))
    except EvidenceConflict:
        return 0.0, np.zeros(len(model.faults))
    return exp(belief.log_evidence), np.array(list(belief.faults.values()))


def remarks(model: Model, found: Told) -> Iterator[Remark]:
    """Outcomes that come about only as a misreading or not at all; checks that change nothing."""
    for check_id, check in model.checks.items():
        silent = []
        for name, observation in check.observations.items():
            spot = CHECKS / check_id / "observations" / name
            misread = observation.misreading.value / len(observation.outcomes)
            yield from _never(spot / "outcomes", observation.outcomes, found.chances[name], misread)
            if _is_silent(found, name):
                silent.append((spot, name))
        if len(silent) == len(check.observations):
            says = "can never inform: no outcome changes the odds of any fault; leave it out"
            yield warning("never_informs", CHECKS / check_id, says)
        else:
            for spot, name in silent:
                says = f"{name} can never inform: no outcome changes the odds of any fault"
                yield warning("never_informs", spot, says)
    for name in model.complaints:
        outcomes = dict.fromkeys(graph.COMPLAINT_STATES, "")
        yield from _never(COMPLAINTS / name, outcomes, found.chances[name], 0.0)
        if _is_silent(found, name):
            says = "can never inform: whether it is said changes the odds of no fault"
            yield warning("never_informs", COMPLAINTS / name, says)


def _is_silent(found: Told, name: str) -> bool:
    possible = found.chances[name] > NOUGHT
    return float(found.moves[name][possible].max(initial=0.0)) <= NO_CHANGE


def _never(
    spot: Spot, outcomes: Mapping[str, str], chances: Floats, misread: float
) -> Iterator[Remark]:
    for outcome, chance in zip(outcomes, chances, strict=True):
        if chance <= NOUGHT:
            says = f"{outcome} has the probability 0 in every case; seeing it would be impossible"
            yield error("impossible_outcome", spot / outcome, says)
        elif chance - misread <= NOUGHT:
            says = f"{outcome} never comes about except as a misreading; leave it out, or give it"
            yield warning("unreachable_outcome", spot / outcome, f"{says} a row that brings it")
