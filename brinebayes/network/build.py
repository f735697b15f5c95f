"""From a model to the discrete network of one visit.

The network speaks of a chain of epochs; epoch 0 is the unit as it was found, and every repair opens
the next one. A variable stands for all epochs in which it matters (see `paths`); what is observed
hangs on the epoch in which it was seen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import prod

import numpy as np
from numpy.typing import ArrayLike

from brinebayes.knowledge.schema import Model
from brinebayes.network import graph, odds
from brinebayes.network.local import Floats, decisions, observation_table
from brinebayes.network.ordering import Orders, chain_orders
from brinebayes.network.paths import Paths, Step, decide, fault_paths, take_step
from brinebayes.network.tables import Network, Table, TooLargeError, Variable
from brinebayes.record import record

WITHOUT_FAULT = "call__without_fault"

#: A node of the plan: an id of the model and the epoch of its copy.
Node = tuple[str, int]


@record(eq=False)
class World:
    """The network of a visit, and what its variables stand for.

    `open_roots`: faults and site conditions, whose probabilities depend on the site. `newest`: per
    id the epoch of its newest copy, per epoch. `paths`: the states of every variable that is not
    an observation. `ways`: fault -> (paths,) P(path | state in the first epoch). `steps`: every
    step of every chain, for drawing the noise.
    """

    model: str
    done: tuple[str, ...]
    network: Network
    open_roots: tuple[str, ...]
    newest: Mapping[str, tuple[int, ...]]
    paths: Mapping[str, Paths]
    ways: Mapping[str, Floats]
    steps: tuple[Step, ...]

    def name(self, id: str, epoch: int) -> str:
        """The variable that stands for `id` in `epoch`. An observation is the same one as long as
        no repair touches what it depends on.

        Raises UsageError for an id or an epoch that this world does not have.
        """
        version = graph.newest_copy(self.newest, id, epoch)
        return id if id in self.paths else graph.node_name(id, version)


def everything(model: Model, done: Iterable[str] = ()) -> tuple[tuple[str, int], ...]:
    """What `build` keeps when nothing is named: all that can be seen, in every epoch."""
    names = (*graph.observations(model), *model.complaints, graph.WORKS, graph.PROOF)
    epochs = range(len(tuple(done)) + 1)
    return ((graph.CALL, 0), *((name, epoch) for name in names for epoch in epochs))


def build(
    model: Model,
    site: Mapping[str, str],
    done: Iterable[str] = (),
    keep: Iterable[tuple[str, int]] | None = None,
    orders: Orders | None = None,
    most_entries: int | None = None,
) -> World:
    """The network of `model` after the repairs `done`, in order.

    `keep`: (id, epoch) of what will be observed or asked; the faults of the last epoch are always
    kept, and nothing else is built that none of these depends on. None: `everything`, the call
    among it. The tables of open roots hold the probabilities for `site`. `orders`: how the chains
    take their causes, by default `ordering.chain_orders`.

    Raises UsageError for unknown ids, ModelError for a table that does not cover every state,
    TooLargeError before a table is made that has more than `most_entries`.
    """
    done = tuple(done)
    newest = graph.versions(model, done)
    keep = tuple(everything(model, done) if keep is None else keep)
    parents = graph.parents_of(model)
    asked = {(name, newest[name][epoch]) for name, epoch in _known(keep, newest)}
    asked |= {(fault, newest[fault][-1]) for fault in model.faults}
    parts = _Parts(model, newest, _upstream(asked, parents, newest), most_entries)
    orders = chain_orders(model) if orders is None else orders
    _add_roots(parts, site, done)
    for mechanism in graph.mechanism_order(model):
        if parts.epochs(mechanism):
            _add_mechanism(parts, mechanism, orders.get(mechanism, ((),)))
    _add_works(parts)
    _add_observations(parts)
    if (graph.CALL, 0) in keep:
        _add_call(parts)
    return World(
        model=model.hash,
        done=done,
        network=Network(parts.variables, parts.tables),
        open_roots=tuple(n for n in (*model.faults, *model.site) if n in parts.paths),
        newest=newest,
        paths=parts.paths,
        ways=parts.ways,
        steps=tuple(parts.steps),
    )


# --- what is needed ----------------------------------------------------------------------------


def _known(
    keep: Iterable[tuple[str, int]], newest: Mapping[str, tuple[int, ...]]
) -> Iterator[tuple[str, int]]:
    for name, epoch in keep:
        if name != graph.CALL:
            graph.newest_copy(newest, name, epoch)  # raises for what does not exist
            yield name, epoch


def _upstream(
    asked: set[Node],
    parents: Mapping[str, tuple[str, ...]],
    newest: Mapping[str, tuple[int, ...]],
) -> set[Node]:
    """The nodes asked for and everything they depend on."""
    wanted: set[Node] = set()
    waiting = sorted(asked)
    while waiting:
        name, epoch = waiting.pop()
        if (name, epoch) in wanted:
            continue
        wanted.add((name, epoch))
        if name in parents:
            waiting.extend((p, newest[p][epoch]) for p in parents[name])
        elif epoch:
            waiting.append((name, newest[name][epoch - 1]))
    return wanted


@dataclass(slots=True)
class _Parts:
    """What is being put together; lives only inside `build`."""

    model: Model
    newest: Mapping[str, tuple[int, ...]]
    wanted: set[Node]
    most_entries: int | None
    variables: list[Variable] = field(default_factory=list)
    tables: list[Table] = field(default_factory=list)
    paths: dict[str, Paths] = field(default_factory=dict)
    ways: dict[str, Floats] = field(default_factory=dict)
    steps: list[Step] = field(default_factory=list)

    def add(
        self, name: str, states: Iterable[str], parents: Iterable[str], values: ArrayLike
    ) -> None:
        self.variables.append(Variable(name, tuple(states)))
        self.tables.append(Table(name, parents, values))

    def make_room(self, parents: Iterable[str], states: int = 1) -> None:
        """Refuses a table over these that no tree could hold."""
        entries = prod((len(self.paths[name]) for name in parents), start=states)
        if self.most_entries is not None and entries > self.most_entries:
            raise TooLargeError(entries)

    def epochs(self, name: str) -> list[int]:
        """The epochs of the copies of `name` that are wanted, in order."""
        return [e for e in sorted(set(self.newest[name])) if (name, e) in self.wanted]

    def seen_by(self, name: str, epochs: Iterable[int]) -> tuple[Paths, list[int]]:
        """The paths of a parent, and which of its copies each epoch of a child sees."""
        return self.paths[name], [self.newest[name][epoch] for epoch in epochs]


def _add_roots(parts: _Parts, site: Mapping[str, str], done: tuple[str, ...]) -> None:
    model = parts.model
    for fault, p in odds.priors(model, site).items():
        paths, ways = fault_paths(model, fault, done, parts.epochs(fault))
        parts.paths[fault], parts.ways[fault] = paths, ways
        parts.add(fault, paths.labels, (), np.where(paths.at(0) == 1, p, 1.0 - p) * ways)
    for name, condition in model.site.items():
        if (name, 0) in parts.wanted:
            parts.paths[name] = Paths.single(tuple(condition.values))
            parts.add(name, condition.values, (), odds.site_chances(model, site, name))


def _add_mechanism(parts: _Parts, name: str, groups: Sequence[tuple[int, ...]]) -> None:
    model = parts.model
    mechanism = model.mechanisms[name]
    epochs = parts.epochs(name)
    if mechanism.cases:
        parents, places = decisions(model, name)
        parts.make_room(parents)
        seen = [parts.seen_by(p, epochs) for p in parents]
        which, parts.paths[name] = decide(mechanism.states, epochs, seen, places)
        labels = parts.paths[name].labels
        parts.make_room(parents, len(labels))
        parts.add(name, labels, parents, np.eye(len(labels))[which])
        return
    before: tuple[str, Paths] | None = None
    for k, causes in enumerate(groups):
        variable = name if k == len(groups) - 1 else f"{name}__c{k}"
        named = mechanism.causes[causes[0]].when if causes else ()
        parts.make_room((*((before[0],) if before else ()), *named))
        step, paths = take_step(
            name,
            mechanism,
            causes,
            k == 0 and mechanism.leak is not None,
            epochs,
            before,
            {p: parts.seen_by(p, epochs) for p in named},
            variable,
        )
        parts.steps.append(step)
        parts.paths[variable] = paths
        inputs = (*((before[0],) if before else ()), *step.parents)
        parts.make_room(inputs, len(paths))
        widths = [len(parts.paths[p]) for p in inputs]
        parts.add(variable, paths.labels, inputs, step.table(widths, len(paths)))
        before = (variable, paths)


# --- what can be seen --------------------------------------------------------------------------


def _add_observations(parts: _Parts) -> None:
    model = parts.model
    for name in (*graph.observations(model), *model.complaints, graph.PROOF):
        epochs = parts.epochs(name)
        if not epochs:
            continue
        parents, outcomes, values = observation_table(model, name)
        parts.make_room(parents)
        for epoch in epochs:
            seen = [parts.seen_by(p, (epoch,)) for p in parents]
            at = [paths.at(copies[0]) for paths, copies in seen]
            parts.add(
                graph.node_name(name, epoch),
                outcomes,
                parents,
                values[np.ix_(*at)] if at else values,
            )


def _add_works(parts: _Parts) -> None:
    """`works`, as a chain over the mechanisms it needs."""
    epochs = parts.epochs(graph.WORKS)
    if not epochs:
        return
    needed = list(parts.model.about.works.items())
    if not needed:
        parts.paths[graph.WORKS] = Paths.single(graph.WORKS_STATES)
        parts.add(graph.WORKS, graph.WORKS_STATES, (), (0.0, 1.0))
    previous: str | None = None
    for k, (mechanism, wanted) in enumerate(needed):
        name = graph.WORKS if k == len(needed) - 1 else f"{graph.WORKS}__c{k}"
        states = graph.states_of(parts.model, mechanism)
        good = np.isin(states, graph.named_states(wanted)).astype(np.intp)
        parents = [mechanism]
        if previous is not None:
            parents, good = [previous, mechanism], np.stack([np.zeros_like(good), good])
        # The steps of this chain are copied together with `works` itself.
        seen = [
            (parts.paths[p], epochs) if p == previous else parts.seen_by(p, epochs) for p in parents
        ]
        which, parts.paths[name] = decide(graph.WORKS_STATES, epochs, seen, good)
        labels = parts.paths[name].labels
        parts.add(name, labels, parents, np.eye(len(labels))[which])
        previous = name


def _add_call(parts: _Parts) -> None:
    """The call, as a tree: any fault of a group, then any group, or a call without a fault."""
    model = parts.model

    def present(name: str) -> Floats:
        """(states,): whether a fault is present at first, or a step of the tree says so."""
        if name in model.faults:
            return parts.paths[name].at(0).astype(np.float64)
        return np.array([0.0, 1.0])

    def any_of(names: list[str], made: Callable[[int], str]) -> str:
        previous = names[0]
        for k, name in enumerate(names[1:]):
            either = np.maximum(present(previous)[:, None], present(name)[None, :])
            values = np.stack([1.0 - either, either], axis=-1)
            parts.add(made(k), graph.CALL_STATES, (previous, name), values)
            previous = made(k)
        return previous

    groups: dict[str, list[str]] = {}
    for name, fault in model.faults.items():
        groups.setdefault(fault.group, []).append(name)
    heads = []
    for g, faults in enumerate(groups.values()):
        heads.append(any_of(faults, lambda k, at=g: f"{graph.CALL}__g{at}_{k}"))  # type: ignore[misc]
    without = odds.base(model).call_without_fault
    if without > 0.0:
        parts.add(WITHOUT_FAULT, graph.CALL_STATES, (), (1.0 - without, without))
        heads.append(WITHOUT_FAULT)
    head = any_of(heads, lambda k: f"{graph.CALL}__any_{k}")
    comes = present(head)
    parts.add(graph.CALL, graph.CALL_STATES, (head,), np.stack([1.0 - comes, comes], axis=-1))
