"""Joints of targets with every outcome of every leaf, all at once from one calibrated tree."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from brinebayes.errors import UsageError
from brinebayes.network.calibration import Beliefs, _calibrated
from brinebayes.network.compile import Floats, JunctionTree


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


@dataclass(frozen=True, eq=False)
class Ask:
    """Which joints are wanted, prepared for one tree: keep it beside the tree, pickle it."""

    targets: tuple[str, ...]
    leaves: tuple[str, ...]


def prepare(tree: JunctionTree, targets: Iterable[str], leaves: Iterable[str]) -> Ask:
    """What `answer` needs to know, computed once for a tree.

    `targets` are tree variables; `leaves` are leaves or tree variables whose outcomes are asked.
    """
    ask = Ask(tuple(targets), tuple(leaves))
    for name in (*ask.targets, *ask.leaves):
        if name not in tree.states:
            raise UsageError(f"no variable {name} in the tree")
    return ask


def answer(beliefs: Beliefs, ask: Ask) -> Joints:
    """The joints that were asked for, given beliefs for one evidence set (not batched)."""
    tree = beliefs.tree
    rows = _slices(ask.leaves, [len(tree.states[name]) for name in ask.leaves])
    columns = _slices(ask.targets, [len(tree.states[name]) - 1 for name in ask.targets])
    conditional = beliefs.tables.copy()
    for level in tree.levels:
        for band in level.bands:
            matrix = conditional[band.start : band.stop].reshape(band.rest, -1)
            matrix /= np.maximum(beliefs.separators[band.first : band.last], 1e-300)
    again = replace(tree, potentials=conditional, priors=(), open_roots=())
    count = sum(len(tree.states[name]) for name in ask.leaves)
    names = tuple(name for name in tree.states if name in ask.leaves)
    flat = np.concatenate([np.ones((len(tree.states[name]), count)) for name in names])
    place = 0
    for name in names:
        width = len(tree.states[name])
        flat[place : place + width, rows[name]] = np.eye(width)
        place += width
    found = _calibrated(again, names, flat)
    outcomes = np.exp(found.log_evidence)
    values = np.concatenate([found.marginal(name)[:, 1:] for name in ask.targets], axis=1)
    now = np.concatenate([beliefs.marginal(name)[0, 1:] for name in ask.targets])
    return Joints(rows, columns, values * outcomes[:, None], outcomes, now)


def joints(
    tree: JunctionTree, beliefs: Beliefs, targets: Iterable[str], leaves: Iterable[str]
) -> Joints:
    """`answer(beliefs, prepare(tree, targets, leaves))`: for a question asked only once."""
    return answer(beliefs, prepare(tree, targets, leaves))


def _slices(names: Sequence[str], widths: Sequence[int]) -> dict[str, slice]:
    ends = np.cumsum([0, *widths]).tolist()
    return {name: slice(a, b) for name, (a, b) in zip(names, pairwise(ends), strict=True)}
