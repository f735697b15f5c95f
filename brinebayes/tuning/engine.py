"""A model made ready for counting: its trees, and readers of all that is counted."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.build import World, build
from brinebayes.network.compile import compile_network
from brinebayes.network.junction import JunctionTree
from brinebayes.network.local import Floats, spread
from brinebayes.network.ordering import Orders, chain_orders
from brinebayes.network.propagate import calibrate
from brinebayes.tuning.numbers import Entry, Path, eyes
from brinebayes.tuning.reader import (
    Counted,
    brought_about,
    present,
    rows_of,
)
from brinebayes.tuning.sites import SiteOdds, site_odds
from brinebayes.tuning.smaller import Case, Side, smaller

#: Of a column of evidence: repairs, the first fault that they cleared, the same luck or not.
Kind = tuple[tuple[str, ...] | None, str | None, bool]


@dataclass(frozen=True, eq=False)
class Plan:
    """What stays the same while the numbers of a model change.

    `names`: observations and complaints of the trees that cases speak of, `felt`: mechanisms (a
    reading may speak of one). `direct`: observations that show one fault and nothing else -> that
    fault; they need no tree. `entries`: what is learned. `works`:
    (faults,) P(the unit works | only this fault) over that without any, and `sound`: that without
    any; both are kept as they were at the start.
    """

    names: tuple[str, ...]
    felt: tuple[str, ...]
    direct: Mapping[str, str]
    entries: tuple[Entry, ...]
    orders: Orders
    order: tuple[str, ...]
    works: Floats
    sound: float

    def of(self, group: str) -> tuple[Entry, ...]:
        """What is learned in one group."""
        return tuple(entry for entry in self.entries if entry.group == group)


@dataclass(frozen=True, eq=False)
class Engine:
    """A model with certain numbers, ready to count. `first`: where the counts of each thing that
    is read off the tables begin; `tables`: observation -> (rows, outcomes), misreading mixed in."""

    model: Model
    plan: Plan
    odds: SiteOdds
    world: World
    whole: Side
    first: Mapping[Path, slice]
    tables: Mapping[str, Floats]
    #: Of what shows one fault: the rows that hold when it is absent and when it is present.
    shows: Mapping[str, tuple[int, int]]
    #: Mechanism -> 1 for each of its states in which the unit works.
    working: Mapping[str, Floats]
    #: (repair, fault) -> how often the fault is seen when it is there.
    eyes: Mapping[tuple[str, str], float]
    #: How faults stand in each kind of column, once it was asked for (`standing`).
    kinds: dict[Kind, tuple[Floats, ...]] = field(default_factory=dict)
    #: The smaller networks, once they were asked for.
    smaller: dict[Case, Side] = field(default_factory=dict)

    @property
    def read(self) -> int:
        """How many counts are read off the tables."""
        return sum(len(one.weights) for one in self.whole.counted)

    def side(self, case: Case) -> Side:
        """The smallest network that will do in a case."""
        if case == Case():
            return self.whole
        if case not in self.smaller:
            self.smaller[case] = smaller(
                self.model, self.world, self.plan.names, case, self.plan.order, self.whole.counted
            )
        return self.smaller[case]


def plan(
    model: Model, names: Collection[str], entries: Iterable[Entry], orders: Orders | None = None
) -> Plan:
    """How the cases that speak of `names` are counted. `orders`: how the chains take their causes;
    those of a model serve it with other numbers too, and take long to find."""
    direct = {n: fault for n, fault in _direct(model) if n in names}
    spoken = (*graph.observations(model), *model.complaints)
    kept = tuple(n for n in spoken if n in names and n not in direct)
    orders = chain_orders(model) if orders is None else orders
    felt = tuple(name for name in model.mechanisms if name in names)
    world = _world(model, kept, felt, orders)
    tree = compile_network(world.network, leaves=kept, open_roots=world.open_roots)
    works, sound = _working(model, world, tree)
    return Plan(kept, felt, direct, tuple(entries), orders, tree.order, works, sound)


def engine(
    model: Model, plan: Plan, values: Mapping[Path, Sequence[float]] = ReadOnly({})
) -> Engine:
    """The trees and readers of a model with the numbers it has now; `values`: among them those that
    are about the record."""
    world = _world(model, plan.names, plan.felt, plan.orders)
    tree = compile_network(
        world.network, leaves=plan.names, open_roots=world.open_roots, order=plan.order
    )
    counted: list[Counted] = []
    first: dict[Path, slice] = {}
    at = 0
    for key, one in _counted(model, world, plan):
        counted.append(one)
        first[key] = slice(at, at + len(one.weights))
        at += len(one.weights)
    tables = {}
    for name in (*plan.names, *plan.direct):
        if name in graph.observations(model):
            about = graph.observations(model)[name]
            outcomes = tuple(about.outcomes)
            rows = np.array([spread(outcomes, row.gives) for row in about.rows])
            m = about.misreading.value
            tables[name] = (1.0 - m) * rows + m / len(outcomes)
    return Engine(
        model,
        plan,
        site_odds(model),
        world,
        Side(tree, None, tuple(counted), {}),
        first,
        tables,
        {name: _shows(model, name) for name in plan.direct},
        _good(model, world),
        {
            (str(entry.path[1]), str(entry.path[2])): values.get(entry.key, entry.value)[0]
            for entry in eyes(model)
        },
    )


# --- what is built -----------------------------------------------------------------------------


def _world(model: Model, names: Sequence[str], felt: Sequence[str], orders: Orders) -> World:
    keep = [(name, 0) for name in (*names, *felt, *model.about.works)]
    return build(model, {}, (), keep, orders)


def _good(model: Model, world: World) -> dict[str, Floats]:
    return {
        name: world.paths[name].among(0, wanted).astype(np.float64)
        for name, wanted in model.about.works.items()
    }


def _direct(model: Model) -> Iterable[tuple[str, str]]:
    """Observations whose rows look at one fault and at nothing else, with that fault."""
    for name, about in graph.observations(model).items():
        parents = graph.parents_in(row.when for row in about.rows)
        if len(parents) == 1 and parents[0] in model.faults:
            yield name, parents[0]


def _shows(model: Model, name: str) -> tuple[int, int]:
    absent, present = np.argmax(rows_of(model, name).weights, axis=0)
    return int(absent), int(present)


def _working(model: Model, world: World, tree: JunctionTree) -> tuple[Floats, float]:
    """P(works | only this fault) as a part of P(works | no fault), and the latter."""
    count = len(model.faults)
    only = np.vstack([np.zeros(count), np.eye(count)])
    likelihoods: dict[str, Floats] = {
        fault: np.stack([1.0 - only[:, i], only[:, i]], axis=1)
        for i, fault in enumerate(model.faults)
    }
    for name in world.open_roots:
        if name in model.site:
            shares = [value.share.value for value in model.site[name].values.values()]
            likelihoods[name] = np.tile(shares, (count + 1, 1))
    for name, good in _good(model, world).items():
        likelihoods[name] = np.tile(good, (count + 1, 1))
    chance = np.exp(calibrate(tree, likelihoods).log_evidence)
    if chance[0] <= 0.0:
        return np.ones(count), 0.0
    return np.minimum(chance[1:] / chance[0], 1.0), float(chance[0])


def _counted(model: Model, world: World, plan: Plan) -> Iterable[tuple[Path, Counted]]:
    """What is read off the tables: faults, the links that are learned, rows of observations."""
    for fault in model.faults:
        yield ("faults", fault), present(fault)
    wanted = {entry.key for entry in plan.of("links")}
    for step in world.steps:
        top: Path = ("mechanisms", step.mechanism)
        keys = {
            source: (*top, "leak") if source is None else (*top, "causes", source, "effect")
            for source in step.sources
        }
        if wanted & set(keys.values()):
            for source, one in brought_about(model, world, step).items():
                if keys[source] in wanted:
                    yield keys[source], one
    for name in _read_rows(model, plan):
        yield ("rows", name), rows_of(model, name)


def _read_rows(model: Model, plan: Plan) -> Iterable[str]:
    """Observations whose table or misreading is learned."""
    learned = {entry.path[3] for entry in (*plan.of("misreadings"), *plan.of("observations"))}
    return (n for n in plan.names if n in learned and n in graph.observations(model))
