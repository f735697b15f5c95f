"""Expected counts as sums over the tables of a calibrated tree.

What is counted (a fault present, a row of an observation's table that holds, a state that a link
brought about) is a weighted sum over the joint states of a few variables that stand together in
one clique. All that is counted in a clique is one small matrix.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.build import World
from brinebayes.network.junction import Indices, JunctionTree
from brinebayes.network.local import Floats, combinations, holds
from brinebayes.network.paths import Step
from brinebayes.network.reduce import Reduced


@dataclass(frozen=True, eq=False)
class Counted:
    """What is counted over some variables: `weights` (counts, *states of the variables)."""

    variables: tuple[str, ...]
    weights: Floats


@dataclass(frozen=True, eq=False)
class Reader:
    """Reads every count off the tables of one tree.

    `parts`: entries of a clique, the counts that are read there, (counts, entries) weights.
    `sure`: (counts,) what is so whatever the evidence.
    """

    parts: tuple[tuple[Indices, Indices, Floats], ...]
    sure: Floats

    def counts(self, tables: Floats, possible: NDArray[np.bool_]) -> Floats:
        """(counts, batch) from `Beliefs.tables` (entries, batch) of a batch."""
        found: Floats = np.outer(self.sure, possible)
        for entries, which, weights in self.parts:
            found[which] += weights @ tables[entries]
        return found


def reader(
    tree: JunctionTree,
    counted: Sequence[Counted],
    stands_for: Callable[[str], str | int] = lambda name: name,
) -> Reader:
    """A reader of `counted`, in their order, one after the other.

    `stands_for`: the variable of the tree that a variable is, or the state it is in for good.
    """
    sure = np.zeros(sum(len(one.weights) for one in counted))
    by_clique: dict[int, list[tuple[int, Floats]]] = {}
    first = 0
    for one in counted:
        names = [stands_for(name) for name in one.variables]
        kept = list(dict.fromkeys(name for name in names if isinstance(name, str)))
        rows = np.arange(first, first + len(one.weights))
        first += len(one.weights)
        if not kept:
            fixed = tuple(int(state) for state in names)
            sure[rows] = np.moveaxis(one.weights, 0, -1)[fixed]
            continue
        clique = tree.home(kept)
        about = tree.cliques[clique]
        axes = np.indices(about.shape).reshape(len(about.shape), -1)
        at = tuple(axes[about.names.index(n)] if isinstance(n, str) else n for n in names)
        matrix = one.weights[(slice(None), *at)].reshape(len(one.weights), -1)
        by_clique.setdefault(clique, []).extend(zip(rows.tolist(), matrix, strict=True))
    parts = []
    for clique in sorted(by_clique):
        which, matrices = zip(*by_clique[clique], strict=True)
        entries = tree.entries_of(clique)
        parts.append((entries, np.array(which, dtype=np.intp), np.array(matrices)))
    return Reader(tuple(parts), sure)


def in_reduced(reduction: Reduced) -> Callable[[str], str | int]:
    """What a variable stands for in a network in which some faults are known to be absent."""

    def stands_for(name: str) -> str | int:
        if name in reduction.settled:
            return int(reduction.settled[name].argmax())
        return reduction.same.get(name, name)

    return stands_for


# --- what can be counted -----------------------------------------------------------------------


def present(fault: str) -> Counted:
    """How often a fault is present at the call: one count."""
    return Counted((fault,), np.array([[0.0, 1.0]]))


def rows_of(model: Model, name: str) -> Counted:
    """How often each row of an observation's table is the one that holds."""
    rows = (
        model.complaints[name].rows
        if name in model.complaints
        else graph.observations(model)[name].rows
    )
    parents = graph.parents_in(row.when for row in rows)
    shape = [len(graph.states_of(model, parent)) for parent in parents]
    weights = np.zeros((len(rows), int(np.prod(shape, dtype=int))))
    for place, combination in enumerate(combinations(model, parents)):
        weights[next(r for r, row in enumerate(rows) if holds(row.when, combination)), place] = 1.0
    return Counted(parents, weights.reshape(len(rows), *shape))


def brought_about(model: Model, world: World, step: Step) -> dict[int | None, Counted]:
    """Per link of a step (None: the leak) how often it acted and brought about each state.

    A link whose condition does not hold is not counted: it could have done anything.
    """
    variables = (*((step.previous,) if step.previous else ()), *step.parents, step.variable)
    widths = [len(world.paths[name]) for name in variables]
    mechanism = model.mechanisms[step.mechanism]
    before, configurations, noise = step.leads_to.shape
    cells = before * configurations * widths[-1]
    # One entry for every path before, configuration of the parents and combination of noise.
    cell = np.arange(before * configurations).repeat(noise) * widths[-1] + step.leads_to.ravel()
    chances = np.tile(step.chances, before * configurations)
    total = np.bincount(cell, chances, minlength=cells)
    found: dict[int | None, Counted] = {}
    for place, source in enumerate(step.sources):
        when = {} if source is None else mechanism.causes[source].when
        acts = [float(holds(when, c)) for c in combinations(model, step.parents)]
        acting = chances * np.tile(np.repeat(acts, noise), before)
        brought = np.tile(step.noise[:, place], before * configurations)
        weights = np.zeros((len(mechanism.states), cells))
        for state in range(len(weights)):
            here = np.bincount(cell, acting * (brought == state), minlength=cells)
            np.divide(here, total, out=weights[state], where=total > 0.0)
        found[source] = Counted(variables, weights.reshape(-1, *widths))
    return found
