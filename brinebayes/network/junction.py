"""A compiled junction tree as data, and how its tables lie; `compile` makes it.

How the numbers lie. All clique tables stand in one flat array. Cliques of the same depth that
sum out equally many states towards their parent form a band, a matrix (summed out, slots) whose
columns are the separator states ("slots") of one clique after the other. A message towards the
root is then a sum over the first axis of a band, and a message back a multiplication along it,
for all cliques of the band at once; what remains per depth are a few gathers with index arrays.
That keeps the interpreter out of the way: about ten numpy calls per depth and direction, whatever
the number of cliques.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from math import prod
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import UsageError
from brinebayes.record import record

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


@record
class Clique:
    """A clique: its variables are the axes of its table, those shared with its parent first.

    `offset`: where its entries begin in `JunctionTree.positions`. `slot`: where its separator
    begins among all slots.
    """

    names: tuple[str, ...]
    shape: tuple[int, ...]
    parent: int
    shared: int
    offset: int
    slot: int

    @property
    def size(self) -> int:
        """Table entries."""
        return prod(self.shape)

    @property
    def separator(self) -> tuple[str, ...]:
        """The variables shared with the parent."""
        return self.names[: self.shared]

    @property
    def slots(self) -> int:
        """States of the separator."""
        return prod(self.shape[: self.shared])

    @property
    def rest(self) -> int:
        """States that are summed out towards the parent."""
        return prod(self.shape[self.shared :])


@record
class Band:
    """Cliques of one depth that sum out equally many states: a matrix (rest, slots).

    Entries [start, stop) of the flat tables, cliques [head, tail), slots [first, last).
    """

    start: int
    stop: int
    rest: int
    head: int
    tail: int
    first: int
    last: int


@record(eq=False)
class Level:
    """The cliques of one depth, with the messages between them and their parents.

    Cliques [head, tail), slots [first, last). `heads`: the first slot of each clique, `owner`: the
    clique of each slot, both counted from the level's own first.
    `turns`: the children of each parent in turn, so that no parent occurs twice in one turn.
    `out_of`: (summed out, some slots) entries of parents to be summed over the first axis;
    `order`: where each slot is found among these, one after the other.
    """

    head: int
    tail: int
    first: int
    last: int
    bands: tuple[Band, ...]
    heads: Indices
    owner: Indices
    turns: tuple[Turn, ...]
    out_of: tuple[Indices, ...]
    order: Indices


@record(eq=False)
class Turn:
    """One child of each of some parents: for their `entries` the `slots` that agree with them."""

    children: Indices
    entries: Indices
    slots: Indices


@record(eq=False)
class Site:
    """Where a likelihood is multiplied in: a clique, and the axes of it that it spans.

    `start`: where in `JunctionTree.agrees` it stands which state of these axes together each entry
    of the clique agrees with.
    `table`: (states of these axes together, outcomes) for a leaf, None for a tree variable, whose
    likelihood spans its own axis.
    """

    clique: int
    spans: tuple[int, ...]
    start: int
    table: Floats | None


@record(eq=False)
class JunctionTree:
    """A compiled network; frozen, picklable.

    `names`: the variables in the tree (all but the leaves) in the network's order; `order`: the
    elimination order that made it; `open_roots`: the roots whose prior the caller supplies.
    """

    names: tuple[str, ...]
    leaves: tuple[str, ...]
    open_roots: tuple[str, ...]
    order: tuple[str, ...]
    state_names: tuple[tuple[str, ...], ...]
    cliques: tuple[Clique, ...]
    levels: tuple[Level, ...]
    sites: tuple[Site, ...]
    #: For each site, one after the other, the state that each entry of its clique agrees with.
    agrees: Indices
    #: (entries,) products of the network's tables.
    potentials: Floats
    #: (entries,) where each clique's entries stand, clique after clique, in the order of its axes.
    positions: Indices
    #: Rounds of (entries, place among the states of all open roots).
    priors: tuple[tuple[Indices, Indices], ...]

    @cached_property
    def states(self) -> Mapping[str, tuple[str, ...]]:
        """The states of every variable and leaf."""
        return MappingProxyType(
            dict(zip((*self.names, *self.leaves), self.state_names, strict=True))
        )

    @cached_property
    def site_of(self) -> Mapping[str, Site]:
        """Where evidence on a variable or leaf goes."""
        return MappingProxyType(dict(zip((*self.names, *self.leaves), self.sites, strict=True)))

    @cached_property
    def rank(self) -> Mapping[str, int]:
        """In which order likelihoods are entered: open roots, then variables, then leaves."""
        names = dict.fromkeys((*self.open_roots, *self.names, *self.leaves))
        return MappingProxyType({name: i for i, name in enumerate(names)})

    @property
    def entries(self) -> int:
        """Table entries over all cliques."""
        return len(self.positions)

    @property
    def largest(self) -> int:
        """Table entries of the largest clique."""
        return max(clique.size for clique in self.cliques)

    @property
    def slots(self) -> int:
        """States of all separators; the root has an empty one, with one state."""
        return self.levels[-1].last

    def entries_of(self, clique: int) -> Indices:
        """(size,) where the entries of a clique stand in the flat tables."""
        one = self.cliques[clique]
        return self.positions[one.offset : one.offset + one.size]

    def agrees_of(self, site: Site) -> Indices:
        """(size of its clique,) the state of a site's axes that each entry agrees with."""
        return self.agrees[site.start : site.start + self.cliques[site.clique].size]

    def home(self, names: Iterable[str]) -> int:
        """The smallest clique that holds all of `names`. Raises `UsageError` if none does."""
        wanted = set(names)
        found = [i for i, one in enumerate(self.cliques) if wanted <= set(one.names)]
        if not found:
            raise UsageError(f"no clique holds {', '.join(sorted(wanted))} together")
        return min(found, key=lambda i: (self.cliques[i].size, i))

    def __repr__(self) -> str:
        return (
            f"JunctionTree({len(self.names)} variables, {len(self.leaves)} leaves, "
            f"{len(self.cliques)} cliques, {self.entries} entries, largest {self.largest})"
        )


def columns(entries: Indices, axes: Sequence[str], kept: Sequence[str]) -> Indices:
    """Entries of a table with the given axes as (summed out, states of `kept` in that order)."""
    others = [i for i, name in enumerate(axes) if name not in kept]
    arranged = entries.transpose([*others, *(axes.index(name) for name in kept)])
    width = prod(entries.shape[axes.index(name)] for name in kept)
    return np.ascontiguousarray(arranged.reshape(-1, width))


def spread(values: NDArray[Any], axes: Sequence[str], onto: Sequence[str]) -> NDArray[Any]:
    """`values` with axes named `axes`, shaped to broadcast against a table with axes `onto`."""
    kept = [name for name in onto if name in axes]
    moved = values.transpose([axes.index(name) for name in kept])
    widths = dict(zip(kept, moved.shape, strict=True))
    return moved.reshape([widths.get(name, 1) for name in onto])
