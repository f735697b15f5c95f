"""From an elimination order to a rooted tree of cliques, as bit masks."""

from __future__ import annotations

from collections.abc import Sequence

from brinebayes.network.order import eliminated, next_cluster, size
from brinebayes.record import record

#: What a clique costs by itself, in table entries: two neighbours become one when that saves more
#: than the larger table costs. Found by measuring on networks of the shipped model's size.
CLIQUE_COST = 80


@record
class Rooted:
    """A junction tree: by depth, then by how many states a clique sums out towards its parent.

    The root stands first and has parent -1.
    """

    cliques: tuple[int, ...]
    parent: tuple[int, ...]
    depth: tuple[int, ...]


def rooted_tree(
    near: Sequence[int], states: Sequence[int], order: Sequence[int], clique_cost: int
) -> Rooted:
    """Cliques of an order: maximal ones only, small ones merged, hung to keep messages cheap."""
    if not order:
        return Rooted((0,), (-1,), (0,))
    tree = _Loose(near, states, order)
    tree.merge(clique_cost)
    tree.rehang()
    return tree.rooted()


class _Loose:
    """An undirected junction tree while it is put together (local to this module)."""

    def __init__(self, near: Sequence[int], states: Sequence[int], order: Sequence[int]) -> None:
        clusters = eliminated(near, order)
        self.states = states
        self.masks = dict(enumerate(clusters))
        self.sizes = {i: size(mask, states) for i, mask in self.masks.items()}
        self.near: dict[int, set[int]] = {i: set() for i in self.masks}
        last = len(clusters) - 1
        for i, after in enumerate(next_cluster(clusters, order)):
            if i != last:  # parts of the network that do not touch hang together by nothing
                self.join(i, after if after >= 0 else last)

    def join(self, a: int, b: int) -> None:
        self.near[a].add(b)
        self.near[b].add(a)

    def cut(self, a: int, b: int) -> None:
        self.near[a].discard(b)
        self.near[b].discard(a)

    def contract(self, a: int, b: int) -> None:
        """Take `b` into `a`."""
        self.masks[a] |= self.masks.pop(b)
        del self.sizes[b]
        self.sizes[a] = size(self.masks[a], self.states)
        for other in list(self.near[b]):
            self.cut(b, other)
            if other != a:
                self.join(a, other)
        del self.near[b]

    def merge(self, clique_cost: int) -> None:
        """Contract the edge that adds least as long as it adds less than a clique costs.

        A clique within its neighbour goes first: that takes entries away.
        """
        prices = {(a, b): self.added(a, b) for a in self.near for b in self.near[a] if a < b}
        while prices:
            price, (a, b) = min((price, edge) for edge, price in prices.items())
            if price >= clique_cost:
                return
            for one in (a, b):
                for other in self.near[one]:
                    prices.pop((min(one, other), max(one, other)), None)
            self.contract(a, b)
            for other in self.near[a]:
                prices[min(a, other), max(a, other)] = self.added(a, other)

    def added(self, a: int, b: int) -> int:
        """Entries added by contracting an edge."""
        together = size(self.masks[a] | self.masks[b], self.states)
        return together - self.sizes[a] - self.sizes[b]

    def rehang(self) -> None:
        """Move each edge to the smallest cliques, one on each side, that hold its separator.

        The running intersection property stays: the separator is the same.
        """
        edges = sorted((a, b) for a in self.near for b in self.near[a] if a < b)
        for a, b in edges:
            common = self.masks[a] & self.masks[b]
            self.cut(a, b)
            side = self.reached(a)
            ends = [
                min(
                    (
                        i
                        for i, mask in self.masks.items()
                        if (i in side) == mine and not common & ~mask
                    ),
                    key=lambda i: (self.sizes[i], i),
                )
                for mine in (True, False)
            ]
            self.join(*ends)

    def reached(self, start: int) -> dict[int, int]:
        """Distance from `start` of everything connected to it, nearest first."""
        found = {start: 0}
        for one in (line := [start]):
            for other in self.near[one]:
                if other not in found:
                    found[other] = found[one] + 1
                    line.append(other)
        return found

    def rooted(self) -> Rooted:
        """Hung from the clique that makes it flattest; of several, from the largest."""
        root = min(self.masks, key=lambda i: (max(self.reached(i).values()), -self.sizes[i], i))
        depth = self.reached(root)
        above = {
            clique: other
            for clique in depth
            for other in self.near[clique]
            if depth[other] < depth[clique]
        }

        def summed_out(clique: int) -> int:
            separator = self.masks[clique] & self.masks[above[clique]] if clique in above else 0
            return size(self.masks[clique] & ~separator, self.states)

        order = sorted(depth, key=lambda i: (depth[i], summed_out(i), i))
        place = {clique: i for i, clique in enumerate(order)}
        return Rooted(
            cliques=tuple(self.masks[clique] for clique in order),
            parent=tuple(place[above[clique]] if clique in above else -1 for clique in order),
            depth=tuple(depth[clique] for clique in order),
        )
