"""Joint states of all tree variables, drawn from a calibrated tree.

A draw starts at one clique and spreads outward: each next clique given the separator that is
already drawn. It can start anywhere, so draws given one variable's state start at a clique that
holds it and need no calibration of their own. All rows are drawn together, clique by clique.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import prod

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import UsageError
from brinebayes.network.calibration import Beliefs
from brinebayes.network.chance import Chance
from brinebayes.network.junction import Floats, Indices, JunctionTree, Level
from brinebayes.record import record


@record
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
    (see `chance`). Raises `UsageError` for a stratum of probability zero or a batch.
    """
    tree = beliefs.tree
    if beliefs.tables.ndim != 1:
        raise UsageError("draws are made from beliefs for one evidence set, not from a batch")
    total = rows + sum(one.rows for one in strata)
    chance = Chance(seed).random((len(tree.cliques), total))
    chosen = np.zeros((len(tree.cliques), total), dtype=np.intp)
    known = np.zeros(chosen.shape, dtype=bool)
    if strata:
        top = _start(beliefs, strata, chance[:, rows:], chosen[:, rows:], known[:, rows:])
        _to_the_root(beliefs, top, chance[:, rows:], chosen[:, rows:], known[:, rows:])
    _outward(beliefs, chance, chosen, known)
    return _decoded(tree, chosen)


# The three steps fill `chosen`: (cliques, rows), the entry of the flat tables that is drawn for
# each clique, and note in `known` which are. `chance`: (cliques, rows), uniform in [0, 1).


def _start(
    beliefs: Beliefs,
    strata: Sequence[Stratum],
    chance: Floats,
    chosen: Indices,
    known: NDArray[np.bool_],
) -> Indices:
    """Draw each stratum's rows at a clique that holds its variable; (rows,) these cliques."""
    tree = beliefs.tree
    for one in strata:
        if one.variable not in tree.states or one.variable in tree.leaves:
            raise UsageError(f"{one.variable} is not a variable of the tree")
    homes = np.repeat(
        [tree.site_of[one.variable].clique for one in strata], [one.rows for one in strata]
    ).astype(np.intp)
    start = 0
    for one in strata:
        site = tree.site_of[one.variable]
        clique = tree.cliques[site.clique]
        entries = tree.entries_of(site.clique).reshape(clique.shape)
        choices = entries.take(one.state, axis=site.spans[0]).ravel()
        ends = beliefs.tables.take(choices).cumsum()
        if not ends[-1] > 0.0:
            raise UsageError(f"{one.variable}: state {one.state} has probability zero")
        mine = slice(start, start + one.rows)
        picked = np.searchsorted(ends, chance[site.clique, mine] * ends[-1], side="right")
        chosen[site.clique, mine] = choices.take(picked)
        known[site.clique, mine] = True
        start += one.rows
    return homes


def _to_the_root(
    beliefs: Beliefs, top: Indices, chance: Floats, chosen: Indices, known: NDArray[np.bool_]
) -> None:
    """From where each row starts, draw one parent after the other given the clique below."""
    tree = beliefs.tree
    parents = np.array([one.parent for one in tree.cliques], dtype=np.intp)
    for level in reversed(tree.levels[1:]):
        rows = np.flatnonzero(top >= level.head)
        if not rows.size:
            continue
        below, above = top[rows], parents[top[rows]]
        place = level.order[_slots(level, below, chosen[below, rows]) - level.first]
        aim = chance[above, rows]
        start = 0
        for entries in level.out_of:
            mine = (place >= start) & (place < start + entries.shape[1])
            if mine.any():
                ends = beliefs.tables.take(entries).cumsum(axis=0)
                picked = _pick(ends, place[mine] - start, aim[mine])
                chosen[above[mine], rows[mine]] = entries.ravel().take(picked)
            start += entries.shape[1]
        known[above, rows] = True
        top[rows] = above


def _slots(level: Level, cliques: Indices, entries: Indices) -> Indices:
    """The slots that entries of cliques of a level agree with."""
    slots = np.empty(len(entries), dtype=np.intp)
    for band in level.bands:
        mine = (cliques >= band.head) & (cliques < band.tail)
        slots[mine] = band.first + (entries[mine] - band.start) % (band.last - band.first)
    return slots


def _outward(beliefs: Beliefs, chance: Floats, chosen: Indices, known: NDArray[np.bool_]) -> None:
    """From the root, draw every clique that is not known given its parent, a band at a time."""
    tree = beliefs.tree
    agrees = np.zeros(tree.entries, dtype=np.intp)
    strata = known.any()
    for level in tree.levels:
        slots = np.zeros((level.tail - level.head, chosen.shape[1]), dtype=np.intp)
        for turn in level.turns:
            agrees[turn.entries] = turn.slots
            parents = [tree.cliques[i].parent for i in turn.children.tolist()]
            slots[turn.children - level.head] = agrees.take(chosen[parents])
        for band in level.bands:
            ends = beliefs.tables[band.start : band.stop].reshape(band.rest, -1).cumsum(axis=0)
            columns = slots[band.head - level.head : band.tail - level.head] - band.first
            picked = band.start + _pick(ends, columns, chance[band.head : band.tail])
            here = chosen[band.head : band.tail]
            here[:] = np.where(known[band.head : band.tail], here, picked) if strata else picked


def _pick(ends: Floats, columns: Indices, chance: Floats) -> Indices:
    """For each column number one row of `ends`, running sums down each column, as flat index.

    Bisection; a row without weight is never picked, since its interval is empty.
    """
    count, width = ends.shape
    flat = ends.ravel()
    last = columns + (count - 1) * width
    aim = chance * flat.take(last)
    at = columns - width
    step = 1 << (count - 1).bit_length()
    while step > 1:
        step //= 2
        probe = np.minimum(at + step * width, last)
        at = np.where(flat.take(probe) <= aim, probe, at)
    picked: Indices = at + width
    return picked


def _decoded(tree: JunctionTree, chosen: Indices) -> NDArray[np.int8]:
    """(rows, variables): the states that the chosen entries stand for."""
    number = np.empty(tree.entries, dtype=np.int32)
    number[tree.positions] = np.arange(tree.entries, dtype=np.int32)
    offsets = np.array([[one.offset] for one in tree.cliques], dtype=np.int32)
    configurations = number.take(chosen) - offsets
    result = np.empty((len(tree.names), chosen.shape[1]), dtype=np.int8)
    for row, site in zip(result, tree.sites, strict=False):  # the sites of leaves come after
        clique, axis = tree.cliques[site.clique], site.spans[0]
        states = configurations[site.clique] // prod(clique.shape[axis + 1 :])
        np.remainder(states, clique.shape[axis], out=row, casting="unsafe")
    return np.ascontiguousarray(result.T)
