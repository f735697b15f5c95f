"""The compiled trees of a visit: one for the unit as it may be, one for a unit without faults.

A call is evidence on every fault at once: it comes when any is present, and with probability c when
none is. A variable for it would tie all faults together and make the tables thirty times as large.
It is not needed, because for anything x that is seen or asked

    P(x, call) = P(x) - (1 - c) P(x, no fault)

and the second term is a network of its own, a small one. Nothing is lost in the difference: it is
at least c times either term.

In the same way `works` is a condition on many mechanisms at once; P(works, x) is the probability
of x with these mechanisms held in their good states. Only where a proof was seen does `works`
become a variable of the tree.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from brinebayes.errors import ModelError
from brinebayes.knowledge import cache
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.build import World, build, node_name, variable_name
from brinebayes.network.compile import (
    TRIES,
    Floats,
    Indices,
    JunctionTree,
    columns,
    compile_network,
)
from brinebayes.network.noise import NoiseTables, noise_tables
from brinebayes.network.order import bits, extended, moral_graph, search, total_size
from brinebayes.network.propagate import Ask, Beliefs, prepare
from brinebayes.network.reduce import Reduced, reduced
from brinebayes.network.tables import Network

#: Most table entries that a tree may have; a visit that needs more is refused.
MOST_ENTRIES = 2_000_000

#: Random ties tried anew after a repair, besides the order of the first epoch made longer.
FEWER_TRIES = 2

#: Trees kept for the life of the process, the oldest dropped first.
MOST_KEPT = 64


@dataclass(frozen=True, eq=False)
class Present:
    """Where the entries of a tree stand in which each of some faults is present."""

    entries: Indices
    starts: Indices

    @staticmethod
    def of(tree: JunctionTree, faults: Iterable[str]) -> Present:
        parts = []
        for name in faults:
            at = tree.home((name,))
            one = tree.cliques[at]
            parts.append(columns(tree.entries_of(at).reshape(one.shape), one.names, (name,))[:, 1])
        starts = np.cumsum([0, *(len(part) for part in parts)])[:-1].astype(np.intp)
        return Present(np.concatenate(parts) if parts else np.zeros(0, dtype=np.intp), starts)

    def probabilities(self, beliefs: Beliefs) -> Floats:
        """(faults,): P(present | evidence), for beliefs that are not batched."""
        if not len(self.starts):
            return np.zeros(0)
        found: Floats = np.add.reduceat(beliefs.tables.take(self.entries), self.starts)
        return found


@dataclass(frozen=True, eq=False)
class Trees:
    """Everything about a visit that does not depend on the site or on what was seen.

    `key` names all that they depend on. `now`: the variable of each fault in the last epoch;
    `asked`: observation -> its variable in the last epoch; `good`: variable of each mechanism that
    `works` needs -> 1 where it is good.
    `healthy` belongs to the network without any fault in the first epoch, told by `reduction`;
    `harmed`: the places of the faults that may be there all the same, brought about by a repair.
    """

    key: str
    newest: Mapping[str, tuple[int, ...]]
    open_roots: tuple[str, ...]
    now: tuple[str, ...]
    asked: Mapping[str, str]
    good: Mapping[str, Floats]
    tree: JunctionTree
    ask: Ask
    present: Present
    healthy: JunctionTree
    healthy_ask: Ask
    by_harm: Present
    harmed: tuple[int, ...]
    reduction: Reduced
    noise: NoiseTables

    def name(self, id: str, epoch: int) -> str:
        """The variable that stands for `id` in `epoch`. Raises UsageError when there is none."""
        return variable_name(self.newest, id, epoch)


_kept: dict[tuple[str, tuple[str, ...], frozenset[tuple[str, int]]], Trees] = {}


def trees_for(model: Model, done: Iterable[str], seen: Iterable[tuple[str, int]]) -> Trees:
    """The trees for a visit with these repairs done and these (id, epoch) seen.

    Kept in memory, and by model hash in the user's cache. Raises UsageError for unknown ids and
    ModelError when a table would grow beyond the budget.
    """
    done = tuple(done)
    asked = (model.hash, done, frozenset(seen))
    found = _kept.get(asked)
    if found is None:
        keep = _keep(model, done, asked[2])
        key = repr((model.hash, done, keep))
        found = next((one for one in _kept.values() if one.key == key), None)
        if found is None:
            found = cache.remember("trees", key, lambda: _make(model, done, keep, key))
        while len(_kept) >= MOST_KEPT:
            del _kept[next(iter(_kept))]
        _kept[asked] = found
    return found


def _keep(
    model: Model, done: tuple[str, ...], seen: Iterable[tuple[str, int]]
) -> tuple[tuple[str, int], ...]:
    """(id, epoch of the copy) of all that must be in the network: what was seen, what can be
    seen now, and what `works` needs now."""
    newest = graph.versions(model, done)
    last = len(done)
    wanted = {(name, last) for name in (*graph.observations(model), *model.about.works)}
    wanted |= {(name, 0) for name in model.complaints} if not done else set()
    wanted |= set(seen)
    for name, epoch in wanted:
        variable_name(newest, name, epoch)
    return tuple(sorted({(name, newest[name][epoch]) for name, epoch in wanted}))


def _make(
    model: Model, done: tuple[str, ...], keep: tuple[tuple[str, int], ...], key: str
) -> Trees:
    world = build(model, {}, done, keep)
    last = len(done)
    seen_only = {*graph.observations(model), *model.complaints, graph.PROOF}
    leaves = [node_name(name, epoch) for name, epoch in keep if name in seen_only]
    now = tuple(world.name(fault, last) for fault in model.faults)
    asked = {name: world.name(name, last) for name in graph.observations(model)}
    good = {
        world.name(name, last): np.array(
            [float(s in graph.named_states(states)) for s in model.mechanisms[name].states]
        )
        for name, states in model.about.works.items()
    }
    tree = _compiled(world.network, leaves, world.open_roots, _order(model, done, world))
    absent = dict.fromkeys(model.faults, 0)
    small = reduced(world.network, absent, world.open_roots, leaves)
    left = small.network.by_name
    healthy = _compiled(
        small.network,
        [name for name in leaves if name in left],
        [name for name in world.open_roots if name in left],
        None,
    )
    harmed = [i for i, name in enumerate(now) if name in left]
    by_harm = [now[i] for i in harmed]
    still_open = [name for name in dict.fromkeys(asked.values()) if name in left]
    return Trees(
        key=key,
        newest=world.newest,
        open_roots=world.open_roots,
        now=now,
        asked=asked,
        good=good,
        tree=tree,
        ask=prepare(tree, now, dict.fromkeys(asked.values())),
        present=Present.of(tree, now),
        healthy=healthy,
        healthy_ask=prepare(healthy, by_harm, still_open),
        by_harm=Present.of(healthy, by_harm),
        harmed=tuple(harmed),
        # What the tree was made of is not needed any more.
        reduction=replace(small, network=Network((), ())),
        noise=noise_tables(model, world.steps, tree.names),
    )


def _compiled(
    network: Network, leaves: list[str], open_roots: Iterable[str], order: list[str] | None
) -> JunctionTree:
    """The tree, unless its tables would be too large; that is known before they are made."""
    names = sorted(set(network.names) - set(leaves))
    number = {name: i for i, name in enumerate(names)}
    families = [
        [number[name] for name in (*table.parents, table.variable) if name in number]
        for table in network.tables
    ]
    near = moral_graph(families, len(names))
    states = [len(network.states(name)) for name in names]
    found = search(near, states, TRIES if order is None else FEWER_TRIES)
    if order is not None:
        around = {name: [names[j] for j in bits(near[i])] for i, name in enumerate(names)}
        longer = [number[name] for name in extended(order, around)]
        found = min(found, longer, key=lambda one: total_size(near, states, one))
    entries = total_size(near, states, found)
    if entries > MOST_ENTRIES:
        raise ModelError(
            f"the tables of this model would have {entries} entries after so many repairs, more"
            f" than {MOST_ENTRIES}; close the visit and open a new one"
        )
    order = [names[i] for i in found]
    return compile_network(network, leaves=leaves, open_roots=open_roots, order=order)


def _order(model: Model, done: tuple[str, ...], world: World) -> list[str] | None:
    """The elimination order of the visit's first epoch, copies next to their originals."""
    if not done:
        return None
    first = {name: i for i, name in enumerate(trees_for(model, (), ()).tree.order)}
    inner = [name for name in world.network.names if world.like.get(name, name) in first]
    return sorted(inner, key=lambda name: (first[world.like.get(name, name)], name))
