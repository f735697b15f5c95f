"""Joints of targets with every outcome of every leaf, all at once from one calibrated tree.

A *row* is an event whose joint with everything else is wanted: a configuration of the parents of
some leaves, an outcome, or a target being in a state. Each row starts at one clique. Going from
the deepest cliques to the root, the rows of a subtree are carried as P(row | separator), by one
small matrix product per clique; two rows meet at the clique where their ways join, and there
P(row, other row | evidence) is one product more. All matrices between the separators, starts and
ends of a clique come out of the calibrated tables together, in a few gathers and sums.

Nothing is subtracted on the way, so small probabilities keep their relative accuracy.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from brinebayes.errors import UsageError
from brinebayes.network.calibration import TINY, Beliefs
from brinebayes.network.junction import Floats, Indices, JunctionTree
from brinebayes.record import record


@record(eq=False)
class Joints:
    """P(target state, outcome | evidence) for every outcome of every leaf at once.

    `values`: (outcomes, columns). `rows[leaf]` is the slice of its outcomes, in state order;
    `columns[target]` the slice of the target's states **but the first** (for a fault: one column,
    `present`). `outcomes`: (outcomes,) is P(outcome | evidence), `now`: (columns,) is
    P(target state | evidence). For a leaf that is already observed these speak of a second,
    independent reading of it.
    """

    rows: Mapping[str, slice]
    columns: Mapping[str, slice]
    values: Floats
    outcomes: Floats
    now: Floats

    def of(self, leaf: str, target: str) -> Floats:
        """P(outcome, target state | evidence): (outcomes, states), the first state included."""
        rest = self.values[self.rows[leaf], self.columns[target]]
        first = self.outcomes[self.rows[leaf]] - rest.sum(axis=1)
        return np.column_stack([np.maximum(first, 0.0), rest])


@record
class Block:
    """A matrix within the flat array of an answer: where it begins and its shape."""

    start: int
    rows: int
    width: int

    def of(self, flat: Floats) -> Floats:
        """The matrix itself."""
        stop = self.start + self.rows * self.width
        return flat[self.start : stop].reshape(self.rows, self.width)


@record(eq=False)
class Bridge:
    """P(one separator, another), or P(one | another), to carry rows across.

    Where the two share many variables most of that matrix is zero; it is then kept as `shared`
    blocks, one for each state of what they share, and `into`, `out_of` reorder the states of the
    separators so that the shared variables come first (None: they already do).
    """

    block: Block
    shared: int
    into: Indices | None
    out_of: Indices | None

    def carry(self, rows: Floats, flat: Floats) -> Floats:
        """(rows, states of the first separator) to (rows, states of the other)."""
        matrix = self.block.of(flat)
        if self.shared == 1:
            plain: Floats = np.dot(rows, matrix)
            return plain
        if self.into is not None:
            rows = rows.take(self.into, axis=1)
        blocks = rows.reshape(len(rows), self.shared, -1).transpose(1, 0, 2)
        across = blocks @ matrix.reshape(self.shared, -1, self.block.width)
        carried: Floats = across.transpose(1, 0, 2).reshape(len(rows), -1)
        return carried if self.out_of is None else carried.take(self.out_of, axis=1)


@record(eq=False)
class Below:
    """A child of a clique from which rows come.

    `rows`: which; `here`: the same counted from the clique's first; `own`: its separator's columns
    in the block of the rows that start here; `onward`: P(its separator | the clique's), if rows
    go on.
    """

    clique: int
    rows: slice
    here: slice
    own: slice
    onward: Bridge | None


@record(eq=False)
class Meeting:
    """Two children of a clique whose rows meet there; `between`: P(their separators)."""

    one: int
    one_rows: slice
    other: int
    other_rows: slice
    between: Bridge


@record(eq=False)
class Step:
    """What is done at one clique.

    `rows`: all rows of its subtree; `own`: those that start here; `targets`: those of them that
    are targets. `up`: states of the separator on which rows go on, 0 if they do not.
    `start`: P(row, .) for the rows that start here; columns: the states of the own separator (given
    which these are conditional), of the children's separators, own targets. `mix` makes rows out
    of configurations where these are not the rows themselves.
    """

    clique: int
    rows: slice
    own: slice
    targets: slice
    up: int
    start: Block | None
    mix: Floats | None
    below: tuple[Below, ...]
    meetings: tuple[Meeting, ...]


@record(eq=False)
class Ask:
    """Which joints are wanted, prepared for one tree: keep it beside the tree, pickle it.

    `gathers`: (summed out, m) entries of the calibrated tables to take and sum; the sums, one
    after the other, are divided by P(separator state) where `given` names one and put at `places`
    of a flat array of `length`. `steps` are in the order in which they are done. `sources`,
    `ends`: the rows that are sources and targets. `read_out`: (outcomes, sources) makes outcomes
    out of sources; `predict`: (outcomes, configurations) makes P(outcome).
    """

    entries: int
    rows: Mapping[str, slice]
    columns: Mapping[str, slice]
    gathers: tuple[Indices, ...]
    given: Indices
    places: Indices
    length: int
    steps: tuple[Step, ...]
    sources: Indices
    ends: Indices
    read_out: Floats
    predict: Floats
    configurations: slice
    now: slice


def prepare(tree: JunctionTree, targets: Iterable[str], leaves: Iterable[str]) -> Ask:
    """What `answer` needs to know, computed once for a tree.

    `targets` are tree variables; `leaves` are leaves or tree variables whose states are asked
    about like outcomes. Raises `UsageError` for any other name.
    """
    # Imported here: an answer is wanted far more often than a question is prepared.
    from brinebayes.network.preparing import prepared

    return prepared(tree, targets, leaves)


def answer(beliefs: Beliefs, ask: Ask) -> Joints:
    """The joints that were asked for, given beliefs for one evidence set.

    Raises `UsageError` for a batch, or when `ask` was prepared for another tree.
    """
    if beliefs.tables.ndim != 1:
        raise UsageError("joints are asked of beliefs for one evidence set, not of a batch")
    if ask.entries != beliefs.tree.entries:
        raise UsageError("the question was prepared for another tree")
    flat = _matrices(beliefs, ask)
    count = max((step.rows.stop for step in ask.steps), default=0)
    pairs = np.zeros((count, count))
    carried: dict[int, Floats] = {}
    for step in ask.steps:
        _do(step, flat, carried, pairs)
    meeting = pairs.take(ask.sources, axis=0).take(ask.ends, axis=1)
    meeting += pairs.take(ask.ends, axis=0).take(ask.sources, axis=1).T
    return Joints(
        rows=ask.rows,
        columns=ask.columns,
        values=ask.read_out @ meeting,
        outcomes=ask.predict @ flat[ask.configurations],
        now=flat[ask.now],
    )


def joints(
    tree: JunctionTree, beliefs: Beliefs, targets: Iterable[str], leaves: Iterable[str]
) -> Joints:
    """`answer(beliefs, prepare(tree, targets, leaves))`: for a question asked only once."""
    return answer(beliefs, prepare(tree, targets, leaves))


def _matrices(beliefs: Beliefs, ask: Ask) -> Floats:
    """All matrices of all steps, out of the calibrated tables."""
    tables = beliefs.tables
    sums = np.concatenate([np.add.reduce(tables.take(entries), axis=0) for entries in ask.gathers])
    over = np.ones(len(beliefs.separators) + 1)
    np.maximum(beliefs.separators, TINY, out=over[:-1])
    flat = np.zeros(ask.length)
    flat[ask.places] = sums / over.take(ask.given)
    return flat


def _do(step: Step, flat: Floats, carried: dict[int, Floats], pairs: Floats) -> None:
    """One clique: carry its rows on to its separator, and let meet those that meet here.

    `carried`: by clique (rows, states), P(row | state of its separator).
    """
    here = np.empty((step.rows.stop - step.rows.start, step.up))
    if step.start is not None:
        start = step.start.of(flat)
        if step.mix is not None:
            start = np.dot(step.mix, start)
        if step.up:
            here[: len(start)] = start[:, : step.up]
        if step.targets.start < step.targets.stop:
            width = step.targets.stop - step.targets.start
            pairs[step.own, step.targets] = start[:, -width:]
        for child in step.below:
            pairs[step.own, child.rows] = np.dot(start[:, child.own], carried[child.clique].T)
    for child in step.below:
        if child.onward is not None:
            here[child.here] = child.onward.carry(carried[child.clique], flat)
    for one in step.meetings:
        onto = one.between.carry(carried[one.one], flat)
        pairs[one.one_rows, one.other_rows] = np.dot(onto, carried[one.other].T)
    carried[step.clique] = here
