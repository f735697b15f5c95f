"""Mechanisms are either caused or decided, have states to tell apart, and never go in a circle."""

from __future__ import annotations

from collections.abc import Iterator

from brinebayes.knowledge.schema import Mechanism, Model
from brinebayes.knowledge.shape import Finding
from brinebayes.knowledge.well_formed.spots import MECHANISMS, Spot


def findings(model: Model) -> Iterator[Finding]:
    """Mechanisms that are not one of the two kinds, and circles among them."""
    for name, mechanism in model.mechanisms.items():
        yield from _kind(MECHANISMS / name, mechanism)
    yield from _circles(model)


def _kind(spot: Spot, mechanism: Mechanism) -> Iterator[Finding]:
    if len(mechanism.states) < 2:
        yield (spot / "states").says("a mechanism has at least two states, the best first")
    if mechanism.causes and mechanism.cases:
        says = "a mechanism has either causes or cases, never both"
        yield (spot / "cases").says(says, on_key=True)
    elif mechanism.cases:
        if mechanism.leak is not None:
            says = "a leak goes with causes; a mechanism with cases has none"
            yield (spot / "leak").says(says, on_key=True)
        if not any(case.when for case in mechanism.cases):
            says = "no case names a parent; a mechanism that never changes is none"
            yield (spot / "cases").says(says, on_key=True)
    elif not mechanism.causes:
        yield spot.says("has neither causes nor cases; give one of them", on_key=True)
    elif mechanism.leak is None:
        says = "a mechanism with causes has a leak: what it does when none of them acts"
        yield spot.lacks("leak", says)
    for index, cause in enumerate(mechanism.causes):
        if not 1 <= len(cause.when) <= 2:
            says = f"a cause has one or two parents, not {len(cause.when)}"
            yield (spot / "causes" / index / "when").says(says, on_key=True)


def _circles(model: Model) -> Iterator[Finding]:
    """One finding for each step that closes a circle."""
    finished: set[str] = set()
    for start in model.mechanisms:
        # A way back in the order of a depth-first walk; each entry has the parents still to visit.
        way = [start]
        left = [_parents(model, start)]
        while way:
            if way[-1] in finished:
                left[-1] = []
            if not left[-1]:
                finished.add(way.pop())
                left.pop()
                continue
            spot, parent = left[-1].pop(0)
            if parent in way:
                circle = [*way[way.index(parent) :], parent]
                says = f"mechanisms go in a circle: {' depends on '.join(circle)}"
                yield spot.says(says, on_key=True)
            elif parent not in finished:
                way.append(parent)
                left.append(_parents(model, parent))


def _parents(model: Model, name: str) -> list[tuple[Spot, str]]:
    mechanism = model.mechanisms[name]
    spots = [
        (MECHANISMS / name / "causes" / index / "when", cause.when)
        for index, cause in enumerate(mechanism.causes)
    ] + [
        (MECHANISMS / name / "cases" / index / "when", case.when)
        for index, case in enumerate(mechanism.cases)
    ]
    return [
        (spot / parent, parent)
        for spot, when in spots
        for parent in when
        if parent in model.mechanisms
    ]
