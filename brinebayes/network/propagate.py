"""Beliefs from a junction tree: calibration, joints with every outcome, draws of joint states."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import EvidenceConflict, UsageError
from brinebayes.network.compile import JunctionTree, spread

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Beliefs:
    """A calibrated tree. Every result has a leading batch axis (1 when nothing was batched).

    `log_evidence`: (batch,), natural log of the probability of the evidence, with the scale of
    the likelihoods as given; -inf where the evidence is impossible (marginals are then all 0).
    """

    tree: JunctionTree
    log_evidence: Floats
    cliques: tuple[Floats, ...]

    def marginal(self, name: str) -> Floats:
        """P(name | evidence): (batch, states). For a leaf: of a second, independent reading."""
        if name in self.tree.leaves:
            table = self.tree.leaves[name]
            joint = self.joint_of(table.parents)
            return joint.reshape(len(joint), -1) @ table.values.reshape(-1, table.values.shape[-1])
        return self.joint_of((name,))

    def joint_of(self, names: Sequence[str]) -> Floats:
        """P(names | evidence): (batch, *states) in the order of `names`.

        Raises `UsageError` unless one clique holds them all.
        """
        for clique, belief in zip(self.tree.cliques, self.cliques, strict=True):
            if set(names) <= set(clique):
                gone = tuple(1 + i for i, name in enumerate(clique) if name not in names)
                kept = [name for name in clique if name in names]
                summed: Floats = belief.sum(axis=gone)
                return summed.transpose([0, *(1 + kept.index(name) for name in names)])
        raise UsageError(f"no clique holds {', '.join(names)} together")


def calibrate(tree: JunctionTree, likelihoods: Mapping[str, Floats]) -> Beliefs:
    """Beliefs given likelihoods over tree variables and leaves.

    `likelihoods`: for each name (states,) or (batch, states), non-negative, on any scale; hard
    evidence is a one among zeros. Every batched one has the same length.
    Raises `EvidenceConflict` when nothing is batched and the evidence is impossible, and
    `UsageError` for an unknown name or a shape that does not fit.
    """
    batch = 0
    for name, given in likelihoods.items():
        if name not in tree.states:
            raise UsageError(f"no variable {name} in the tree")
        if given.ndim not in (1, 2) or given.shape[-1] != len(tree.states[name]):
            raise UsageError(f"likelihood of {name} has shape {given.shape}")
        if given.ndim == 2:
            if batch not in (0, len(given)):
                raise UsageError(f"likelihood of {name}: batch of {len(given)}, others {batch}")
            batch = len(given)
        if not np.all(given >= 0.0) or not np.all(np.isfinite(given)):
            raise UsageError(f"likelihood of {name}: an entry is negative or not finite")
    width = max(batch, 1)
    log = np.zeros(width)
    cliques = [np.repeat(table[None], width, axis=0) for table in tree.tables]
    for name, given in likelihoods.items():
        rows = np.atleast_2d(given)
        axes: tuple[str, ...] = (name,)
        if name in tree.leaves:
            table = tree.leaves[name]
            axes = table.parents
            rows = np.tensordot(rows, table.values, axes=(1, table.values.ndim - 1))
        home = next(i for i, clique in enumerate(tree.cliques) if set(axes) <= set(clique))
        cliques[home] = cliques[home] * spread(rows, axes, tree.cliques[home])
        log += _rescale(cliques[home])
    messages: dict[int, Floats] = {}
    for i in range(len(cliques) - 1, 0, -1):
        up = tree.parent[i]
        message = _onto(cliques[i], tree.cliques[i], tree.cliques[up])
        log += _rescale(message)
        messages[i] = message
        cliques[up] = cliques[up] * message
        log += _rescale(cliques[up])
    for i in range(1, len(cliques)):
        up = tree.parent[i]
        onto = _onto(cliques[up], tree.cliques[up], tree.cliques[i])
        back = _onto_self(messages[i], tree.cliques[up], tree.cliques[i])
        cliques[i] = cliques[i] * np.divide(onto, back, out=np.zeros_like(onto), where=back > 0)
    total = cliques[0].reshape(width, -1).sum(axis=1)
    with np.errstate(divide="ignore"):
        log = np.where(total > 0, log + np.log(total), -np.inf)
    if not batch and log[0] == -np.inf:
        between = tuple(likelihoods)
        raise EvidenceConflict(f"cannot hold together: {', '.join(between)}", between)
    scaled = []
    for clique in cliques:
        sums = clique.reshape(width, -1).sum(axis=1).reshape([-1] + [1] * (clique.ndim - 1))
        scaled.append(np.divide(clique, sums, out=np.zeros_like(clique), where=sums > 0))
    return Beliefs(tree, log, tuple(scaled))


def _rescale(values: Floats) -> Floats:
    """Divide each batch row by its largest entry, in place; the logs of what was divided by."""
    top = values.reshape(len(values), -1).max(axis=1)
    top = np.where(top > 0, top, 1.0)
    values /= top.reshape([-1] + [1] * (values.ndim - 1))
    return np.log(top)


def _onto(values: Floats, axes: tuple[str, ...], onto: tuple[str, ...]) -> Floats:
    """Sum out of `values` what is not in `onto`, shaped to broadcast against it."""
    gone = tuple(1 + i for i, name in enumerate(axes) if name not in onto)
    kept = tuple(name for name in axes if name in onto)
    return np.ascontiguousarray(spread(values.sum(axis=gone), kept, onto))


def _onto_self(message: Floats, axes: tuple[str, ...], onto: tuple[str, ...]) -> Floats:
    """A message that broadcasts against `axes`, shaped to broadcast against `onto`."""
    kept = tuple(name for name in axes if name in onto)
    picked = [width for width, name in zip(message.shape[1:], axes, strict=True) if name in onto]
    return spread(message.reshape([len(message), *picked]), kept, onto)


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
    values = np.zeros((sum(len(tree.states[n]) for n in ask.leaves), _end(columns)))
    outcomes = np.zeros(len(values))
    marginals = {name: beliefs.marginal(name)[0] for name in ask.targets}
    now = np.concatenate([marginals[name][1:] for name in ask.targets] or [np.zeros(0)])
    for leaf in ask.leaves:
        outcomes[rows[leaf]] = beliefs.marginal(leaf)[0]
        for j, row in enumerate(range(rows[leaf].start, rows[leaf].stop)):
            if outcomes[row] <= 0:
                continue
            weighed = _with(beliefs, leaf, j)
            for name in ask.targets:
                values[row, columns[name]] = weighed.marginal(name)[0, 1:] * outcomes[row]
    return Joints(rows, columns, values, outcomes, now)


def joints(
    tree: JunctionTree, beliefs: Beliefs, targets: Iterable[str], leaves: Iterable[str]
) -> Joints:
    """`answer(beliefs, prepare(tree, targets, leaves))`: for a question asked only once."""
    return answer(beliefs, prepare(tree, targets, leaves))


def _with(beliefs: Beliefs, leaf: str, outcome: int) -> Beliefs:
    """Beliefs with one more outcome entered."""
    tree = beliefs.tree
    hit = np.zeros(len(tree.states[leaf]))
    hit[outcome] = 1.0
    again = JunctionTree(
        tree.names,
        tree.states,
        tree.leaves,
        tree.order,
        tree.cliques,
        tree.parent,
        _unhugged(beliefs),
    )
    return calibrate(again, {leaf: hit})


def _unhugged(beliefs: Beliefs) -> tuple[Floats, ...]:
    """Clique tables whose product is the joint: each belief over its separator's."""
    tree = beliefs.tree
    tables = []
    for i, belief in enumerate(beliefs.cliques):
        if i == 0:
            tables.append(belief[0])
            continue
        gone = tuple(
            1 + j
            for j, name in enumerate(tree.cliques[i])
            if name not in tree.cliques[tree.parent[i]]
        )
        sep = belief.sum(axis=gone, keepdims=True)
        tables.append(np.divide(belief, sep, out=np.zeros_like(belief), where=sep > 0)[0])
    return tuple(tables)


