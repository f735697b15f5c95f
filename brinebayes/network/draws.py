"""Joint states of all tree variables, drawn from a calibrated tree.

A draw starts at one clique and spreads outward: each next clique given the separator that is
already drawn. It can start anywhere, so draws given one variable's state start at a clique that
holds it and need no calibration of their own. All rows are drawn together, clique by clique.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import prod

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import UsageError
from brinebayes.network.calibration import Beliefs
from brinebayes.network.compile import (
    Clique,
    Floats,
    Indices,
    JunctionTree,
    columns,
    spread,
)


@dataclass(frozen=True, slots=True)
class Stratum:
    """`rows` draws given that `variable` is in the state with index `state`."""

    variable: str
    state: int
    rows: int


def draw(
    beliefs: Beliefs, rows: int, seed: int, strata: Sequence[Stratum] = ()
) -> NDArray[np.int8]:
    """Joint samples of all tree variables from beliefs for one evidence set.

    Returns (rows + rows of the strata, variables), int8 state indices, columns in the order of
    `tree.names`: first `rows` draws from P(all | evidence), then for each stratum its draws from
    P(all | evidence, variable in state). The same beliefs and seed give the same draws
    (counter-based generator). Raises `UsageError` for a stratum of probability zero or a batch.
    """
    tree = beliefs.tree
    if beliefs.tables.ndim != 1:
        raise UsageError("draws are made from beliefs for one evidence set, not from a batch")
    total = rows + sum(one.rows for one in strata)
    chance = np.random.Generator(np.random.Philox(seed)).random((len(tree.cliques), total))
    chosen = np.full((len(tree.cliques), total), -1, dtype=np.intp)
    weights = [beliefs.tables.take(tree.entries_of(i)) for i in range(len(tree.cliques))]
    chosen[0, :rows] = _pick(weights[0], _columns(tree.cliques[0], ()), 0, chance[0, :rows])
    start = rows
    for one in strata:
        if beliefs.marginal(one.variable)[0, one.state] <= 0.0:
            raise UsageError(f"{one.variable}: state {one.state} has probability zero")
        home = tree.site_of[one.variable].clique
        choices = _columns(tree.cliques[home], (one.variable,))
        mine = slice(start, start + one.rows)
        chosen[home, mine] = _pick(weights[home], choices, one.state, chance[home, mine])
        start += one.rows
    _outward(tree, weights, chance, chosen)
    return _decoded(tree, chosen)


def _outward(
    tree: JunctionTree, weights: Sequence[Floats], chance: Floats, chosen: Indices
) -> None:
    """Fill in every clique that is not drawn yet: first towards the root, then away from it.

    `chosen`: (cliques, rows) the configuration of each clique, -1 while it is not drawn.
    """
    for i in range(len(tree.cliques) - 1, 0, -1):
        one = tree.cliques[i]
        rows = np.flatnonzero((chosen[i] >= 0) & (chosen[one.parent] < 0))
        if rows.size:
            states = chosen[i, rows] // (one.size // one.slots)
            choices = _columns(tree.cliques[one.parent], one.separator)
            chance_here = chance[one.parent, rows]
            chosen[one.parent, rows] = _pick(weights[one.parent], choices, states, chance_here)
    for i, one in enumerate(tree.cliques[1:], start=1):
        rows = np.flatnonzero(chosen[i] < 0)
        if rows.size:
            shape = one.shape[: one.shared]
            seen = spread(
                np.arange(one.slots).reshape(shape), one.separator, tree.cliques[one.parent].names
            )
            states = np.broadcast_to(seen, tree.cliques[one.parent].shape).ravel()
            states = states.take(chosen[one.parent, rows])
            chosen[i, rows] = _pick(
                weights[i], _columns(one, one.separator), states, chance[i, rows]
            )


def _columns(clique: Clique, names: Sequence[str]) -> Indices:
    """(choices, states of `names`): the configurations of a clique that agree with each state."""
    return columns(np.arange(clique.size).reshape(clique.shape), clique.names, names)


def _pick(weights: Floats, choices: Indices, column: Indices | int, chance: Floats) -> Indices:
    """One configuration per row: from the row's column of `choices`, by weight.

    Bisection on the running sums of the column; what has no weight is never picked, since a
    chance is below one and its interval is empty.
    """
    count, width = choices.shape
    ends = weights.take(choices).cumsum(axis=0)
    aim = chance * ends[-1].take(column)
    flat = ends.ravel()
    at = np.zeros(chance.shape, dtype=np.intp)
    step = 1 << (count - 1).bit_length()
    while step > 1:
        step //= 2
        probe = np.minimum(at + step, count)
        at = np.where(flat.take((probe - 1) * width + column) <= aim, probe, at)
    picked: Indices = choices.ravel().take(at * width + column)
    return picked


def _decoded(tree: JunctionTree, chosen: Indices) -> NDArray[np.int8]:
    """(rows, variables): the states that the chosen configurations stand for."""
    result = np.empty((len(tree.names), chosen.shape[1]), dtype=np.int8)
    for row, site in zip(result, tree.sites, strict=False):  # the sites of leaves come after
        clique, axis = tree.cliques[site.clique], site.spans[0]
        stride = prod(clique.shape[axis + 1 :])
        row[:] = chosen[site.clique] // stride % clique.shape[axis]
    return np.ascontiguousarray(result.T)
