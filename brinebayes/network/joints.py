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

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from math import prod

import numpy as np

from brinebayes.errors import UsageError
from brinebayes.network.calibration import TINY, Beliefs
from brinebayes.network.compile import Floats, Indices, JunctionTree, columns, spread

#: A matrix between separators with more entries is kept in blocks where that leaves zeros out.
DENSE = 4_000


@dataclass(frozen=True, eq=False)
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


@dataclass(frozen=True, slots=True)
class Block:
    """A matrix within the flat array of an answer: where it begins and its shape."""

    start: int
    rows: int
    width: int

    def of(self, flat: Floats) -> Floats:
        """The matrix itself."""
        stop = self.start + self.rows * self.width
        return flat[self.start : stop].reshape(self.rows, self.width)


@dataclass(frozen=True, slots=True, eq=False)
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


@dataclass(frozen=True, slots=True)
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


@dataclass(frozen=True, slots=True)
class Meeting:
    """Two children of a clique whose rows meet there; `between`: P(their separators)."""

    one: int
    one_rows: slice
    other: int
    other_rows: slice
    between: Bridge


@dataclass(frozen=True, slots=True, eq=False)
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


@dataclass(frozen=True, eq=False, repr=False)
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


# --- preparing ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Source:
    """Leaves that hang on the same variables of a clique (local to preparation).

    `outcomes`: (outcomes of all of them, configurations of these variables). What is carried is
    whichever are fewer: outcomes or configurations.
    """

    clique: int
    spans: tuple[str, ...]
    leaves: tuple[str, ...]
    outcomes: Floats

    @property
    def mixed(self) -> bool:
        """Outcomes are carried."""
        return len(self.outcomes) < int(self.outcomes.shape[1])

    @property
    def rows(self) -> int:
        """Number of rows that are carried."""
        return min(len(self.outcomes), int(self.outcomes.shape[1]))


def prepare(tree: JunctionTree, targets: Iterable[str], leaves: Iterable[str]) -> Ask:
    """What `answer` needs to know, computed once for a tree.

    `targets` are tree variables; `leaves` are leaves or tree variables whose states are asked
    about like outcomes. Raises `UsageError` for any other name.
    """
    wanted, asked = tuple(dict.fromkeys(targets)), tuple(dict.fromkeys(leaves))
    for name in wanted:
        if name not in tree.states or name in tree.leaves:
            raise UsageError(f"{name} is not a variable of the tree")
    for name in asked:
        if name not in tree.states:
            raise UsageError(f"no variable {name} in the tree")
    return _Preparation(tree, wanted, asked).ask()