def _slices(names: Sequence[str], widths: Sequence[int]) -> dict[str, slice]:
    ends = np.cumsum([0, *widths]).tolist()
    return {name: slice(a, b) for name, (a, b) in zip(names, pairwise(ends), strict=True)}


def _end(slices: Mapping[str, slice]) -> int:
    return max((one.stop for one in slices.values()), default=0)


@dataclass(frozen=True, slots=True)
class Stratum:
    """`rows` draws given that `variable` is in `state` (its index)."""

    variable: str
    state: int
    rows: int


def draw(
    beliefs: Beliefs, rows: int, seed: int, strata: Sequence[Stratum] = ()
) -> NDArray[np.int8]:
    """Joint samples of all tree variables from beliefs for one evidence set.

    Returns (rows + rows of the strata, variables), int8 state indices, columns in the order of
    `tree.names`: first `rows` draws from P(all | evidence), then for each stratum its draws from
    P(all | evidence, variable in state). The same seed gives the same draws.
    Raises `UsageError` for a stratum of probability zero.
    """
    tree = beliefs.tree
    noise = np.random.Generator(np.random.Philox(seed))
    parts = [_drawn(beliefs, rows, noise)]
    for one in strata:
        if beliefs.marginal(one.variable)[0, one.state] <= 0:
            raise UsageError(f"{one.variable}: state {one.state} has probability zero")
        parts.append(_drawn(_with(beliefs, one.variable, one.state), one.rows, noise))
    result = np.concatenate(parts)
    assert result.shape[1] == len(tree.names)
    return result


def _drawn(beliefs: Beliefs, rows: int, noise: np.random.Generator) -> NDArray[np.int8]:
    tree = beliefs.tree
    result = np.zeros((rows, len(tree.names)), dtype=np.int8)
    place = {name: i for i, name in enumerate(tree.names)}
    for row in range(rows):
        known: dict[str, int] = {}
        for clique, belief in zip(tree.cliques, beliefs.cliques, strict=True):
            picked = belief[0][tuple(known.get(name, slice(None)) for name in clique)]
            free = [name for name in clique if name not in known]
            flat = picked.ravel().cumsum()
            at = int(np.searchsorted(flat, noise.random() * flat[-1], side="right"))
            for name, state in zip(
                free, np.unravel_index(min(at, flat.size - 1), picked.shape), strict=True
            ):
                known[name] = int(state)
        for name, state in known.items():
            result[row, place[name]] = state
    return result
