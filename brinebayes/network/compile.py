"""Compile a network into a junction tree: everything about it that does not depend on evidence.

How a tree lies in memory is told in `junction`.
Source of the method: Lauritzen & Spiegelhalter 1988; Jensen, Lauritzen & Olesen 1990.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from math import prod
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import UsageError
from brinebayes.network.cliques import CLIQUE_COST, Rooted, rooted_tree
from brinebayes.network.junction import (
    Band,
    Clique,
    Floats,
    Indices,
    JunctionTree,
    Level,
    Site,
    Turn,
    columns,
    spread,
)
from brinebayes.network.order import bits, extended, moral_graph, search
from brinebayes.network.tables import Network, Table

#: How often the search for an elimination order is repeated with random ties.
TRIES = 10


def compile_network(
    network: Network,
    *,
    leaves: Iterable[str] = (),
    order: Iterable[str] | None = None,
    open_roots: Iterable[str] = (),
    tries: int = TRIES,
    clique_cost: int = CLIQUE_COST,
) -> JunctionTree:
    """The junction tree of `network`; the same whatever the hash seed.

    `leaves`: observation nodes without children. They stay out of the tree; their parents lie
    together in one clique, and a likelihood over a leaf is multiplied in over its parents.
    `open_roots`: roots whose own table is replaced by ones; calibration then wants the prior of
    each as a likelihood, so that one tree serves every site.
    `order`: an elimination order to follow. Names that are not in the tree are skipped, variables
    it does not mention are put in place (`x@2` right after `x@1` or `x`). Without it an order is
    searched for, `tries` times with random ties, from fixed seeds.
    `clique_cost`: neighbours are merged while that adds fewer table entries than this.
    Raises `UsageError` for an unknown name, a leaf with children, an open root with parents.
    """
    left_out = tuple(dict.fromkeys(leaves))
    opened = tuple(dict.fromkeys(open_roots))
    _check_names(network, left_out, opened)
    numbered = sorted(set(network.names) - set(left_out))
    number = {name: i for i, name in enumerate(numbered)}
    states = [len(network.states(name)) for name in numbered]
    families = [
        [number[name] for name in (*table.parents, table.variable) if name in number]
        for table in network.tables
    ]
    near = moral_graph(families, len(numbered))
    if order is None:
        found = search(near, states, tries)
    else:
        found = [number[name] for name in extended(order, _named(near, numbered))]
    rooted = rooted_tree(near, states, found, clique_cost)
    names = tuple(name for name in network.names if name in number)
    layout = _Layout(rooted, numbered, states)
    masks = {name: 1 << i for name, i in number.items()}
    homes = _Homes(rooted, layout.cliques, masks)
    spans: list[tuple[tuple[str, ...], Table | None]] = [((name,), None) for name in names]
    spans += [(network.parents(name), network.table_of[name]) for name in left_out]
    sites, agrees = _sites(layout, homes, spans)
    return JunctionTree(
        names=names,
        leaves=left_out,
        open_roots=opened,
        order=tuple(numbered[i] for i in found),
        state_names=tuple(network.states(name) for name in (*names, *left_out)),
        cliques=tuple(layout.cliques),
        levels=tuple(_levels(layout)),
        sites=tuple(sites),
        agrees=_frozen(agrees),
        potentials=_frozen(_potentials(network, layout, homes, {*left_out, *opened})),
        positions=_frozen(layout.positions),
        priors=tuple(_priors(network, layout, homes, opened)),
    )


def _check_names(network: Network, leaves: Sequence[str], open_roots: Sequence[str]) -> None:
    for name in (*leaves, *open_roots):
        if name not in network.by_name:
            raise UsageError(f"no variable {name} in the network")
    for name in leaves:
        if network.children(name):
            raise UsageError(f"{name} has children and cannot be left out of the tree")
    for name in open_roots:
        if network.parents(name) or name in leaves:
            raise UsageError(f"{name} is not a root of the tree and cannot be left open")


def _named(near: Sequence[int], names: Sequence[str]) -> dict[str, list[str]]:
    return {name: [names[j] for j in bits(near[i])] for i, name in enumerate(names)}


# --- where everything lies ---------------------------------------------------------------------


class _Layout:
    """Cliques with their place in the flat arrays (local to compilation)."""

    def __init__(self, rooted: Rooted, names: Sequence[str], states: Sequence[int]) -> None:
        self.card = dict(zip(names, states, strict=True))
        self.cliques: list[Clique] = []
        self.bands: list[list[Band]] = []
        axes = self._axes(rooted, names)
        slot = offset = 0
        for parent, (shared, own) in zip(rooted.parent, axes, strict=True):
            shape = tuple(self.card[name] for name in (*shared, *own))
            one = Clique((*shared, *own), shape, parent, len(shared), offset, slot)
            self.cliques.append(one)
            slot, offset = slot + one.slots, offset + one.size
        parts = []
        keys = [(d, one.rest) for d, one in zip(rooted.depth, self.cliques, strict=True)]
        for (depth, rest), group in groupby(range(len(axes)), key=keys.__getitem__):
            members = list(group)
            head, last = self.cliques[members[0]], self.cliques[members[-1]]
            # The entries of a band's cliques stand mixed, but the bands one after the other.
            band = Band(
                head.offset,
                last.offset + last.size,
                rest,
                members[0],
                members[-1] + 1,
                head.slot,
                last.slot + last.slots,
            )
            if depth == len(self.bands):
                self.bands.append([])
            self.bands[depth].append(band)
            for i in members:
                across = np.arange(self.cliques[i].slots, dtype=np.intp)[:, None]
                down = np.arange(rest, dtype=np.intp) * (band.last - band.first)
                start = band.start + self.cliques[i].slot - band.first
                parts.append((start + across + down).ravel())
        self.positions = np.concatenate(parts)

    def _axes(
        self, rooted: Rooted, names: Sequence[str]
    ) -> list[tuple[tuple[str, ...], tuple[str, ...]]]:
        """Separator and other variables of each clique.

        A separator begins with what it shares with the parent's own separator, so that rows
        carried from one to the next fall into blocks.
        """
        axes: list[tuple[tuple[str, ...], tuple[str, ...]]] = []
        for mask, parent in zip(rooted.cliques, rooted.parent, strict=True):
            mine = [names[i] for i in bits(mask)]
            above = axes[parent] if parent >= 0 else ((), ())
            shared = [name for name in above[0] if name in mine]
            shared += sorted(name for name in above[1] if name in mine)
            axes.append((tuple(shared), tuple(name for name in mine if name not in shared)))
        return axes

    def entries(self, clique: int) -> Indices:
        """The entries of a clique, shaped like its table."""
        one = self.cliques[clique]
        return self.positions[one.offset : one.offset + one.size].reshape(one.shape)

    def slots_of(self, clique: int) -> Indices:
        """The slots of a clique's separator, shaped (*separator states)."""
        one = self.cliques[clique]
        return np.arange(one.slot, one.slot + one.slots, dtype=np.intp).reshape(
            one.shape[: one.shared]
        )