class _Preparation:
    """Rows and matrices while they are laid out (local to this module)."""

    def __init__(
        self, tree: JunctionTree, targets: tuple[str, ...], leaves: tuple[str, ...]
    ) -> None:
        self.tree = tree
        self.targets = targets
        self.leaves = leaves
        self.sources = _sources(tree, leaves)
        self.sources_at: dict[int, list[_Source]] = {}
        for source in self.sources:
            self.sources_at.setdefault(source.clique, []).append(source)
        self.targets_at: dict[int, list[str]] = {}
        for name in targets:
            self.targets_at.setdefault(tree.site_of[name].clique, []).append(name)
        self.children: dict[int, list[int]] = {}
        for i, one in enumerate(tree.cliques[1:], start=1):
            self.children.setdefault(one.parent, []).append(i)
        self.place: dict[object, slice] = {}
        self.rows: dict[int, slice] = {}
        self.has: dict[int, tuple[bool, bool]] = {}
        self.number(0, 0)
        self.length = 0
        self.pieces: list[tuple[Indices, Indices, Indices]] = []

    def number(self, clique: int, first: int) -> int:
        """Give the rows of a subtree their numbers, those that start at the clique first."""
        at = first
        for source in self.sources_at.get(clique, ()):
            self.place[source.clique, source.spans] = slice(at, at + source.rows)
            at += source.rows
        for name in self.targets_at.get(clique, ()):
            self.place[name] = slice(at, at + len(self.tree.states[name]) - 1)
            at = self.place[name].stop
        sources = clique in self.sources_at
        targets = clique in self.targets_at
        for child in self.children.get(clique, ()):
            at = self.number(child, at)
            sources |= self.has[child][0]
            targets |= self.has[child][1]
        self.rows[clique] = slice(first, at)
        self.has[clique] = (sources, targets)
        return at

    def ask(self) -> Ask:
        steps = [self.step(i) for i in reversed(range(len(self.tree.cliques)))]
        configurations, predict = self.predictions()
        now = self.marginals()
        read_out = np.zeros((len(predict), sum(source.rows for source in self.sources)))
        rows = _slices(self.leaves, [len(self.tree.states[name]) for name in self.leaves])
        at = 0
        for source in self.sources:
            found = np.eye(source.rows) if source.mixed else source.outcomes
            read_out[self.outcome_rows(source, rows), at : at + source.rows] = found
            at += source.rows
        gathers, places, given = self.gathered()
        return Ask(
            entries=self.tree.entries,
            rows=rows,
            columns=_slices(
                self.targets, [len(self.tree.states[name]) - 1 for name in self.targets]
            ),
            gathers=gathers,
            given=given,
            places=places,
            length=self.length,
            steps=tuple(step for step in steps if step is not None),
            sources=_joined(self.place[s.clique, s.spans] for s in self.sources),
            ends=_joined(self.place[name] for name in self.targets),
            read_out=read_out,
            predict=predict,
            configurations=configurations,
            now=now,
        )

    def step(self, i: int) -> Step | None:
        """What is done at clique `i`, None if nothing starts at or below it."""
        rows = self.rows[i]
        if rows.start == rows.stop:
            return None
        one = self.tree.cliques[i]
        up = one.slots if self.goes_up(i) else 0
        below = [child for child in self.children.get(i, ()) if self.goes_up(child)]
        widths = [self.tree.cliques[c].slots for c in below]
        ends = np.cumsum([up, *widths]).tolist()
        start, mix, own, own_targets = self.starts(i, up, below)
        return Step(
            clique=i,
            rows=rows,
            own=slice(rows.start, rows.start + own),
            targets=slice(rows.start + own - own_targets, rows.start + own),
            up=up,
            start=start,
            mix=mix,
            below=tuple(
                Below(
                    c,
                    self.rows[c],
                    slice(self.rows[c].start - rows.start, self.rows[c].stop - rows.start),
                    slice(a, b),
                    self.between(i, c, i) if up else None,
                )
                for c, (a, b) in zip(below, pairwise(ends), strict=True)
            ),
            meetings=tuple(
                Meeting(a, self.rows[a], b, self.rows[b], self.between(i, a, b))
                for a, b in combinations(below, 2)
                if self.cross(self.has[a], self.has[b])
            ),
        )

    def goes_up(self, i: int) -> bool:
        """Some row of the subtree meets some row outside."""
        inside = self.rows[i]
        out = (
            any(not _within(self.place[s.clique, s.spans], inside) for s in self.sources),
            any(not _within(self.place[name], inside) for name in self.targets),
        )
        return i != 0 and self.cross(self.has[i], out)

    @staticmethod
    def cross(one: tuple[bool, bool], other: tuple[bool, bool]) -> bool:
        """There is a source on one side and a target on the other."""
        return (one[0] and other[1]) or (one[1] and other[0])

    def starts(
        self, i: int, up: int, below: Sequence[int]
    ) -> tuple[Block | None, Floats | None, int, int]:
        """The block of the rows that start at clique `i`, its mix, how many rows and targets."""
        sources = self.sources_at.get(i, [])
        names = self.targets_at.get(i, [])
        ends = sum(len(self.tree.states[name]) - 1 for name in names)
        if not sources and not names:
            return None, None, 0, 0
        cliques = self.tree.cliques
        width = up + sum(cliques[c].slots for c in below) + ends
        height = sum(source.outcomes.shape[1] for source in sources) + ends
        block = self.block(height, width)
        row = 0
        for spans, skip in [*((s.spans, 0) for s in sources), *(((n,), 1) for n in names)]:
            column = 0
            if up:
                self.piece(i, block, (spans, row, skip), (cliques[i].separator, 0, 0), i)
                column = up
            for c in below:
                self.piece(i, block, (spans, row, skip), (cliques[c].separator, column, 0))
                column += cliques[c].slots
            for name in names:
                self.piece(i, block, (spans, row, skip), ((name,), column, 1))
                column += len(self.tree.states[name]) - 1
            row += prod(len(self.tree.states[name]) for name in spans) - skip
        mix = None
        if any(source.mixed for source in sources):
            parts = [s.outcomes if s.mixed else np.eye(s.rows) for s in sources]
            mix = _block_diagonal([*parts, np.eye(ends)])
        return block, mix, sum(source.rows for source in sources) + ends, ends

    def between(self, i: int, one: int, other: int) -> Bridge:
        """P(separators of two neighbours of clique `i`); given the other's, if that is its own."""
        down, across = (self.tree.cliques[c].separator for c in (one, other))
        given = other if other == i else None
        shared = [name for name in across if name in down]
        height, width, blocks = (self.size(names) for names in (down, across, shared))
        if blocks == 1 or height * width <= DENSE:
            block = self.block(height, width)
            self.piece(i, block, (down, 0, 0), (across, 0, 0), given)
            return Bridge(block, 1, None, None)
        block = self.block(height, width // blocks)
        self.piece(i, block, (down, 0, 0), (across, 0, 0), given, shared)
        return Bridge(
            block,
            blocks,
            into=self.reordered(down, [*shared, *(name for name in down if name not in shared)]),
            out_of=self.reordered([*shared, *(n for n in across if n not in shared)], across),
        )

    def size(self, names: Sequence[str]) -> int:
        """States of some variables together."""
        return prod(len(self.tree.states[name]) for name in names)

    def reordered(self, old: Sequence[str], new: Sequence[str]) -> Indices | None:
        """Which state in the old order of variables is each state in the new; None: the same."""
        return None if list(old) == list(new) else self.numbered(old, new)

    def predictions(self) -> tuple[slice, Floats]:
        """P(configuration) of every source, and the matrix that makes P(outcome) of them."""
        rows = _slices(self.leaves, [len(self.tree.states[name]) for name in self.leaves])
        count = sum(source.outcomes.shape[1] for source in self.sources)
        predict = np.zeros((sum(len(self.tree.states[name]) for name in self.leaves), count))
        block = self.block(count, 1)
        at = 0
        for source in self.sources:
            self.piece(source.clique, block, (source.spans, at, 0), ((), 0, 0))
            wide = source.outcomes.shape[1]
            predict[self.outcome_rows(source, rows), at : at + wide] = source.outcomes
            at += wide
        return slice(block.start, block.start + count), predict

    def marginals(self) -> slice:
        """P(target state) but the first, target after target."""
        widths = [len(self.tree.states[name]) - 1 for name in self.targets]
        block = self.block(sum(widths), 1)
        for name, place in _slices(self.targets, widths).items():
            home = self.tree.site_of[name].clique
            self.piece(home, block, ((name,), place.start, 1), ((), 0, 0))
        return slice(block.start, block.start + sum(widths))

    def outcome_rows(self, source: _Source, rows: Mapping[str, slice]) -> Indices:
        return _joined(rows[leaf] for leaf in source.leaves)

    def block(self, rows: int, width: int) -> Block:
        """Room for one more matrix."""
        made = Block(self.length, rows, width)
        self.length += rows * width
        return made

    def piece(
        self,
        clique: int,
        block: Block,
        down: tuple[Sequence[str], int, int],
        across: tuple[Sequence[str], int, int],
        given: int | None = None,
        shared: Sequence[str] = (),
    ) -> None:
        """Fill part of a block with P(variables of `down`, variables of `across`).

        Each is (variables of the clique, first row or column, states left out at the start).
        Only what agrees on common variables is gathered; the rest of the block stays zero.
        `given`: divide by P(the separator of that clique), which `across` then is.
        `shared`: common variables whose states come first in the rows and not in the columns.
        """
        one = self.tree.cliques[clique]
        union = (*across[0], *(name for name in down[0] if name not in across[0]))
        entries = columns(self.tree.entries_of(clique).reshape(one.shape), one.names, union)
        rows = [*shared, *(name for name in down[0] if name not in shared)]
        row = self.numbered(rows, union)
        column = self.numbered([name for name in across[0] if name not in shared], union)
        keep = (row >= down[2]) & (column >= across[2])
        row, column = row[keep] - down[2], column[keep] - across[2]
        place = block.start + (down[1] + row) * block.width + across[1] + column
        separator = np.full(len(row), self.tree.slots)
        if given is not None:
            separator = self.tree.cliques[given].slot + self.numbered(across[0], union)[keep]
        self.pieces.append((entries[:, keep], place, separator))

    def numbered(self, names: Sequence[str], union: Sequence[str]) -> Indices:
        """For every state of the variables `union` the number of its state of `names`."""
        widths = [len(self.tree.states[name]) for name in names]
        numbers = np.arange(prod(widths), dtype=np.intp).reshape(widths)
        shape = [len(self.tree.states[name]) for name in union]
        return np.broadcast_to(spread(numbers, names, union), shape).ravel()

    def gathered(self) -> tuple[tuple[Indices, ...], Indices, Indices]:
        """All pieces, those with as many entries to sum together."""
        none = np.zeros((1, 0), dtype=np.intp)
        by_count = {1: [(none, none[0], none[0])]}
        for piece in self.pieces:
            by_count.setdefault(len(piece[0]), []).append(piece)
        ordered = [by_count[count] for count in sorted(by_count)]
        return (
            tuple(np.hstack([piece[0] for piece in pieces]) for pieces in ordered),
            np.concatenate([piece[1] for pieces in ordered for piece in pieces]),
            np.concatenate([piece[2] for pieces in ordered for piece in pieces]),
        )


def _sources(tree: JunctionTree, leaves: Sequence[str]) -> list[_Source]:
    """Leaves grouped by the variables that they hang on."""
    groups: dict[tuple[int, tuple[str, ...]], list[tuple[str, Floats]]] = {}
    for name in leaves:
        site = tree.site_of[name]
        axes = tree.cliques[site.clique].names
        table = np.eye(len(tree.states[name])) if site.table is None else site.table
        key = (site.clique, tuple(axes[axis] for axis in site.spans))
        groups.setdefault(key, []).append((name, table.T))
    return [
        _Source(clique, spans, tuple(n for n, _ in members), np.vstack([t for _, t in members]))
        for (clique, spans), members in groups.items()
    ]


def _slices(names: Sequence[str], widths: Sequence[int]) -> dict[str, slice]:
    ends = np.cumsum([0, *widths]).tolist()
    return {name: slice(a, b) for name, (a, b) in zip(names, pairwise(ends), strict=True)}


def _joined(slices: Iterable[slice]) -> Indices:
    """The numbers that some slices cover, one slice after the other."""
    parts = [np.arange(one.start, one.stop, dtype=np.intp) for one in slices]
    return np.concatenate(parts) if parts else np.zeros(0, dtype=np.intp)


def _within(one: slice, other: slice) -> bool:
    return bool(other.start <= one.start and one.stop <= other.stop)


def _block_diagonal(parts: Sequence[Floats]) -> Floats:
    result = np.zeros((sum(p.shape[0] for p in parts), sum(p.shape[1] for p in parts)))
    row = column = 0
    for part in parts:
        result[row : row + part.shape[0], column : column + part.shape[1]] = part
        row += part.shape[0]
        column += part.shape[1]
    return result


# --- answering ---------------------------------------------------------------------------------


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
