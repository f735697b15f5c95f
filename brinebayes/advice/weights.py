"""What each answer and each repair did to the odds of the leading faults, in decibans.

A deciban is a tenth of the logarithm to base ten of a factor on the odds: 10 of them make a fault
ten times as likely against all else, 3 about twice. What came in order counts given all that came
before, so the weights of a fault add up to the whole change of its odds since the call.
Source: Good 1950 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import inf, log10

from brinebayes.advice.situation import situation
from brinebayes.knowledge.schema import CheckedModel, Model
from brinebayes.network.belief import Question, believe
from brinebayes.record import record
from brinebayes.visit.state import VisitState

#: Faults that are weighed.
LEADING = 3


@record
class Weight:
    """What one thing that was said, seen or done did; `decibans`: one per fault."""

    what: str
    decibans: tuple[float, ...]


@record
class Evidence:
    """`before`, `now`: decibans of the odds of each of `faults` when nothing but the call and the
    site was known, and now; `weights` lie between them, in the order of events."""

    faults: tuple[str, ...]
    before: tuple[float, ...]
    weights: tuple[Weight, ...]
    now: tuple[float, ...]


def evidence(checked: CheckedModel, state: VisitState) -> Evidence:
    """The evidence for the faults that lead now. Raises EvidenceConflict as `believe` does."""
    question = situation(checked, state).question
    shares = believe(checked.model, question).faults
    order = sorted(shares, key=lambda name: -round(shares[name], 12))
    return weigh(checked.model, question, tuple(order[:LEADING]))


def weigh(model: Model, question: Question, faults: tuple[str, ...]) -> Evidence:
    """The evidence for some faults."""

    def odds(part: Question) -> tuple[float, ...]:
        known = believe(model, part).faults
        return tuple(decibans(known[name]) for name in faults)

    before = last = odds(replace(question, complaints=(), done=(), seen=()))
    weights = []
    for what, part in _told(question):
        now = odds(part)
        weights.append(Weight(what, tuple(b - a for a, b in zip(last, now, strict=True))))
        last = now
    return Evidence(faults, before, tuple(weights), last)


def decibans(probability: float) -> float:
    """The odds of a probability, in decibans."""
    if probability <= 0.0:
        return -inf
    return inf if probability >= 1.0 else 10.0 * log10(probability / (1.0 - probability))


def _told(question: Question) -> Iterator[tuple[str, Question]]:
    """Each thing in the order of events, with the question up to it."""
    part = replace(question, complaints=(), done=(), seen=())
    for complaint in question.complaints:
        part = replace(part, complaints=(*part.complaints, complaint))
        yield complaint, part
    for epoch in range(len(question.done) + 1):
        if epoch:
            repair = question.done[epoch - 1]
            part = replace(part, done=(*part.done, repair))
            yield repair, part
        for one in question.seen:
            if one.epoch == epoch:
                part = replace(part, seen=(*part.seen, one))
                yield one.observation, part