def _levels(layout: _Layout) -> Iterable[Level]:
    for bands in layout.bands:
        head, tail, first, last = bands[0].head, bands[-1].tail, bands[0].first, bands[-1].last
        cliques = layout.cliques[head:tail]
        turns: list[list[int]] = []
        seen: dict[int, int] = {}
        sums: dict[int, list[int]] = {}
        for i, one in enumerate(cliques, start=head):
            if one.parent < 0:
                continue
            turn = seen[one.parent] = seen.get(one.parent, -1) + 1
            if turn == len(turns):
                turns.append([])
            turns[turn].append(i)
            sums.setdefault(layout.cliques[one.parent].size // one.slots, []).append(i)
        found = [layout.slots_of(i).ravel() for rest in sorted(sums) for i in sums[rest]]
        yield Level(
            head=head,
            tail=tail,
            first=first,
            last=last,
            bands=tuple(bands),
            heads=_frozen(np.array([one.slot - first for one in cliques], dtype=np.intp)),
            owner=_frozen(np.repeat(np.arange(tail - head), [one.slots for one in cliques])),
            turns=tuple(_turn(layout, children) for children in turns),
            out_of=tuple(
                _frozen(np.hstack([parent_columns(layout, i) for i in sums[rest]]))
                for rest in sorted(sums)
            ),
            order=_frozen(np.argsort(np.concatenate(found)) if found else np.zeros(0, np.intp)),
        )


def _turn(layout: _Layout, children: Sequence[int]) -> Turn:
    entries = [layout.entries(layout.cliques[i].parent).ravel() for i in children]
    slots = [_seen_from_parent(layout, i).ravel() for i in children]
    return Turn(
        _frozen(np.array(children, dtype=np.intp)),
        _frozen(np.concatenate(entries)),
        _frozen(np.concatenate(slots)),
    )


def _seen_from_parent(layout: _Layout, child: int) -> Indices:
    """For each entry of the parent's table, in its order, the slot of the child's separator."""
    one = layout.cliques[child]
    parent = layout.cliques[one.parent]
    slots = spread(layout.slots_of(child), one.separator, parent.names)
    return np.ascontiguousarray(np.broadcast_to(slots, parent.shape))


def parent_columns(layout: _Layout, child: int) -> Indices:
    """(summed out, slots of the child): the parent's entries that agree with each slot."""
    one = layout.cliques[child]
    return columns(layout.entries(one.parent), layout.cliques[one.parent].names, one.separator)


# --- what goes where ---------------------------------------------------------------------------


class _Homes:
    """Finds the smallest clique that holds a set of variables (local to compilation)."""

    def __init__(self, rooted: Rooted, cliques: Sequence[Clique], masks: Mapping[str, int]) -> None:
        by_size = sorted(range(len(cliques)), key=lambda i: (cliques[i].size, i))
        self.masks = masks
        self.by_size = [(rooted.cliques[i], i) for i in by_size]

    def of(self, names: Iterable[str]) -> int:
        wanted = sum(self.masks[name] for name in names)
        return next(i for mask, i in self.by_size if not wanted & ~mask)


def _sites(
    layout: _Layout, homes: _Homes, spans: Sequence[tuple[tuple[str, ...], Table | None]]
) -> tuple[list[Site], Indices]:
    """Where the likelihood of each variable and leaf goes, and what its entries agree with."""
    sites, agrees, start = [], [np.zeros(0, dtype=np.intp)], 0
    for names, table in spans:
        home = homes.of(names)
        clique = layout.cliques[home]
        ordered = [name for name in clique.names if name in names]
        widths = [layout.card[name] for name in ordered]
        states = np.arange(prod(widths), dtype=np.intp).reshape(widths)
        agrees.append(np.broadcast_to(spread(states, ordered, clique.names), clique.shape).ravel())
        values = None
        if table is not None:
            moved = table.values.transpose(
                [*(table.parents.index(name) for name in ordered), len(table.parents)]
            )
            values = _frozen(np.ascontiguousarray(moved.reshape(-1, moved.shape[-1])))
        axes = tuple(clique.names.index(name) for name in ordered)
        sites.append(Site(home, axes, start, values))
        start += clique.size
    return sites, np.concatenate(agrees)


def _potentials(network: Network, layout: _Layout, homes: _Homes, without: set[str]) -> Floats:
    """The product of all tables but those of leaves and open roots, multiplied by name."""
    flat = np.ones(len(layout.positions))
    for table in sorted(network.tables, key=lambda table: table.variable):
        if table.variable not in without:
            family = (*table.parents, table.variable)
            home = homes.of(family)
            flat[layout.entries(home)] *= spread(table.values, family, layout.cliques[home].names)
    return flat


def _priors(
    network: Network, layout: _Layout, homes: _Homes, open_roots: Sequence[str]
) -> Iterable[tuple[Indices, Indices]]:
    """Rounds in which the priors of all open roots are multiplied in at once."""
    rounds: list[tuple[list[Indices], list[Indices]]] = []
    turn: dict[int, int] = {}
    place = 0
    for name in open_roots:
        home = homes.of((name,))
        one = layout.cliques[home]
        states = len(network.states(name))
        at = spread(np.arange(place, place + states, dtype=np.intp), (name,), one.names)
        place += states
        now = turn[home] = turn.get(home, -1) + 1
        if now == len(rounds):
            rounds.append(([], []))
        rounds[now][0].append(layout.entries(home).ravel())
        rounds[now][1].append(np.broadcast_to(at, one.shape).ravel())
    for entries, places in rounds:
        yield _frozen(np.concatenate(entries)), _frozen(np.concatenate(places))


def _frozen(array: NDArray[Any]) -> NDArray[Any]:
    array.setflags(write=False)
    return array
