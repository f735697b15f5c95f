"""Lay out the rows and matrices of a question about joints, once for a tree; see `joints`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations, pairwise
from math import prod

import numpy as np

from brinebayes.errors import UsageError
from brinebayes.network.joints import Ask, Below, Block, Bridge, Meeting, Step
from brinebayes.network.junction import Floats, Indices, JunctionTree, columns, spread
from brinebayes.record import record

#: A matrix between separators with more entries is kept in blocks where that leaves zeros out.
DENSE = 4_000


def prepared(tree: JunctionTree, targets: Iterable[str], leaves: Iterable[str]) -> Ask:
    """What `joints.prepare` promises."""
    wanted, asked = tuple(dict.fromkeys(targets)), tuple(dict.fromkeys(leaves))
    for name in wanted:
        if name not in tree.states or name in tree.leaves:
            raise UsageError(f"{name} is not a variable of the tree")
    for name in asked:
        if name not in tree.states:
            raise UsageError(f"no variable {name} in the tree")
    return _Preparation(tree, wanted, asked).ask()


@record(eq=False)
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
