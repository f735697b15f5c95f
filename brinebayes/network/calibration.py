"""Calibration: evidence into a junction tree, one sweep to the root, one back.

Tables are (entries,) for one evidence set and (entries, batch) for several: the batch stands last
inside, where numpy runs along it, and first in every result. Source: Lauritzen & Spiegelhalter
1988; Jensen, Lauritzen & Olesen 1990 (division by the old message).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import accumulate

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinebayes.errors import EvidenceConflict, UsageError
from brinebayes.network.junction import Floats, JunctionTree, columns
from brinebayes.record import record

#: Divisors are kept from zero by this; what they divide is then zero too.
TINY = 1e-300
#: Numbers in a batch's tables that are worked on at once (8 MB: they stay in the cache).
CHUNK = 1_000_000

# Made and freed at once, never touched. From then on the allocator of glibc keeps freed blocks up
# to this size (16 MB) for reuse instead of handing them back to the system; without it half the
# time of an answer went into fresh pages.
np.empty(2_000_000)


@record(eq=False)
class Beliefs:
    """A calibrated tree. Every result has a leading batch axis (1 when nothing was batched).

    `log_evidence`: (batch,), natural log of the probability of the evidence, likelihoods counted
    on the scale they were given in; -inf where the evidence is impossible (all marginals are 0
    there). `tables`: (entries,) or (entries, batch), P(clique | evidence); `separators`: (slots,)
    or (slots, batch), P(separator | evidence).
    """

    tree: JunctionTree
    log_evidence: Floats
    tables: Floats
    separators: Floats

    def marginal(self, name: str) -> Floats:
        """P(name | evidence): (batch, states). For a leaf: of a second, independent reading."""
        if name not in self.tree.states:
            raise UsageError(f"no variable {name} in the tree")
        site = self.tree.site_of[name]
        axes = self.tree.cliques[site.clique].names
        joint = self._summed(site.clique, [axes[i] for i in site.spans])
        if site.table is not None:
            joint = site.table.T @ joint
        return np.atleast_2d(joint.T)

    def joint_of(self, names: Sequence[str]) -> Floats:
        """P(names | evidence): (batch, *states) in the order of `names`.

        Raises `UsageError` unless one clique holds them all, each named once.
        """
        if len(set(names)) < len(names):
            raise UsageError(f"a name is repeated among {', '.join(names)}")
        joint = np.atleast_2d(self._summed(self.tree.home(names), names).T)
        return joint.reshape(-1, *(len(self.tree.states[name]) for name in names))

    def _summed(self, clique: int, names: Sequence[str]) -> Floats:
        """(states of `names`,) or (states of `names`, batch)."""
        one = self.tree.cliques[clique]
        where = columns(self.tree.entries_of(clique).reshape(one.shape), one.names, names)
        summed: Floats = self.tables.take(where, axis=0).sum(axis=0)
        return summed


def calibrate(tree: JunctionTree, likelihoods: Mapping[str, ArrayLike]) -> Beliefs:
    """Beliefs given likelihoods over tree variables and leaves.

    `likelihoods`: for each name (states,) or (batch, states), not negative, on any scale; hard
    evidence is a one among zeros. All that are batched have the same length. Each open root of
    the tree needs one: its prior. The order of the names changes nothing, not even the last bit.
    A batch is held in memory whole, entries x batch numbers; for very many see `posteriors`.
    Raises `EvidenceConflict` when nothing is batched and the evidence is impossible (`between`
    names observations none of which can be left out), `UsageError` for an unknown name, a shape
    that does not fit or an open root without prior.
    """
    names, flat = _joined(tree, likelihoods)
    beliefs = _calibrated(tree, names, flat)
    if flat.ndim == 1 and beliefs.log_evidence[0] == -np.inf:
        between = _conflict(tree, names, flat)
        raise EvidenceConflict(f"cannot hold together: {', '.join(between)}", between)
    return beliefs


def log_evidence(tree: JunctionTree, likelihoods: Mapping[str, ArrayLike]) -> Floats:
    """(batch,): natural log of the probability of the evidence alone, in half the time.

    As `calibrate`, but impossible evidence is -inf whether it is batched or not.
    """
    log, _, _, _ = _gathered(tree, *_joined(tree, likelihoods))
    return np.atleast_1d(log)


def posteriors(
    tree: JunctionTree, likelihoods: Mapping[str, ArrayLike], targets: Sequence[str]
) -> tuple[Floats, tuple[Floats, ...]]:
    """Only the log evidence (batch,) and the marginals (batch, states) of some variables.

    Runs through the batch in chunks, so that memory does not grow with it but for the results.
    """
    names, flat = _joined(tree, likelihoods)
    logs: list[Floats] = []
    found: list[list[Floats]] = [[] for _ in targets]
    for chunk in _chunks(flat, max(1, CHUNK // tree.entries)):
        beliefs = _calibrated(tree, names, chunk)
        logs.append(beliefs.log_evidence)
        for parts, target in zip(found, targets, strict=True):
            parts.append(beliefs.marginal(target))
    return np.concatenate(logs), tuple(np.concatenate(parts) for parts in found)


def _chunks(flat: Floats, width: int) -> Iterator[Floats]:
    if flat.ndim == 1:
        yield flat
        return
    for start in range(0, flat.shape[1], width):
        yield np.ascontiguousarray(flat[:, start : start + width])


# --- evidence ----------------------------------------------------------------------------------


def _joined(tree: JunctionTree, given: Mapping[str, ArrayLike]) -> tuple[tuple[str, ...], Floats]:
    """All likelihoods one below the other: names, (states of all) or (states of all, batch).

    Open roots come first, then variables and leaves in the tree's order.
    """
    rank = tree.rank
    try:
        names = tuple(sorted(given, key=rank.__getitem__))
    except KeyError as unknown:
        raise UsageError(f"no variable {unknown.args[0]} in the tree") from None
    if names[: len(tree.open_roots)] != tree.open_roots:
        missing = next(name for name in tree.open_roots if name not in given)
        raise UsageError(f"{missing} is an open root of the tree: its prior must be given")
    arrays = [np.asarray(given[name], dtype=np.float64) for name in names]
    widths = {len(array) for array in arrays if array.ndim == 2}
    if len(widths) > 1:
        raise UsageError(f"likelihoods come in batches of different lengths: {sorted(widths)}")
    for name, array in zip(names, arrays, strict=True):
        if array.ndim not in (1, 2) or array.shape[-1] != len(tree.states[name]):
            raise UsageError(
                f"likelihood of {name} has shape {array.shape} for {len(tree.states[name])} states"
            )
    if widths:
        width = widths.pop()
        arrays = [np.broadcast_to(array, (width, array.shape[-1])).T for array in arrays]
    flat = np.concatenate(arrays) if arrays else np.zeros(0)
    if flat.size and not (flat.min() >= 0.0 and flat.max() < np.inf):
        bad = [n for n, a in zip(names, arrays, strict=True) if not np.all((a >= 0) & (a < np.inf))]
        raise UsageError(f"likelihood of {', '.join(bad)}: an entry is negative or not finite")
    return names, flat


def _enter(tree: JunctionTree, names: Sequence[str], flat: Floats, tables: Floats) -> Floats:
    """Multiply all likelihoods into the tables, in place; the log of what was divided out.

    Each is scaled to a largest entry of one, so that sixty of them do not underflow.
    """
    if not names:
        return np.zeros(flat.shape[1:])
    widths = [len(tree.states[name]) for name in names]
    scaled, log = _scaled(flat, widths)
    for entries, places in tree.priors:
        tables[entries] *= scaled.take(places, axis=0)
    opened = len(tree.open_roots)
    ends = list(accumulate(widths))
    sites = [tree.site_of[name] for name in names[opened:]]
    weights = [
        scaled[end - width : end]
        if site.table is None
        else np.dot(site.table, scaled[end - width : end])
        for site, width, end in zip(sites, widths[opened:], ends[opened:], strict=True)
    ]
    if not weights:
        return log
    widths = [len(weight) for weight in weights]
    scaled, more = _scaled(np.concatenate(weights), widths)
    start = 0
    for site, width in zip(sites, widths, strict=True):
        tables[tree.entries_of(site.clique)] *= scaled[start : start + width].take(
            tree.agrees_of(site), axis=0
        )
        start += width
    return log + more


def _scaled(flat: Floats, widths: Sequence[int]) -> tuple[Floats, Floats]:
    """Each of some likelihoods over its largest entry; the log of all that was divided out."""
    starts = np.array([0, *accumulate(widths[:-1])], dtype=np.intp)
    top = np.maximum(np.maximum.reduceat(flat, starts, axis=0), TINY)
    return flat / top.repeat(widths, axis=0), np.add.reduce(np.log(top), axis=0)


def _conflict(tree: JunctionTree, names: tuple[str, ...], flat: Floats) -> tuple[str, ...]:
    """Observations that cannot hold together and none of which can be left out.

    Leaves out one after the other for good as long as the rest stays impossible.
    """
    ends = np.cumsum([len(tree.states[name]) for name in names]).tolist()
    starts = [0, *ends[:-1]]
    trial = flat.copy()
    between = []
    for name, start, end in zip(names, starts, ends, strict=True):
        kept = trial[start:end].copy()
        trial[start:end] = 1.0
        if _calibrated(tree, names, trial).log_evidence[0] > -np.inf:
            trial[start:end] = kept
            between.append(name)
    return tuple(between)


# --- the two sweeps ----------------------------------------------------------------------------


def _calibrated(tree: JunctionTree, names: Sequence[str], flat: Floats) -> Beliefs:
    """Both sweeps for one evidence set or one batch; an impossible one gives -inf and zeros."""
    log, tables, messages, possible = _gathered(tree, names, flat)
    separators = _distribute(tree, tables, messages, possible)
    return Beliefs(tree, np.atleast_1d(log), tables, separators)


def _gathered(
    tree: JunctionTree, names: Sequence[str], flat: Floats
) -> tuple[Floats, Floats, Floats, NDArray[np.bool_]]:
    """Evidence entered and one sweep towards the root: log probability, tables and messages, and
    whether the evidence is possible."""
    tail = flat.shape[1:]
    tables = np.empty((tree.entries, *tail))
    tables[:] = tree.potentials.reshape(-1, *(1 for _ in tail))
    log = _enter(tree, names, flat, tables)
    messages, scales = _collect(tree, tables)
    possible = messages[0] > 0.0
    log = np.where(possible, log + np.add.reduce(np.log(scales), axis=0), -np.inf)
    return log, tables, messages, possible


def _collect(tree: JunctionTree, tables: Floats) -> tuple[Floats, Floats]:
    """Towards the root: tables take in the messages of their children.

    Returns the messages as summed (slots, ...) and by what each was divided on its way (cliques,
    ...): its largest entry.
    """
    tail = tables.shape[1:]
    messages = np.empty((tree.slots, *tail))
    scaled = np.empty((tree.slots, *tail))
    scales = np.empty((len(tree.cliques), *tail))
    done = 0
    for level in reversed(tree.levels):
        for band in level.bands:
            matrix = tables[band.start : band.stop].reshape(band.rest, -1, *tail)
            np.add.reduce(matrix, axis=0, out=messages[band.first : band.last])
        sums = messages[level.first : level.last]
        top = np.maximum(np.maximum.reduceat(sums, level.heads, axis=0), TINY)
        np.divide(sums, top.take(level.owner, axis=0), out=scaled[level.first : level.last])
        scales[done : done + len(top)] = top
        done += len(top)
        for turn in level.turns:
            tables[turn.entries] *= scaled.take(turn.slots, axis=0)
    return messages, scales


def _distribute(
    tree: JunctionTree, tables: Floats, messages: Floats, possible: NDArray[np.bool_]
) -> Floats:
    """Back from the root: tables become P(clique | evidence). Returns P(separator | evidence)."""
    tail = tables.shape[1:]
    separators = np.empty(messages.shape)
    separators[0] = possible
    for level in tree.levels:
        if level.out_of:
            sums = [np.add.reduce(tables.take(entries, axis=0), axis=0) for entries in level.out_of]
            separators[level.first : level.last] = np.concatenate(sums).take(level.order, axis=0)
        new, old = separators[level.first : level.last], messages[level.first : level.last]
        ratio = new / np.maximum(old, TINY)
        for band in level.bands:
            matrix = tables[band.start : band.stop].reshape(band.rest, -1, *tail)
            matrix *= ratio[band.first - level.first : band.last - level.first]
    return separators
