"""How the trees of a visit are made; imported only when none are kept."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from brinebayes.knowledge.schema import Model
from brinebayes.network import graph, odds
from brinebayes.network.build import World, build
from brinebayes.network.compile import TRIES, compile_network
from brinebayes.network.junction import JunctionTree
from brinebayes.network.noise import noise_tables
from brinebayes.network.order import WHILE_WAITING, moral_graph, search, total_size
from brinebayes.network.ordering import chain_orders, settled_first
from brinebayes.network.propagate import prepare
from brinebayes.network.reduce import reduced
from brinebayes.network.tables import Network, TooLargeError
from brinebayes.network.trees import Chosen, Refused, Side, Trees

#: Random ties tried for an elimination order after a repair, when somebody is waiting.
AGAIN = 3


def plant(
    model: Model,
    done: tuple[str, ...],
    keep: tuple[tuple[str, int], ...],
    key: str,
    most_entries: int,
) -> Trees | Refused:
    """The trees of a visit in which `keep` (id, epoch of the copy) is seen or asked."""
    names = {*graph.observations(model), *model.complaints}
    leaves = [graph.node_name(name, epoch) for name, epoch in keep if name in names]
    try:
        entries, world, order = _smallest(model, done, keep, leaves, most_entries)
    except TooLargeError as refusal:
        return Refused(key, refusal.entries)
    if entries > most_entries:
        return Refused(key, entries)
    tree = compile_network(world.network, leaves=leaves, open_roots=world.open_roots, order=order)
    asked = {name: world.name(name, len(done)) for name in graph.observations(model)}
    first = {fault: world.paths[fault].at(0) for fault in model.faults}
    known = {f: int(np.flatnonzero(at == 0)[0]) for f, at in first.items() if (at == 0).sum() == 1}
    small = reduced(world.network, known, world.open_roots, leaves)
    left = small.network.by_name
    healthy = compile_network(
        small.network,
        leaves=[name for name in leaves if name in left],
        open_roots=[name for name in world.open_roots if name in left],
        order=[name for name in order if name in left],
    )
    kept = (*model.faults, *model.mechanisms, *model.site)
    return Trees(
        key=key,
        newest=world.newest,
        open_roots=world.open_roots,
        paths={name: world.paths[name] for name in kept if name in world.paths},
        ways=world.ways,
        asked=asked,
        whole=_side(model, world, tree, tuple(model.faults), asked.values()),
        healthy=_side(model, world, healthy, tuple(f for f in first if f in left), asked.values()),
        # What the tree was made of is not needed any more.
        reduction=replace(small, network=Network((), ())),
        odds=odds.base(model),
        may_break={f: (at == 0).astype(np.float64) for f, at in first.items() if f in left},
        noise=noise_tables(model, world.steps, world.paths, tree.names),
    )


def _side(
    model: Model, world: World, tree: JunctionTree, faults: Sequence[str], asked: Iterable[str]
) -> Side:
    pairs = [(f, k) for f in faults for k in range(1, len(world.paths[f]))]
    number = {fault: i for i, fault in enumerate(model.faults)}
    present = np.zeros((len(pairs), len(number)))
    for row, (fault, path) in enumerate(pairs):
        paths = world.paths[fault]
        present[row, number[fault]] = paths.states[path, -1]
    open_still = [name for name in dict.fromkeys(asked) if name in tree.states]
    return Side(tree, prepare(tree, faults, open_still), present, Chosen.of(tree, pairs))


def _smallest(
    model: Model,
    done: tuple[str, ...],
    keep: tuple[tuple[str, int], ...],
    leaves: Sequence[str],
    most_entries: int,
) -> tuple[int, World, list[str]]:
    """The network with chains as they are, or with what no repair touches first; whichever leads
    to smaller tables; their entries, and the elimination order. Nothing is made of them yet.

    Raises TooLargeError where one table alone has more than `most_entries` in both.
    """
    orders = [chain_orders(model)]
    if done:
        orders.append(settled_first(model, done))
    found: list[tuple[int, World, list[str]]] = []
    refusals: list[TooLargeError] = []
    for order in orders:
        try:
            world = build(model, {}, done, keep, order, most_entries)
        except TooLargeError as refusal:
            refusals.append(refusal)
            continue
        entries, elimination = _elimination(world.network, leaves, bool(done))
        found.append((entries, world, elimination))
    if not found:
        raise min(refusals, key=lambda one: one.entries)
    return min(found, key=lambda one: one[0])


def _elimination(network: Network, leaves: Sequence[str], waiting: bool) -> tuple[int, list[str]]:
    """A good elimination order and the table entries that it leads to."""
    names = sorted(set(network.names) - set(leaves))
    number = {name: i for i, name in enumerate(names)}
    families = [
        [number[name] for name in (*table.parents, table.variable) if name in number]
        for table in network.tables
    ]
    near = moral_graph(families, len(names))
    states = [len(network.states(name)) for name in names]
    found = search(near, states, AGAIN, WHILE_WAITING) if waiting else search(near, states, TRIES)
    return total_size(near, states, found), [names[i] for i in found]
