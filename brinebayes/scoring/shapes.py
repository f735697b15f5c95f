"""Which trees to make for the cases at hand: one for everything, and smaller ones for most."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations

import numpy as np

from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.ordering import Orders, chain_orders
from brinebayes.network.trees import trees_for
from brinebayes.record import record
from brinebayes.scoring.engine import Engine, Shape, engine, entries, shape
from brinebayes.scoring.known import Known

#: Smaller trees beside the one for everything, at most; one that saves less than this part of the
#: work is not made.
SMALLER, WORTH = 10, 0.008
#: Mechanisms of which every choice may be left out of a tree.
FREE = 6


@record(eq=False)
class Plan:
    """How engines of models of one structure are made: chain orders and shapes."""

    orders: Orders
    shapes: tuple[Shape, ...]

    def engine(self, model: Model) -> Engine:
        """The engine of a model with the same structure, whatever its numbers."""
        return engine(model, self.orders, self.shapes)


def plan(model: Model, sample: Sequence[Known] = ()) -> Plan:
    """One tree for everything, and smaller ones for what a sample of the evidence speaks of.

    To choose smaller trees takes some seconds; it pays from some thousand sets of evidence on.
    """
    orders = chain_orders(model)
    everything = frozenset({*graph.observations(model), *model.complaints, graph.PROOF})
    order = trees_for(model, (), ()).whole.tree.order
    whole = shape(model, orders, everything, order)
    chosen = _chosen(model, orders, whole, sample) if sample else ()
    return Plan(orders, (*(shape(model, orders, names) for names in chosen), whole))


def _chosen(
    model: Model, orders: Orders, whole: Shape, sample: Sequence[Known]
) -> tuple[frozenset[str], ...]:
    """Observations and complaints of each smaller tree: one tree after the other, each the one that
    then spares the sample most table entries."""
    needs = {name: _needs(model, name) for name in whole.names}
    sizes: dict[frozenset[str], int] = {}

    def without(mechanisms: Iterable[str]) -> frozenset[str]:
        left_out = set(mechanisms)
        names = frozenset(name for name in whole.names if not needs[name] & left_out)
        if names not in sizes:
            sizes[names] = entries(model, orders, names, whole.order)
        return names

    full = sizes[without(())]
    rare = _rare_first(model, needs, sample)
    spared = {m: (full - sizes[without([m])]) * (len(sample) - count) for m, count in rare.items()}
    free = sorted(spared, key=lambda mechanism: -spared[mechanism])[:FREE]
    choices = [list(rare)[:count] for count in range(1, len(rare))]
    choices += [list(some) for size in range(1, FREE + 1) for some in combinations(free, size)]
    candidates = sorted({without(one) for one in choices} - {whole.names}, key=sorted)
    spoken = [{name for name, _ in one.findings} for one in sample]
    meets = np.array(
        [[sizes[names] if one <= names else full for one in spoken] for names in candidates]
    )
    now = np.full(len(sample), full)
    chosen: list[frozenset[str]] = []
    while candidates and len(chosen) < SMALLER:
        work = np.minimum(meets, now).sum(axis=1)
        best = int(work.argmin())
        if now.sum() - work[best] < WORTH * full * len(sample):
            break
        now = np.minimum(now, meets[best])
        chosen.append(candidates[best])
    return tuple(chosen)


def _rare_first(
    model: Model, needs: Mapping[str, frozenset[str]], sample: Sequence[Known]
) -> dict[str, int]:
    """Mechanism -> sets that speak of something that hangs on it, the fewest first."""
    often: Counter[str] = Counter(dict.fromkeys(model.mechanisms, 0))
    for one in sample:
        often.update(frozenset().union(*(needs[name] for name, _ in one.findings)))
    return dict(sorted(often.items(), key=lambda item: (item[1], item[0])))


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
