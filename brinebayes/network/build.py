"""From a model to the discrete network of one visit: a copy of what each repair has touched.

The network speaks of a chain of epochs; epoch 0 is the unit as it was found, and every repair opens
the next one. Only what lies downstream of the faults that a repair touches is copied.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from brinebayes.errors import UsageError
from brinebayes.knowledge.schema import FAULT_STATES, Model
from brinebayes.network import chains, graph, odds
from brinebayes.network.local import (
    Step,
    decision_table,
    noise_name,
    noise_states,
    observation_table,
    spread,
    step_table,
)
from brinebayes.network.ordering import chain_orders
from brinebayes.network.tables import Network, Table, Variable

WITHOUT_FAULT = "call__without_fault"

#: A node of the plan: an id of the model and the epoch of its copy.
Node = tuple[str, int]


@dataclass(frozen=True, slots=True)
class World:
    """The network of a visit, and what its variables stand for.

    `open_roots`: faults and site conditions of the first epoch, whose probabilities depend on the
    site. `newest`: per id the epoch of its newest copy, per epoch. `steps`: every step of every
    chain, for drawing the noise. `like`: for variables that the first epoch does not have, the one
    of the first epoch that they resemble.
    """

    model: str
    done: tuple[str, ...]
    network: Network
    open_roots: tuple[str, ...]
    newest: Mapping[str, tuple[int, ...]]
    steps: tuple[Step, ...]
    like: Mapping[str, str]

    def name(self, id: str, epoch: int) -> str:
        """The variable that stands for `id` in `epoch`; the same one while no repair touches it.

        Raises UsageError for an id or an epoch that this world does not have.
        """
        return variable_name(self.newest, id, epoch)


def variable_name(newest: Mapping[str, tuple[int, ...]], id: str, epoch: int) -> str:
    """The variable that stands for `id` in `epoch`. Raises UsageError when there is none."""
    if id not in newest:
        raise UsageError(f"the model has nothing named {id!r} that could be observed")
    if not 0 <= epoch < len(newest[id]):
        raise UsageError(f"epoch {epoch} of {id}: only {len(newest[id]) - 1} repairs were done")
    return node_name(id, newest[id][epoch])


def node_name(id: str, epoch: int) -> str:
    """Name of the copy of `id` that came into being in `epoch`."""
    return f"{id}@{epoch}" if epoch else id


def luck_name(repair: str, fault: str) -> str:
    """Name of the success of a repair whose retries share their luck."""
    return f"{repair}__luck__{fault}"


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
) -> World:
    """The network of `model` after the repairs `done`, in order.

    `keep`: (id, epoch) of what will be observed or asked; the faults of the last epoch are always
    kept, and nothing else is built that none of these depends on. None: `everything`, the call
    among it. The tables of open roots hold the probabilities for `site`.

    Raises UsageError for unknown ids, ModelError for a table that does not cover every state.
    """
    done = tuple(done)
    newest = graph.versions(model, done)
    keep = tuple(everything(model, done) if keep is None else keep)
    parents = graph.parents_of(model)
    asked = {(name, newest[name][epoch]) for name, epoch in _known(keep, newest)}
    asked |= {(fault, newest[fault][-1]) for fault in model.faults}
    parts = _Parts(model, newest, _upstream(asked, parents, newest))
    _add_roots(parts, site)
    _add_fault_copies(parts, done)
    for mechanism in graph.mechanism_order(model):
        _add_mechanism(parts, mechanism)
    _add_observations(parts)
    _add_works(parts)
    if (graph.CALL, 0) in keep:
        _add_call(parts)
    network = Network(parts.variables, parts.tables)
    open_roots = tuple(v.name for v in parts.variables if v.name in {*model.faults, *model.site})
    return World(model.hash, done, network, open_roots, newest, tuple(parts.steps), parts.like)


# --- what is needed ----------------------------------------------------------------------------


def _known(
    keep: Iterable[tuple[str, int]], newest: Mapping[str, tuple[int, ...]]
) -> Iterator[tuple[str, int]]:
    for name, epoch in keep:
        if name != graph.CALL:
            variable_name(newest, name, epoch)  # raises for what does not exist
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
    variables: list[Variable] = field(default_factory=list)
    tables: list[Table] = field(default_factory=list)
    steps: list[Step] = field(default_factory=list)
    like: dict[str, str] = field(default_factory=dict)

    def add(
        self, name: str, states: tuple[str, ...], parents: Iterable[str], values: ArrayLike
    ) -> None:
        self.variables.append(Variable(name, states))
        self.tables.append(Table(name, parents, values))

    def epochs(self, name: str) -> list[int]:
        """The epochs of the copies of `name` that are wanted, in order."""
        return [e for e in sorted(set(self.newest[name])) if (name, e) in self.wanted]

    def at(self, name: str, epoch: int) -> str:
        """The variable of `name` as of `epoch`."""
        return node_name(name, self.newest[name][epoch])

    def copy(self, name: str, epoch: int) -> str:
        """The copy made in `epoch`, noted as a likeness of the first."""
        if epoch:
            self.like[node_name(name, epoch)] = name
        return node_name(name, epoch)


# --- roots and repairs -------------------------------------------------------------------------


def _add_roots(parts: _Parts, site: Mapping[str, str]) -> None:
    model = parts.model
    for fault, p in odds.priors(model, site).items():
        parts.add(fault, FAULT_STATES, (), (1.0 - p, p))
    for name, condition in model.site.items():
        if (name, 0) in parts.wanted:
            parts.add(name, tuple(condition.values), (), odds.site_chances(model, site, name))


def _add_fault_copies(parts: _Parts, done: tuple[str, ...]) -> None:
    """Present again if it was present and the repair failed, or if the repair did harm."""
    model = parts.model
    shared = set()
    for epoch, repair_id in enumerate(done, start=1):
        repair = model.repairs[repair_id]
        for fault in model.faults:
            if (fault, epoch) not in parts.wanted:
                continue
            clears = repair.clears[fault].value if fault in repair.clears else 0.0
            harm = repair.harms[fault].value if fault in repair.harms else 0.0
            before, after = parts.at(fault, epoch - 1), parts.copy(fault, epoch)
            if not (repair.same_luck and done.count(repair_id) > 1 and 0.0 < clears < 1.0):
                gone = clears * (1.0 - harm)
                parts.add(after, FAULT_STATES, (before,), [[1.0 - harm, harm], [gone, 1.0 - gone]])
                continue
            luck = luck_name(repair_id, fault)
            if luck not in shared:
                shared.add(luck)
                parts.like[luck] = fault
                parts.add(luck, ("fails", "succeeds"), (), (1.0 - clears, clears))
            harmed = [1.0 - harm, harm]
            parts.add(after, FAULT_STATES, (before, luck), [[harmed, harmed], [[0.0, 1.0], harmed]])


# --- mechanisms --------------------------------------------------------------------------------


def _add_mechanism(parts: _Parts, name: str) -> None:
    model = parts.model
    mechanism = model.mechanisms[name]
    finals = {epoch: parts.copy(name, epoch) for epoch in parts.epochs(name)}
    if not finals:
        return
    if mechanism.cases:
        parents, values = decision_table(model, name)
        for epoch, final in finals.items():
            bound = [parts.at(p, epoch) for p in parents]
            parts.add(final, mechanism.states, bound, values)
        return
    if not mechanism.causes:
        parts.add(name, mechanism.states, (), spread(mechanism.states, mechanism.leak))
        return
    links = chains.links_of(mechanism, chain_orders(model)[name])
    bound_to = {
        (link, epoch): tuple(parts.at(p, epoch) for p in link.parents)
        for link in links
        for epoch in finals
    }
    planned = chains.plan(name, mechanism, links, bound_to, finals)
    if planned.leak_root is not None:
        leak = spread(mechanism.states, mechanism.leak)
        parts.add(planned.leak_root, mechanism.states, (), leak)
    for j, like in planned.noise_roots.items():
        effect = mechanism.causes[j].effect
        states = tuple(mechanism.states[k] for k in noise_states(mechanism, j))
        parts.add(noise_name(name, j), states, (), [effect.of[s] for s in states])
        parts.like[noise_name(name, j)] = like
    for step in planned.steps:
        step_parents, values = step_table(model, step)
        parts.add(step.variable, mechanism.states, step_parents, values)
    parts.steps.extend(planned.steps)
    parts.like.update(planned.like)


# --- what can be seen --------------------------------------------------------------------------


def _add_observations(parts: _Parts) -> None:
    model = parts.model
    for name in (*graph.observations(model), *model.complaints, graph.PROOF):
        epochs = parts.epochs(name)
        if not epochs:
            continue
        parents, outcomes, values = observation_table(model, name)
        for epoch in epochs:
            bound = [parts.at(p, epoch) for p in parents]
            parts.add(parts.copy(name, epoch), outcomes, bound, values)


def _add_works(parts: _Parts) -> None:
    """`works` of every epoch in which it is wanted, as a chain over the mechanisms it needs."""
    needed = list(parts.model.about.works.items())
    made = 0
    for epoch in parts.epochs(graph.WORKS):
        final = parts.copy(graph.WORKS, epoch)
        if not needed:
            parts.add(final, graph.WORKS_STATES, (), (0.0, 1.0))
        previous: str | None = None
        for k, (mechanism, wanted) in enumerate(needed):
            name = final if k == len(needed) - 1 else f"{graph.WORKS}__c{made}"
            made += name != final
            if epoch and name != final:
                parts.like[name] = f"{graph.WORKS}__c{k}"
            good = [
                s in graph.named_states(wanted) for s in graph.states_of(parts.model, mechanism)
            ]
            table: list[list[float]] = [[float(not g), float(g)] for g in good]
            parents = [parts.at(mechanism, epoch)]
            if previous is None:
                parts.add(name, graph.WORKS_STATES, parents, table)
            else:
                values = np.array([[[1.0, 0.0]] * len(good), table])
                parts.add(name, graph.WORKS_STATES, [previous, *parents], values)
            previous = name


def _add_call(parts: _Parts) -> None:
    """The call, as a tree: any fault of a group, then any group, or a call without a fault."""
    model = parts.model
    either = np.array([[[1.0, 0.0], [0.0, 1.0]], [[0.0, 1.0], [0.0, 1.0]]])

    def any_of(names: list[str], made: Callable[[int], str]) -> str:
        previous = names[0]
        for k, name in enumerate(names[1:]):
            parts.add(made(k), graph.CALL_STATES, (previous, name), either)
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
    parts.add(graph.CALL, graph.CALL_STATES, (head,), np.eye(2))
