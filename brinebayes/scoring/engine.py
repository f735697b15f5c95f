"""Fault posteriors for very many sets of evidence, through trees no larger than they need to be.

Most cases speak of a part of the model only, and what nobody saw need not be in the tree. A tree
for the mechanisms that most cases speak of, beside one for everything, makes the average several
times as fast. The call is entered as in `network.trees`: P(x, call) = P(x) - (1 - c) P(x, no
fault), and without a fault none is present, so that only the divisor changes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from brinebayes.knowledge.schema import Model
from brinebayes.network import graph, odds
from brinebayes.network.build import World, build
from brinebayes.network.compile import compile_network
from brinebayes.network.evidence import LEAST
from brinebayes.network.junction import Indices, JunctionTree
from brinebayes.network.local import Floats
from brinebayes.network.order import moral_graph, total_size
from brinebayes.network.ordering import Orders
from brinebayes.network.propagate import log_evidence, posteriors
from brinebayes.network.reduce import Reduced, reduced
from brinebayes.network.tables import Network
from brinebayes.record import record
from brinebayes.scoring.known import Known
from brinebayes.scoring.sites import SitePriors

#: How often an order for a smaller tree is searched for; more tries find little more.
TRIES = 3
#: Sets of evidence whose likelihoods lie in memory at once.
AT_ONCE = 2048


@record
class Shape:
    """What a tree holds and how it is made: the same for every model of the same structure.

    `names`: the observations and complaints that may be entered. `order`: elimination order of the
    network, `healthy_order`: of the network without any fault.
    """

    names: frozenset[str]
    order: tuple[str, ...]
    healthy_order: tuple[str, ...]


@record(eq=False)
class Pair:
    """The two trees of one shape; `good`: mechanism -> likelihood of the states in which the unit
    works, empty where the tree does not hold all of these."""

    names: frozenset[str]
    tree: JunctionTree
    healthy: JunctionTree
    reduction: Reduced
    good: Mapping[str, Floats]


@record(eq=False)
class Engine:
    """A model ready for many sets of evidence. `pairs`: the smallest trees first; the last holds
    everything."""

    model: Model
    pairs: tuple[Pair, ...]
    sites: SitePriors
    without: float

    def posteriors(self, known: Sequence[Known]) -> tuple[Floats, Floats]:
        """(sets,) natural log of P(evidence, call | site), -inf if impossible, and (sets, faults)
        P(fault present | evidence, call); zeros where it is impossible."""
        logs = np.empty(len(known))
        faults = np.empty((len(known), len(self.model.faults)))
        for pair, places in self._by_tree(known):
            for start in range(0, len(places), AT_ONCE):
                here = places[start : start + AT_ONCE]
                logs[here], faults[here] = self._part(pair, [known[i] for i in here])
        return logs, faults

    def _by_tree(self, known: Sequence[Known]) -> Iterable[tuple[Pair, list[int]]]:
        """Each set to the smallest tree that holds what it speaks of."""
        found: dict[int, list[int]] = {}
        last = len(self.pairs) - 1
        for place, one in enumerate(known):
            names = {name for name, _ in one.findings}
            fits = (k for k, pair in enumerate(self.pairs[:-1]) if names <= pair.names)
            found.setdefault(next(fits, last), []).append(place)
        return [(self.pairs[k], places) for k, places in found.items()]

    def _part(self, pair: Pair, known: Sequence[Known]) -> tuple[Floats, Floats]:
        entered, rows, factors = _entered(self.model, pair, known)
        priors = self.sites.of([one.site for one in known])
        likelihoods = {name: priors[name][rows] for name in pair.tree.open_roots} | entered
        whole, marginals = posteriors(pair.tree, likelihoods, tuple(self.model.faults))
        factor, rest = pair.reduction.translate(likelihoods)
        with np.errstate(divide="ignore"):
            healthy = np.log(factor) + log_evidence(pair.healthy, rest)
        top = np.full(len(known), -np.inf)
        np.maximum.at(top, rows, np.maximum(whole, healthy))
        top = np.where(np.isfinite(top), top, 0.0)
        share = factors * np.exp(whole - top[rows])
        sound = factors * np.exp(healthy - top[rows])
        any_ = np.bincount(rows, share, len(known))
        none = (1.0 - self.without) * np.bincount(rows, sound, len(known))
        total = any_ - none
        possible = total > LEAST * np.maximum(np.abs(any_), np.abs(none))
        total = np.where(possible, total, 1.0)
        joint = np.zeros((len(known), len(marginals)))
        present = np.stack([values[:, 1] for values in marginals], axis=1)
        np.add.at(joint, rows, share[:, None] * present)
        faults = np.where(possible[:, None], joint / total[:, None], 0.0)
        return np.where(possible, top + np.log(total), -np.inf), np.clip(faults, 0.0, 1.0)


def engine(model: Model, orders: Orders, shapes: Sequence[Shape]) -> Engine:
    """The trees of a model in some shapes, which are mostly those of another one like it."""
    pairs = [_pair(model, orders, shape) for shape in shapes]
    pairs.sort(key=lambda pair: (len(pair.names), pair.tree.entries))
    return Engine(model, tuple(pairs), SitePriors(model), odds.base(model).call_without_fault)


def shape(model: Model, orders: Orders, names: frozenset[str], order: Sequence[str] = ()) -> Shape:
    """The shape of a tree that holds some observations and complaints; without an elimination order
    one is searched for."""
    world = _world(model, orders, names)
    leaves = _leaves(model, names)
    tree = compile_network(
        world.network, leaves=leaves, open_roots=world.open_roots, order=order or None, tries=TRIES
    )
    _, healthy = _healthy(model, world, leaves, None)
    return Shape(names, tree.order, healthy.order)


def entries(model: Model, orders: Orders, names: frozenset[str], order: Sequence[str]) -> int:
    """About how many table entries a tree for some observations has; no tree is made."""
    network = _world(model, orders, names).network
    leaves = set(_leaves(model, names))
    variables = sorted(set(network.names) - leaves)
    number = {name: i for i, name in enumerate(variables)}
    families = [
        [number[name] for name in (*table.parents, table.variable) if name in number]
        for table in network.tables
    ]
    states = [len(network.states(name)) for name in variables]
    kept = [number[name] for name in order if name in number]
    return total_size(moral_graph(families, len(variables)), states, kept)


def _pair(model: Model, orders: Orders, shape: Shape) -> Pair:
    world = _world(model, orders, shape.names)
    leaves = _leaves(model, shape.names)
    tree = compile_network(
        world.network, leaves=leaves, open_roots=world.open_roots, order=shape.order
    )
    small, healthy = _healthy(model, world, leaves, shape.healthy_order)
    good = {}
    if graph.PROOF in shape.names:
        for name, wanted in model.about.works.items():
            good[name] = world.paths[name].among(0, wanted).astype(np.float64)
    return Pair(shape.names, tree, healthy, replace(small, network=Network((), ())), good)


def _world(model: Model, orders: Orders, names: frozenset[str]) -> World:
    needed = model.about.works if graph.PROOF in names else ()
    keep = [(name, 0) for name in (*_leaves(model, names), *needed)]
    return build(model, {}, (), keep, orders)


def _leaves(model: Model, names: frozenset[str]) -> tuple[str, ...]:
    return tuple(n for n in (*graph.observations(model), *model.complaints) if n in names)


def _healthy(
    model: Model, world: World, leaves: Sequence[str], order: Sequence[str] | None
) -> tuple[Reduced, JunctionTree]:
    small = reduced(world.network, dict.fromkeys(model.faults, 0), world.open_roots, leaves)
    left = small.network.by_name
    if order is not None and not set(order).issuperset(set(left) - set(leaves)):
        # With other numbers more may hang together; an order that lacks some of it serves badly.
        order = None
    tree = compile_network(
        small.network,
        leaves=[name for name in leaves if name in left],
        open_roots=[name for name in world.open_roots if name in left],
        order=order,
    )
    return small, tree


def _entered(
    model: Model, pair: Pair, known: Sequence[Known]
) -> tuple[dict[str, Floats], Indices, Floats]:
    """Likelihoods (rows, states), the set that each row belongs to, and the factor of each row.

    A proof of an untouched unit makes two rows of a set: the unit as it may be, and one that works.
    """
    about = model.about.proof
    rows: list[int] = []
    factors: list[float] = []
    working: list[int] = []
    for place, one in enumerate(known):
        passed, failed = next((v for n, v in one.findings if n == graph.PROOF), (1.0, 1.0))
        fails, works = (
            passed * p + failed * (1.0 - p)
            for p in (about.passes_if_not.value, about.passes_if_works.value)
        )
        rows.append(place)
        factors.append(fails)
        if works != fails:
            working.append(len(rows))
            rows.append(place)
            factors.append(works - fails)
    where = np.array(rows, dtype=np.intp)
    found: dict[str, Floats] = {}
    at: dict[str, list[int]] = {}
    values: dict[str, list[tuple[float, ...]]] = {}
    for row, place in enumerate(rows):
        for name, likelihood in known[place].findings:
            if name != graph.PROOF:
                at.setdefault(name, []).append(row)
                values.setdefault(name, []).append(likelihood)
    for name, here in at.items():
        found[name] = np.ones((len(rows), len(values[name][0])))
        found[name][here] = values[name]
    for name, good in pair.good.items() if working else ():
        found[name] = np.ones((len(rows), len(good)))
        found[name][working] = good
    return found, where, np.array(factors)
