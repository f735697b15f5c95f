"""Elimination orders: which variable to sum out next so that the tables stay small.

A graph is a list of bit masks: bit j of `near[i]` says that i and j are neighbours. Variables are
numbered by name, so that ties fall the same way whatever the hash seed or the order of a file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import combinations
from math import log2, prod
from random import Random

#: Price of eliminating a vertex: (neighbours of each vertex, states of each vertex, vertex).
Price = Callable[[Sequence[int], Sequence[int], int], float]


def bits(mask: int) -> list[int]:
    """Positions of the ones, ascending."""
    found = []
    while mask:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return found


def size(mask: int, states: Sequence[int]) -> int:
    """Entries of a table over the vertices of `mask`."""
    return prod([states[i] for i in bits(mask)])


def moral_graph(families: Iterable[Iterable[int]], count: int) -> list[int]:
    """Neighbours of each of `count` vertices when every family is joined up."""
    near = [0] * count
    for family in families:
        for i, j in combinations(set(family), 2):
            near[i] |= 1 << j
            near[j] |= 1 << i
    return near


def min_weight(near: Sequence[int], states: Sequence[int], v: int) -> float:
    """Log of the size of the table that eliminating `v` makes. Source: Kjaerulff 1990."""
    return log2(size(near[v], states) * states[v])


def min_fill(near: Sequence[int], states: Sequence[int], v: int) -> float:
    """Number of edges that eliminating `v` adds. Source: Kjaerulff 1990."""
    around = near[v]
    count = around.bit_count()
    present = 0
    for i in bits(around):
        present += (near[i] & around).bit_count()
    return (count * (count - 1) - present) / 2


def weighted_fill(near: Sequence[int], states: Sequence[int], v: int) -> float:
    """As `min_fill`, each edge counted as the product of the states at its ends."""
    around = near[v]
    total = 0
    for i in bits(around):
        for j in bits(around & ~near[i] & (-2 << i)):
            total += states[i] * states[j]
    return float(total)


#: What the search tries, first prices first; later ones break ties.
PRICES: tuple[tuple[Price, ...], ...] = (
    (min_fill,),
    (weighted_fill,),
    (min_fill, min_weight),
    (min_weight, min_fill),
)


#: Enough where somebody waits: on networks of this kind it is nearly always the best of them.
WHILE_WAITING: tuple[tuple[Price, ...], ...] = ((weighted_fill,),)


def greedy(
    near: Sequence[int], states: Sequence[int], prices: Sequence[Price], chance: Random | None
) -> list[int]:
    """Eliminate the cheapest vertex until none is left; returns the order.

    Prices are rounded before they are compared, so that the last bits of a logarithm decide
    nothing. Ties fall by `chance` if given, then by number.
    """
    graph = list(near)

    def priced(v: int) -> tuple[float, ...]:
        luck = chance.random() if chance else 0.0
        return (*(round(price(graph, states, v), 6) for price in prices), luck, v)

    cost = {v: priced(v) for v in range(len(graph))}
    order = []
    while cost:
        v = int(min(cost.values())[-1])
        del cost[v]
        order.append(v)
        # The price of a neighbour changes; that of a vertex further off only when it sees a new
        # edge, that is when it has two neighbours between which one was added.
        stale = graph[v]
        for i in bits(graph[v]):
            added = graph[v] & ~graph[i] & ~(1 << i)
            graph[i] = (graph[i] | added) & ~(1 << v)
            if added:
                stale |= graph[i]
        for i in bits(stale):
            if i in cost:
                cost[i] = priced(i)
    return order


def eliminated(near: Sequence[int], order: Sequence[int]) -> list[int]:
    """The cluster (vertex and its neighbours when its turn comes) of each step, as masks."""
    graph = list(near)
    clusters = []
    for v in order:
        around = graph[v]
        for i in bits(around):
            graph[i] = (graph[i] | around) & ~(1 << i) & ~(1 << v)
        clusters.append(around | 1 << v)
    return clusters


def next_cluster(clusters: Sequence[int], order: Sequence[int]) -> list[int]:
    """For each step the step at which its cluster's next vertex is eliminated (-1: none left)."""
    step = {v: i for i, v in enumerate(order)}
    return [
        min((step[j] for j in bits(cluster & ~(1 << v))), default=-1)
        for cluster, v in zip(clusters, order, strict=True)
    ]


def total_size(near: Sequence[int], states: Sequence[int], order: Sequence[int]) -> int:
    """Table entries over the maximal cliques that an order makes."""
    clusters = eliminated(near, order)
    inside = set()
    for cluster, after in zip(clusters, next_cluster(clusters, order), strict=True):
        if after >= 0 and clusters[after].bit_count() == cluster.bit_count() - 1:
            inside.add(after)
    return sum(size(c, states) for i, c in enumerate(clusters) if i not in inside)


def search(
    near: Sequence[int],
    states: Sequence[int],
    tries: int,
    tried: Sequence[Sequence[Price]] = PRICES,
) -> list[int]:
    """The best order among greedy ones: ties by name first, then `tries` times by seeded chance.

    Deterministic. No order is best by every price; on networks of this kind random ties save
    another fifth of the entries.
    """
    best: tuple[int, list[int]] | None = None
    for seed in range(tries + 1):
        for prices in tried:
            order = greedy(near, states, prices, Random(seed) if seed else None)
            found = (total_size(near, states, order), order)
            best = found if best is None else min(best, found)
    return best[1] if best else []


def extended(order: Iterable[str], near: Mapping[str, Iterable[str]]) -> list[str]:
    """`order` for the variables of `near`: strangers dropped, missing ones put in place.

    A copy goes right after its namesake (`x@2` after `x@1`, that after `x`); any other new
    variable right before the first of its neighbours. Ties by name.
    """
    known = [name for name in dict.fromkeys(order) if name in near]
    place: dict[str, tuple[int, int, str]] = {name: (i, 0, "") for i, name in enumerate(known)}
    stems: dict[str, int] = {}
    for i, name in enumerate(known):
        stems[_stem(name)] = i
    for name in sorted(name for name in near if name not in place):
        if _stem(name) in stems:
            place[name] = (stems[_stem(name)], 1, name)
        else:
            first = min((place[other][0] for other in near[name] if other in place), default=0)
            place[name] = (first, -1, name)
    return sorted(near, key=place.__getitem__)


def _stem(name: str) -> str:
    return name.partition("@")[0]
