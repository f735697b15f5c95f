"""The probability tables of single parts of a model, one row for every combination of parents."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import ModelError
from brinebayes.knowledge.schema import Condition, Mechanism, Model, Row, Spread
from brinebayes.network import graph

Floats = NDArray[np.float64]


def noise_name(mechanism: str, cause: int | None) -> str:
    """Name of the noise of a mechanism's cause, counted from 0; None: of its leak."""
    return f"{mechanism}__leak" if cause is None else f"{mechanism}__n{cause}"


def is_open(effect: Spread) -> bool:
    """Whether the noise of a link has anything to decide."""
    return sum(p > 0.0 for p in effect.of.values()) > 1


def noise_states(mechanism: Mechanism, cause: int) -> tuple[int, ...]:
    """The states that a cause may bring about, as places in the mechanism's states."""
    effect = mechanism.causes[cause].effect
    return tuple(k for k, s in enumerate(mechanism.states) if effect.of.get(s, 0.0) > 0.0)


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a mechanism's chain: where the noise of its causes shows.

    `variable` is the maximum of `previous` (None: the best state), of the leak when `with_leak`,
    and of the causes whose condition holds in the state of `parents`, which are the variables that
    stand for `parent_ids`. `causes` are their places in the mechanism; `own_root` says which of
    them have a noise variable of their own.
    """

    mechanism: str
    variable: str
    previous: str | None
    parents: tuple[str, ...]
    parent_ids: tuple[str, ...]
    causes: tuple[int, ...]
    own_root: tuple[bool, ...]
    with_leak: bool


def step_table(model: Model, step: Step) -> tuple[tuple[str, ...], Floats]:
    """Parents and P(step's variable | previous, parents, noise roots) of one step of a chain."""
    mechanism = model.mechanisms[step.mechanism]
    states = mechanism.states
    roots = [j for j, own in zip(step.causes, step.own_root, strict=True) if own]
    root_states = [noise_states(mechanism, j) for j in roots]
    effects = {j: spread(states, mechanism.causes[j].effect) for j in step.causes}
    rows = []
    for start in range(len(states)) if step.previous else [0]:
        for combination in combinations(model, step.parent_ids):
            for noise in product(*root_states):
                known = dict(zip(roots, noise, strict=True))
                row = point(len(states), start)
                if step.with_leak:
                    row = worse_of(row, spread(states, mechanism.leak))
                for j in step.causes:
                    if holds(mechanism.causes[j].when, combination):
                        at = point(len(states), known[j]) if j in known else effects[j]
                        row = worse_of(row, at)
                rows.append(row)
    shape = [len(states)] if step.previous else []
    shape += [len(graph.states_of(model, p)) for p in step.parent_ids]
    shape += [len(r) for r in root_states]
    before = (step.previous,) if step.previous else ()
    names = (*before, *step.parents, *(noise_name(step.mechanism, j) for j in roots))
    return names, np.reshape(rows, (*shape, len(states)))


def decision_table(model: Model, name: str) -> tuple[tuple[str, ...], Floats]:
    """Parent ids and the deterministic table of a mechanism that is a decision list.

    Raises ModelError when no case holds for some combination.
    """
    mechanism = model.mechanisms[name]
    parents = graph.parents_in(case.when for case in mechanism.cases)
    rows = []
    for combination in combinations(model, parents):
        case = next((c for c in mechanism.cases if holds(c.when, combination)), None)
        if case is None:
            raise ModelError(f"mechanisms.yaml: {name}: cases: nothing is said for {combination}")
        rows.append([float(state == case.then) for state in mechanism.states])
    shape = [len(graph.states_of(model, p)) for p in parents]
    return parents, np.reshape(rows, (*shape, len(mechanism.states)))


def observation_table(model: Model, name: str) -> tuple[tuple[str, ...], tuple[str, ...], Floats]:
    """Parents, outcomes and P(outcome | parents), misreading mixed in, of an observation,
    a complaint or the proof."""
    if name == graph.PROOF:
        proof = model.about.proof
        wrong, right = proof.passes_if_not.value, proof.passes_if_works.value
        return (
            (graph.WORKS,),
            graph.PROOF_STATES,
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


def worse_of(a: Floats, b: Floats) -> Floats:
    """Distribution of the maximum of two independent ordinal variables; never negative."""
    below_a = np.concatenate([[0.0], np.cumsum(a)[:-1]])
    worse: Floats = a * np.cumsum(b) + below_a * b
    return worse


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
