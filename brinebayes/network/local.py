"""The probability tables of single parts of a model, one row for every combination of parents."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import product

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import ModelError
from brinebayes.knowledge.schema import Condition, Model, Row, Spread
from brinebayes.network import graph

Floats = NDArray[np.float64]


def noise_name(mechanism: str, cause: int | None) -> str:
    """Name of the noise of a mechanism's cause, counted from 0; None: of its leak."""
    return f"{mechanism}__leak" if cause is None else f"{mechanism}__n{cause}"


def decisions(model: Model, name: str) -> tuple[tuple[str, ...], NDArray[np.intp]]:
    """Parent ids of a mechanism that is a decision list, and the place of the state it gives:
    (*parent states). Raises ModelError when no case holds for some combination.
    """
    mechanism = model.mechanisms[name]
    parents = graph.parents_in(case.when for case in mechanism.cases)
    places = []
    for combination in combinations(model, parents):
        case = next((c for c in mechanism.cases if holds(c.when, combination)), None)
        if case is None:
            raise ModelError(f"mechanisms.yaml: {name}: cases: nothing is said for {combination}")
        places.append(mechanism.states.index(case.then))
    shape = [len(graph.states_of(model, p)) for p in parents]
    return parents, np.array(places, dtype=np.intp).reshape(shape)


def observation_table(model: Model, name: str) -> tuple[tuple[str, ...], tuple[str, ...], Floats]:
    """Parents, outcomes and P(outcome | parents), misreading mixed in, of an observation,
    a complaint or the proof."""
    if name == graph.PROOF:
        proof = model.about.proof
        wrong, right = proof.passes_if_not.value, proof.passes_if_works.value
        return (
            (graph.WORKS,),
            graph.PROOF_OUTCOMES,
            np.array([[wrong, 1.0 - wrong], [right, 1.0 - right]]),
        )
    rows: tuple[Row, ...]
    if name in model.complaints:
        rows, misreading = model.complaints[name].rows, 0.0
    else:
        observation = graph.observations(model)[name]
        rows, misreading = observation.rows, observation.misreading.value
    outcomes = graph.states_of(model, name)
    parents = graph.parents_in(row.when for row in rows)
    table = []
    for combination in combinations(model, parents):
        row = next((r for r in rows if holds(r.when, combination)), None)
        if row is None:
            raise ModelError(f"{name}: rows: nothing is said for {combination}")
        table.append(spread(outcomes, row.gives))
    mixed = (1.0 - misreading) * np.array(table) + misreading / len(outcomes)
    shape = [len(graph.states_of(model, p)) for p in parents]
    return parents, outcomes, mixed.reshape(*shape, len(outcomes))


def point(size: int, at: int) -> Floats:
    """All probability on one state."""
    row = np.zeros(size)
    row[at] = 1.0
    return row


def spread(states: Iterable[str], of: Spread | None) -> Floats:
    """A spread as an array over `states`; None: all on the first."""
    states = tuple(states)
    return point(len(states), 0) if of is None else np.array([of.of.get(s, 0.0) for s in states])


def combinations(model: Model, parents: tuple[str, ...]) -> Iterator[dict[str, str]]:
    """Every combination of the parents' states, the last parent's running fastest."""
    for states in product(*(graph.states_of(model, p) for p in parents)):
        yield dict(zip(parents, states, strict=True))


def holds(when: Condition, combination: Mapping[str, str]) -> bool:
    """Whether every part of a condition holds."""
    return all(combination[p] in graph.named_states(wanted) for p, wanted in when.items())
