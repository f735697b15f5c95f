"""The noise of the links in joint states drawn from a tree.

The steps of the chains have the noise folded in. A draw says which state each step started from,
which it ended in and which causes held; that leaves a small distribution for the noise of each of
these causes, and the prior for the noise of all others.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod

import numpy as np
from numpy.typing import NDArray

from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.local import (
    Step,
    combinations,
    holds,
    noise_name,
    noise_states,
    point,
    spread,
    worse_of,
)

Floats = NDArray[np.float64]
States = NDArray[np.int8]
Indices = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Round:
    """One source of noise of each of many steps: the next that each step has not drawn yet.

    `steps`: their places. `columns`: the sources' places among all noise. `active`, `below`: where
    the step's part of the tables of the same name begins. `own`: the tree has a variable for it.
    """

    steps: Indices
    columns: Indices
    active: Indices
    below: Indices
    own: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class NoiseTables:
    """Prepared for one tree. With k the most states of any mechanism:

    `names`: all noise. `prior`: (k - 1, noise), chance to be at most in each state but the last.
    `roots`: (place among all noise, column of the draws, the state that each of its states means).
    `ends`, `starts`, `parents`, `strides`: per step the columns of the draws for its end, its
    start and its parents, and what a parent's state counts in its configuration; a column that
    does not exist stands for the first state. `active`: (configurations of all sources,) whether
    the cause holds. `below`: (k - 1, configurations · k · k), as `prior`, given the configuration,
    the maximum so far and the step's end.
    """

    names: tuple[str, ...]
    prior: Floats
    roots: tuple[tuple[int, int, States], ...]
    ends: Indices
    starts: Indices
    parents: Indices
    strides: Indices
    rounds: tuple[Round, ...]
    active: NDArray[np.bool_]
    below: Floats

    def complete(self, draws: States, chance: np.random.Generator) -> States:
        """(noise, n): the state that every source of noise would bring about in each draw."""
        noise = _drawn(chance.random((len(self.names), len(draws))), self.prior[:, :, None])
        for place, column, means in self.roots:
            noise[place] = means[draws[:, column]]
        known = np.zeros((draws.shape[1] + 1, len(draws)), dtype=np.intp)
        known[:-1] = draws.T
        configuration = (known[self.parents] * self.strides[..., None]).sum(axis=1)
        end, at = known[self.ends], known[self.starts]
        k = len(self.prior) + 1
        for one in self.rounds:
            here = configuration[one.steps]
            active = self.active[one.active[:, None] + here]
            place = one.below[:, None] + (here * k + at[one.steps]) * k + end[one.steps]
            drawn = _drawn(chance.random(place.shape), self.below.take(place, axis=1))
            state = np.where(active & ~one.own[:, None], drawn, noise[one.columns])
            noise[one.columns] = state
            at[one.steps] = np.where(active, np.maximum(at[one.steps], state), at[one.steps])
        return noise


def _drawn(chance: Floats, below: Floats) -> States:
    """The states that chances between 0 and 1 pick; `below`: the chance to be at most in each
    state but the last, states first."""
    found = np.zeros(chance.shape, dtype=np.int8)
    for threshold in below:
        found += chance >= threshold
    return found


def noise_tables(model: Model, steps: Sequence[Step], columns: Sequence[str]) -> NoiseTables:
    """Prepare the noise of `model` for draws whose columns are the variables `columns`."""
    sources: list[tuple[str, int | None]] = []
    for name, mechanism in model.mechanisms.items():
        if mechanism.leak is not None:
            sources.append((name, None))
        sources.extend((name, j) for j in range(len(mechanism.causes)))
    names = tuple(noise_name(*source) for source in sources)
    place = {name: i for i, name in enumerate(names)}
    column = {name: i for i, name in enumerate(columns)}
    k = max((len(m.states) for m in model.mechanisms.values()), default=1)
    prior = np.ones((k - 1, len(names)))
    roots = []
    for i, (owner, j) in enumerate(sources):
        cumulated = np.cumsum(_prior(model, owner, j))[:-1]
        prior[: len(cumulated), i] = cumulated
        if names[i] in column:
            full = range(len(model.mechanisms[owner].states))
            means = full if j is None else noise_states(model.mechanisms[owner], j)
            roots.append((i, column[names[i]], np.array(means, dtype=np.int8)))
    widest = max((len(step.parents) for step in steps), default=0)
    parents = np.full((len(steps), widest), len(columns), dtype=np.intp)
    strides = np.zeros((len(steps), widest), dtype=np.intp)
    for i, step in enumerate(steps):
        parents[i, : len(step.parents)] = [column[p] for p in step.parents]
        widths = [len(graph.states_of(model, p)) for p in step.parent_ids]
        strides[i, : len(widths)] = [prod(widths[at + 1 :]) for at in range(len(widths))]
    rounds, active, below = _rounds(model, steps, place, k)
    return NoiseTables(
        names=names,
        prior=prior,
        roots=tuple(roots),
        ends=np.array([column[step.variable] for step in steps], dtype=np.intp),
        starts=np.array(
            [len(columns) if s.previous is None else column[s.previous] for s in steps],
            dtype=np.intp,
        ),
        parents=parents,
        strides=strides,
        rounds=rounds,
        active=active,
        below=np.ascontiguousarray(below.T),
    )


def _prior(model: Model, mechanism: str, cause: int | None) -> Floats:
    about = model.mechanisms[mechanism]
    return spread(about.states, about.leak if cause is None else about.causes[cause].effect)


def _rounds(
    model: Model, steps: Sequence[Step], place: Mapping[str, int], k: int
) -> tuple[tuple[Round, ...], NDArray[np.bool_], Floats]:
    """The rounds, with the tables that they point into."""
    active_parts: list[NDArray[np.bool_]] = []
    below_parts: list[Floats] = []
    begins = 0
    members: list[list[tuple[int, int, int, bool]]] = []
    for i, step in enumerate(steps):
        causes = _in_turn(step)
        holding = _holding(model, step, causes)
        priors = [_prior(model, step.mechanism, j) for j in causes]
        for turn, j in enumerate(causes):
            own = j in {c for c, o in zip(step.causes, step.own_root, strict=True) if o}
            if turn == len(members):
                members.append([])
            members[turn].append((i, place[noise_name(step.mechanism, j)], begins, own))
            active_parts.append(holding[turn])
            below_parts.append(_below(k, turn, holding, priors))
            begins += len(holding[turn])
    rounds = tuple(
        Round(
            steps=np.array([m[0] for m in turn], dtype=np.intp),
            columns=np.array([m[1] for m in turn], dtype=np.intp),
            active=np.array([m[2] for m in turn], dtype=np.intp),
            below=np.array([m[2] * k * k for m in turn], dtype=np.intp),
            own=np.array([m[3] for m in turn], dtype=bool),
        )
        for turn in members
    )
    active = np.concatenate(active_parts) if active_parts else np.zeros(0, dtype=bool)
    below = np.concatenate(below_parts) if below_parts else np.ones((0, k - 1))
    return rounds, active, below


def _in_turn(step: Step) -> list[int | None]:
    """The sources of a step (None: the leak), those with a variable of their own before those
    without: what is known has to be seen when the others are drawn. A step that takes the leak has
    no source with a variable of its own (see `chains.plan`)."""
    causes = list(zip(step.causes, step.own_root, strict=True))
    first: list[int | None] = [None] if step.with_leak else []
    return [*first, *(j for j, own in causes if own), *(j for j, own in causes if not own)]


def _holding(model: Model, step: Step, causes: Sequence[int | None]) -> list[NDArray[np.bool_]]:
    """Per source (configurations of the parents,): whether its cause holds."""
    whens = model.mechanisms[step.mechanism].causes
    configurations = list(combinations(model, step.parent_ids))
    return [
        np.array([j is None or holds(whens[j].when, c) for c in configurations]) for j in causes
    ]


def _below(
    k: int, turn: int, active: Sequence[NDArray[np.bool_]], priors: Sequence[Floats]
) -> Floats:
    """(configurations · k · k, k - 1): thresholds for one source, given the configuration, the
    maximum so far and where the step ends."""
    size = len(priors[turn])
    table = np.ones((len(active[turn]), k, k, k - 1))
    for config, at, end in product(range(len(active[turn])), range(size), range(size)):
        rest = point(size, 0)
        for later in range(turn + 1, len(priors)):
            if active[later][config]:
                rest = worse_of(rest, priors[later])
        chances = np.array(
            [
                priors[turn][state] * worse_of(point(size, max(at, state)), rest)[end]
                for state in range(size)
            ]
        )
        if chances.sum() > 0.0:
            table[config, at, end, : size - 1] = (np.cumsum(chances) / chances.sum())[:-1]
    return table.reshape(-1, k - 1)
