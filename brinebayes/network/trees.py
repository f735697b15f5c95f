"""The compiled trees of a visit: one for the unit as it may be, one for a unit without faults.

A call is evidence on every fault at once: it comes when any is present, and with probability c when
none is. A variable for it would tie all faults together and make the tables ten times as large.
It is not needed, because for anything x that is seen or asked

    P(x, call) = P(x) - (1 - c) P(x, no fault)

and the second term is a network of its own, a small one. Nothing is lost in the difference: it is
at least c times either term.

In the same way a unit that works is a condition on many mechanisms at once, and P(works, x) is the
probability of x with these mechanisms held in their good states; see `evidence`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from brinebayes.knowledge import cache
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph, odds
from brinebayes.network.junction import Floats, Indices, JunctionTree, columns
from brinebayes.network.noise import NoiseTables
from brinebayes.network.odds import Odds
from brinebayes.network.paths import Paths
from brinebayes.network.propagate import Ask, Beliefs
from brinebayes.network.reduce import Reduced
from brinebayes.network.tables import TooLargeError
from brinebayes.record import record

#: Most table entries that a tree may have: an answer then takes some tenths of a second.
MOST_ENTRIES = 500_000

#: Trees kept for the life of the process, the oldest dropped first.
MOST_KEPT = 64


@record(eq=False)
class Chosen:
    """Where the entries of a tree stand in which a variable is in a state, for several of both."""

    pairs: tuple[tuple[str, int], ...]
    entries: Indices
    starts: Indices

    @staticmethod
    def of(tree: JunctionTree, pairs: Iterable[tuple[str, int]]) -> Chosen:
        parts, kept = [], tuple(pairs)
        for name, state in kept:
            at = tree.home((name,))
            one = tree.cliques[at]
            where = columns(tree.entries_of(at).reshape(one.shape), one.names, (name,))
            parts.append(where[:, state])
        starts = np.cumsum([0, *(len(part) for part in parts)])[:-1].astype(np.intp)
        return Chosen(kept, np.concatenate(parts) if parts else np.zeros(0, np.intp), starts)

    def probabilities(self, beliefs: Beliefs) -> Floats:
        """(pairs,): P(variable in state | evidence), for beliefs that are not batched."""
        if not self.pairs:
            return np.zeros(0)
        found: Floats = np.add.reduceat(beliefs.tables.take(self.entries), self.starts)
        return found


@record(eq=False)
class Side:
    """A tree with what is asked of it.

    `ask`: every observation that can be made now, with every path of every fault but the one on
    which it never is. `present`: (columns of the ask, faults), 1 where a path ends in the fault
    being present now. `faults`: the same paths, for their probabilities alone.
    """

    tree: JunctionTree
    ask: Ask
    present: Floats
    faults: Chosen


@record(eq=False)
class Trees:
    """Everything about a visit that does not depend on the site or on what was seen.

    `key` names all that they depend on. `paths`: of faults, mechanisms and site conditions.
    `ways`: fault -> (paths,) P(path | state at first). `asked`: observation -> its variable in the
    last epoch. `healthy` belongs to the network without any fault at first, told by `reduction`;
    `may_break`: fault -> (paths,) 1 where it was absent at first, for faults that a repair may have
    brought about.
    """

    key: str
    newest: Mapping[str, tuple[int, ...]]
    open_roots: tuple[str, ...]
    paths: Mapping[str, Paths]
    ways: Mapping[str, Floats]
    asked: Mapping[str, str]
    whole: Side
    healthy: Side
    reduction: Reduced
    odds: Odds
    may_break: Mapping[str, Floats]
    noise: NoiseTables

    def copy(self, id: str, epoch: int) -> int:
        """The epoch of the newest copy of `id`. Raises UsageError when there is none."""
        return graph.newest_copy(self.newest, id, epoch)

    def enter(self, id: str, epoch: int, likelihood: Floats) -> tuple[str, Floats]:
        """The variable that stands for `id`, and a likelihood over its states."""
        copy = self.copy(id, epoch)
        if id in self.paths:
            return id, likelihood[self.paths[id].at(copy)]
        return graph.node_name(id, copy), likelihood


@record
class Refused:
    """Kept in the place of trees that would be too large, so that this is found out once."""

    key: str
    entries: int


_kept: dict[tuple[str, tuple[str, ...], frozenset[tuple[str, int]]], Trees | Refused] = {}


def trees_for(model: Model, done: Iterable[str], seen: Iterable[tuple[str, int]]) -> Trees:
    """The trees for a visit with these repairs done and these (id, epoch) seen.

    Kept in memory, and by model hash in the user's cache. Raises UsageError for unknown ids and
    TooLargeError when the tables would grow beyond the budget.
    """
    done = tuple(done)
    asked = (model.hash, done, frozenset(seen))
    found = _kept.get(asked)
    if found is None:
        keep = _keep(model, done, asked[2])
        key = repr((model.hash, done, keep))
        found = next((one for one in _kept.values() if one.key == key), None)
        if found is None:
            found = cache.remember("trees", key, lambda: _plant(model, done, keep, key))
        while len(_kept) >= MOST_KEPT:
            del _kept[next(iter(_kept))]
        _kept[asked] = found
        if isinstance(found, Trees):
            odds.keep(model, found.odds)
    if isinstance(found, Refused):
        raise TooLargeError(found.entries)
    return found


def _plant(
    model: Model, done: tuple[str, ...], keep: tuple[tuple[str, int], ...], key: str
) -> Trees | Refused:
    # What makes trees is not needed when they are kept, and is not imported then.
    from brinebayes.network.planting import plant

    return plant(model, done, keep, key, MOST_ENTRIES)


def _keep(
    model: Model, done: tuple[str, ...], seen: Iterable[tuple[str, int]]
) -> tuple[tuple[str, int], ...]:
    """(id, epoch of the copy) of all that must be in the network: what was seen, what can be
    seen now, and what a working unit needs now and needed at every proof."""
    newest = graph.versions(model, done)
    last = len(done)
    wanted = {(name, last) for name in (*graph.observations(model), *model.about.works)}
    wanted |= {(name, 0) for name in model.complaints} if not done else set()
    for name, epoch in seen:
        at_proof = ((needed, epoch) for needed in model.about.works)
        wanted.update(at_proof if name in (graph.PROOF, graph.WORKS) else ((name, epoch),))
    return tuple(sorted({(name, graph.newest_copy(newest, name, epoch)) for name, epoch in wanted}))
