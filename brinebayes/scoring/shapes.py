"""Which trees to make for the cases at hand: one for everything, and smaller ones for most."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.ordering import Orders, chain_orders
from brinebayes.network.trees import trees_for
from brinebayes.record import record
from brinebayes.scoring.engine import Engine, Shape, engine, shape
from brinebayes.scoring.known import Known

#: Sets of evidence from which it pays to look for smaller trees; fewer are done sooner than that.
ENOUGH = 1500
#: Smaller trees beside the one for everything, at most.
SMALLER = 3


@record(eq=False)
class Plan:
    """How engines of models of one structure are made: chain orders and shapes."""

    orders: Orders
    shapes: tuple[Shape, ...]

    def engine(self, model: Model) -> Engine:
        """The engine of a model with the same structure, whatever its numbers."""
        return engine(model, self.orders, self.shapes)


def plan(model: Model, sample: Sequence[Known] = (), enough: int = ENOUGH) -> Plan:
    """One tree for everything, and smaller ones if a sample is large enough to choose them by.

    Left out of a smaller tree is what the fewest sets of the sample speak of. How many mechanisms
    are left out is chosen so that all sets of the sample together meet the fewest table entries.
    """
    orders = chain_orders(model)
    everything = frozenset({*graph.observations(model), *model.complaints, graph.PROOF})
    order = trees_for(model, (), ()).whole.tree.order
    whole = shape(model, orders, everything, order)
    if len(sample) < enough:
        return Plan(orders, (whole,))
    chosen = _chosen(model, orders, whole, sample)
    return Plan(orders, (*(shape(model, orders, names) for names in chosen), whole))


def _chosen(
    model: Model, orders: Orders, whole: Shape, sample: Sequence[Known]
) -> tuple[frozenset[str], ...]:
    """Observations and complaints of each smaller tree."""
    needs = {name: _needs(model, name) for name in whole.names}
    spoken = [frozenset().union(*(needs[name] for name, _ in one.findings)) for one in sample]
    often = {m: sum(m in one for one in spoken) for m in model.mechanisms}
    rare_first = sorted(often, key=lambda mechanism: (often[mechanism], mechanism))
    candidates: dict[frozenset[str], int] = {}
    for count in range(1, len(rare_first)):
        left_out = set(rare_first[:count])
        names = frozenset(name for name in whole.names if not needs[name] & left_out)
        if names not in candidates and names < whole.names:
            candidates[names] = _entries(model, orders, whole, names)
    # (candidates, sets): entries that a set meets in each tree, beyond all where it does not fit.
    full = _entries(model, orders, whole, whole.names)
    meets = np.array(
        [
            [size if all(name in names for name, _ in one.findings) else full for one in sample]
            for names, size in candidates.items()
        ]
    )
    choices = [c for size in range(SMALLER + 1) for c in combinations(range(len(meets)), size)]
    work = [meets[list(c)].min(axis=0, initial=full).sum() for c in choices]
    best = choices[int(np.argmin(work))]
    return tuple(names for place, names in enumerate(candidates) if place in best)


def _entries(model: Model, orders: Orders, whole: Shape, names: frozenset[str]) -> int:
    made = engine(model, orders, (Shape(names, whole.order, whole.healthy_order),))
    return made.pairs[0].tree.entries


def _needs(model: Model, name: str) -> frozenset[str]:
    """The mechanisms that an observation, a complaint or the proof hangs on."""
    parents = graph.parents_of(model)
    left = list(model.about.works if name == graph.PROOF else parents[name])
    found: set[str] = set()
    while left:
        one = left.pop()
        if one in model.mechanisms and one not in found:
            found.add(one)
            left.extend(parents[one])
    return frozenset(found)
