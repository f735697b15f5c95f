"""Compile a network into a junction tree: what calibration and the joints need, computed once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import UsageError
from brinebayes.network.tables import Network, Table


@dataclass(frozen=True, eq=False)
class JunctionTree:
    """A compiled network; frozen, picklable.

    `names` are the variables in the tree (everything but the leaves), in the network's order;
    `states` holds the states of these and of the leaves; `order` is the elimination order that
    made the cliques; `entries` counts all table entries, `largest` those of the largest clique.
    """

    names: tuple[str, ...]
    states: Mapping[str, tuple[str, ...]]
    leaves: Mapping[str, Table]
    order: tuple[str, ...]
    cliques: tuple[tuple[str, ...], ...]
    parent: tuple[int, ...]
    tables: tuple[NDArray[np.float64], ...]

    @property
    def entries(self) -> int:
        """Table entries over all cliques."""
        return sum(table.size for table in self.tables)

    @property
    def largest(self) -> int:
        """Table entries of the largest clique."""
        return max((table.size for table in self.tables), default=0)


def compile_network(
    network: Network,
    *,
    leaves: Iterable[str] = (),
    order: Iterable[str] | None = None,
    open_roots: Iterable[str] = (),
) -> JunctionTree:
    """The junction tree of `network`.

    `leaves`: observation nodes without children. They stay out of the tree; their parents lie
    together in one clique, and a likelihood over a leaf is multiplied in over its parents.
    `open_roots`: roots whose own table is replaced by ones, so that the caller supplies the prior
    as a likelihood at calibration.
    `order`: an elimination order to follow; names that are not in the tree are skipped, variables
    that it does not mention are put in place (`x@2` right after `x@1` or `x`).
    Raises `UsageError` when a leaf has children or an open root has parents.
    Source: Lauritzen & Spiegelhalter 1988; Jensen, Lauritzen & Olesen 1990.
    """
    out = dict.fromkeys(leaves)
    opened = set(open_roots)
    for name in out:
        if network.children(name):
            raise UsageError(f"{name} has children and cannot be left out of the tree")
    for name in opened:
        if network.parents(name):
            raise UsageError(f"{name} has parents; only a root can be left open")
    names = tuple(name for name in network.names if name not in out)
    size = {name: len(network.states(name)) for name in network.names}
    near: dict[str, set[str]] = {name: set() for name in names}
    for table in network.tables:
        family = set(table.parents) | ({table.variable} if table.variable not in out else set())
        for name in family:
            near[name] |= family - {name}

    followed: list[str] = []
    given = [name for name in (order or ()) if name in near]
    cliques: list[set[str]] = []
    while near:
        name = given.pop(0) if given else min(near, key=lambda n: (_weight(near[n] | {n}, size), n))
        clique = near.pop(name)
        for one in clique:
            near[one] |= clique
            near[one] -= {one, name}
        cliques.append(clique | {name})
        followed.append(name)

    kept: list[set[str]] = []
    for clique in reversed(cliques):
        if not any(clique <= other for other in kept):
            kept.append(clique)
    parent = [-1]
    for i, clique in enumerate(kept[1:], start=1):
        parent.append(max(range(i), key=lambda j: (len(kept[j] & clique), -j)))
    place = {name: i for i, name in enumerate(names)}
    ordered = [tuple(sorted(clique, key=place.__getitem__)) for clique in kept]
    tables = [np.ones([size[name] for name in clique]) for clique in ordered]
    for table in network.tables:
        if table.variable in out or table.variable in opened:
            continue
        family = {*table.parents, table.variable}
        home = min(
            (i for i, clique in enumerate(ordered) if family <= set(clique)),
            key=lambda i: tables[i].size,
        )
        tables[home] *= spread(table.values, (*table.parents, table.variable), ordered[home])
    return JunctionTree(
        names=names,
        states={name: network.states(name) for name in network.names},
        leaves={name: network.table_of[name] for name in out},
        order=tuple(followed),
        cliques=tuple(ordered),
        parent=tuple(parent),
        tables=tuple(tables),
    )


def _weight(names: set[str], size: Mapping[str, int]) -> int:
    total = 1
    for name in names:
        total *= size[name]
    return total


def spread(
    values: NDArray[np.float64], axes: tuple[str, ...], onto: tuple[str, ...]
) -> NDArray[np.float64]:
    """`values`, whose last axes are named `axes`, shaped to broadcast against axes `onto`."""
    lead = values.ndim - len(axes)
    kept = [name for name in onto if name in axes]
    moved = values.transpose([*range(lead), *(lead + axes.index(name) for name in kept)])
    widths = iter(moved.shape[lead:])
    return moved.reshape(
        [*moved.shape[:lead], *(next(widths) if name in axes else 1 for name in onto)]
    )
