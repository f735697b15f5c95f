"""What a case tells about the unit as it was found.

The engine is asked about one state of the unit, the one at the call: what was said and seen before
the first repair, and what was seen later of parts that no repair had touched. Of what came after a
repair three things are used:

- A fault that was seen. It is evidence, and so is that one was not seen although its repair was
  carried out; how often a fault that is there is seen then is learned from the cases themselves.
- A proof, passed or failed: the unit does or does not work with some faults cleared.
- A fault that was held to be the cause without being seen, only where no proof followed its repair;
  where one did, the proof is the evidence, and it must not count twice.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from brinebayes.knowledge.names import lookup
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.evidence import Question, checked

#: (id, likelihood of each of its states)
Finding = tuple[str, tuple[float, ...]]


@dataclass(frozen=True)
class Told:
    """Evidence of one case, in an order that is the same for cases that tell the same.

    `proofs`: (repairs done before it, likelihood of (does not work, works)), in order; `done`: the
    repairs up to the last proof. `looked`: (first repair that clears a
    fault, that fault, whether it was seen).
    """

    site: tuple[tuple[str, str], ...] = ()
    findings: tuple[Finding, ...] = ()
    done: tuple[str, ...] = ()
    proofs: tuple[tuple[int, tuple[float, float]], ...] = ()
    looked: tuple[tuple[str, str, bool], ...] = ()


@dataclass(frozen=True)
class Found:
    """A fault that was found; `sure`: the probability that it was there."""

    fault: str
    sure: float
    seen: bool = True


def told(model: Model, question: Question, found: Iterable[Found] = ()) -> Told:
    """What a question tells, with the faults that were found.

    Raises UsageError for what the model does not have.
    """
    newest = graph.versions(model, question.done)
    latest: dict[str, tuple[float, ...]] = {}
    proofs: dict[int, tuple[int, tuple[float, float]]] = {}
    for seen in checked(model, question):
        copy = newest[seen.observation][seen.epoch]
        if seen.observation == graph.PROOF:
            proofs[copy] = (seen.epoch, _of_working(model, seen.likelihood))
        elif copy == 0:
            latest[seen.observation] = _scaled(seen.likelihood)
    kept = tuple(proofs[copy] for copy in sorted(proofs))
    proven_by = kept[-1][0] if kept else 0
    named = {one.fault: one for one in found}
    tried: dict[str, list[int]] = {}
    for place, repair in enumerate(question.done):
        for fault in model.repairs[repair].clears:
            tried.setdefault(fault, []).append(place)
    for one in named.values():
        by_proof = any(place < proven_by for place in tried.get(one.fault, ()))
        if one.seen or not by_proof:
            here = confirmation(model, one.fault, one.sure)
            before = latest.get(one.fault, (1.0, 1.0))
            latest[one.fault] = _scaled(tuple(a * b for a, b in zip(before, here, strict=True)))
    return Told(
        tuple(sorted(question.site.items())),
        tuple(sorted(latest.items())),
        question.done[:proven_by],
        kept,
        tuple(sorted(_looked(question.done, tried, named))),
    )


def _looked(
    done: Sequence[str], tried: Mapping[str, Sequence[int]], named: Mapping[str, Found]
) -> Iterator[tuple[str, str, bool]]:
    """What a repair clears is looked at when it is first repaired; later it may be gone."""
    for fault, places in tried.items():
        yield done[min(places)], fault, fault in named and named[fault].seen


def confirmation(model: Model, fault: str, sure: float) -> tuple[float, float]:
    """Likelihood of (absent, present) of a confirmation that is right with probability `sure`.

    A wrong one names a fault as often as the fault occurs in calls, so that a confirmation alone
    makes the fault about as likely as it is sure, and what else was seen can still argue with it.
    """
    share = lookup("fault", fault, model.faults).share.value
    wrong = (1.0 - sure) * share
    right = sure + wrong
    return (wrong / right, 1.0) if right > 0.0 else (1.0, 1.0)


def _of_working(model: Model, likelihood: tuple[float, ...]) -> tuple[float, float]:
    """Likelihood of (does not work, works) from that of (passed, failed)."""
    about = model.about.proof
    passed, failed = likelihood
    wrong, right = about.passes_if_not.value, about.passes_if_works.value
    return (
        wrong * passed + (1.0 - wrong) * failed,
        right * passed + (1.0 - right) * failed,
    )


def _scaled(likelihood: tuple[float, ...]) -> tuple[float, ...]:
    """The largest 1, so that the same finding is told in the same numbers."""
    top = max(likelihood)
    return tuple(value / top for value in likelihood) if top > 0.0 else likelihood
