"""States over time: the ways a fault or a mechanism can go through the epochs of a visit.

A variable of the network stands for all epochs at once. Its states are paths, one state for each
epoch that matters, and only the paths that can occur: a fault that a repair may clear is absent,
present, or present and then absent; what lies downstream follows. So the network after a repair has
the variables and the shape of the one before it, the noise of a link acts on all epochs together
without a variable of its own, and the tables grow by the few paths more and not by whole copies.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product
from math import prod

import numpy as np
from numpy.typing import NDArray

from brinebayes.knowledge.schema import FAULT_STATES, Condition, Mechanism, Model, Repair
from brinebayes.network import graph
from brinebayes.network.local import Floats, spread
from brinebayes.record import record

States = NDArray[np.int8]
Indices = NDArray[np.intp]


@record(eq=False)
class Paths:
    """The states of one variable of the network.

    `names`: the states of one epoch. `epochs`: those in which a copy came into being, in order.
    `states`: (paths, epochs), places in `names`. `labels`: names of the paths.
    """

    names: tuple[str, ...]
    epochs: tuple[int, ...]
    states: States
    labels: tuple[str, ...]

    @staticmethod
    def of(names: Sequence[str], epochs: Sequence[int], states: States) -> Paths:
        labels = tuple(">".join(names[place] for place in path) for path in states.tolist())
        return Paths(tuple(names), tuple(epochs), states, labels)

    @staticmethod
    def single(names: Sequence[str], epoch: int = 0) -> Paths:
        """The paths of what matters in one epoch only: its states."""
        return Paths.of(names, (epoch,), np.arange(len(names), dtype=np.int8)[:, None])

    def at(self, epoch: int) -> States:
        """(paths,): the state in the copy that came into being in `epoch`."""
        found: States = self.states[:, self.epochs.index(epoch)]
        return found

    def among(self, epoch: int, wanted: str | tuple[str, ...]) -> NDArray[np.bool_]:
        """(paths,): whether that copy is in one of the wanted states."""
        places = [self.names.index(state) for state in graph.named_states(wanted)]
        return np.isin(self.at(epoch), places)

    def __len__(self) -> int:
        return len(self.labels)


# --- faults ------------------------------------------------------------------------------------


def fault_paths(
    model: Model, fault: str, done: Sequence[str], epochs: Sequence[int]
) -> tuple[Paths, Floats]:
    """The paths of a fault through the repairs that touch it, and P(path | first state).

    Present again if it was present and the repair failed, or if the repair did harm. Tries of a
    repair with `same_luck` share their success; harm is fresh every time.
    """
    repairs = {epoch: model.repairs[done[epoch - 1]] for epoch in epochs if epoch}
    shared = {
        done[epoch - 1]: _chance(repair, fault)
        for epoch, repair in repairs.items()
        if repair.same_luck
    }
    chances: dict[tuple[int, ...], float] = {}
    for first, *lucks in product((0, 1), *((0, 1) for _ in shared)):
        luck = dict(zip(shared, lucks, strict=True))
        odds = [shared[name] if succeeds else 1.0 - shared[name] for name, succeeds in luck.items()]
        ways: dict[tuple[int, ...], float] = {(first,): float(prod(odds))}
        for epoch, repair in repairs.items():
            clears = float(luck.get(done[epoch - 1], _chance(repair, fault)))
            harm = repair.harms[fault].value if fault in repair.harms else 0.0
            longer: dict[tuple[int, ...], float] = {}
            for way, chance in ways.items():
                stays = (1.0 - clears * (1.0 - harm)) if way[-1] else harm
                longer[(*way, 0)] = chance * (1.0 - stays)
                longer[(*way, 1)] = chance * stays
            ways = longer
        for way, chance in ways.items():
            if chance > 0.0:
                chances[way] = chances.get(way, 0.0) + chance
    # The path on which the fault never is comes first, even where harm is certain.
    chances.setdefault((0,) * len(epochs), 0.0)
    ordered = sorted(chances)
    states = np.array(ordered, dtype=np.int8)
    return Paths.of(FAULT_STATES, epochs, states), np.array([chances[way] for way in ordered])


def _chance(repair: Repair, fault: str) -> float:
    return repair.clears[fault].value if fault in repair.clears else 0.0


# --- mechanisms --------------------------------------------------------------------------------


@record(eq=False)
class Step:
    """One step of a chain: the worst of what went before and of one link's causes.

    `sources`: the causes (None: the leak) whose noise is folded in; `noise`: (combinations,
    sources) the states they may bring about, `chances`: (combinations,) of these. `leads_to`:
    (paths before, configurations of the parents, combinations) -> path after. `previous` is None
    at the start of a chain, where the only path before is the best state throughout.
    """

    mechanism: str
    variable: str
    previous: str | None
    parents: tuple[str, ...]
    sources: tuple[int | None, ...]
    noise: States
    chances: Floats
    leads_to: Indices

    def table(self, widths: Sequence[int], after: int) -> Floats:
        """P(variable | previous, parents): (*widths, after), one axis for each of them."""
        rows = len(self.leads_to) * self.leads_to.shape[1]
        row = np.arange(rows).repeat(len(self.chances))
        entries = row * after + self.leads_to.ravel()
        table = np.bincount(entries, np.tile(self.chances, rows), minlength=rows * after)
        return table.astype(np.float64).reshape(*widths, after)


def take_step(
    name: str,
    mechanism: Mechanism,
    causes: Sequence[int],
    with_leak: bool,
    epochs: Sequence[int],
    before: tuple[str, Paths] | None,
    parents: Mapping[str, tuple[Paths, Sequence[int]]],
    variable: str,
) -> tuple[Step, Paths]:
    """One step of the chain of a mechanism that matters in `epochs`.

    `parents`: per parent its paths, and the epoch of its copy that each of `epochs` sees.
    """
    sources: tuple[int | None, ...] = (None, *causes) if with_leak else tuple(causes)
    spreads = [
        spread(mechanism.states, mechanism.leak if j is None else mechanism.causes[j].effect)
        for j in sources
    ]
    noise = np.array(list(product(*(np.flatnonzero(s) for s in spreads))), dtype=np.int8)
    chances = np.prod([s[noise[:, i]] for i, s in enumerate(spreads)], axis=0)
    start = np.zeros((1, len(epochs)), dtype=np.int8) if before is None else before[1].states
    # Axes: paths before, configurations of the parents, combinations of noise, epochs.
    state = start[:, None, None, :]
    for i, j in enumerate(sources):
        brought = noise[None, None, :, i, None]
        if j is not None:
            brought = brought * _holds(mechanism.causes[j].when, parents)[None, :, None, :]
        state = np.maximum(state, brought)
    configurations = prod(len(paths) for paths, _ in parents.values())
    full = np.broadcast_to(state, (len(start), configurations, len(noise), len(epochs)))
    leads_to, paths = reached(mechanism.states, epochs, full)
    previous = None if before is None else before[0]
    step = Step(name, variable, previous, tuple(parents), sources, noise, chances, leads_to)
    return step, paths


def _holds(
    when: Condition, parents: Mapping[str, tuple[Paths, Sequence[int]]]
) -> NDArray[np.bool_]:
    """(configurations, epochs): where a condition holds."""
    holds = np.ones((1,) * (len(parents) + 1), dtype=bool)
    for axis, (name, (paths, seen)) in enumerate(parents.items()):
        accepted = np.stack([paths.among(epoch, when[name]) for epoch in seen], axis=1)
        shape = [1] * len(parents) + [len(seen)]
        shape[axis] = len(paths)
        holds = holds & accepted.reshape(shape)
    return holds.reshape(-1, holds.shape[-1])


def decide(
    states: Sequence[str],
    epochs: Sequence[int],
    parents: Sequence[tuple[Paths, Sequence[int]]],
    place: Indices,
) -> tuple[Indices, Paths]:
    """What a deterministic function of its parents' states makes of their paths.

    `place`: (*parents' states) the state it gives. Returns (*parents' paths) the path it takes.
    """
    columns = []
    for k in range(len(epochs)):
        at = [paths.at(seen[k]) for paths, seen in parents]
        columns.append(place[np.ix_(*at)])
    return reached(states, epochs, np.stack(columns, axis=-1).astype(np.int8))


def reached(names: Sequence[str], epochs: Sequence[int], states: States) -> tuple[Indices, Paths]:
    """Which path stands where, along the last axis of `states`, and the paths that occur at all.

    With one epoch every state stays, reached or not: that is the variable as the model has it.
    """
    flat = states.reshape(-1, states.shape[-1])
    if len(epochs) == 1:
        return states[..., 0].astype(np.intp), Paths.single(names, epochs[0])
    code = np.zeros(len(flat), dtype=np.int64)
    for column in flat.T:
        code = code * len(names) + column
    _, first, inverse = np.unique(code, return_index=True, return_inverse=True)
    return inverse.reshape(states.shape[:-1]), Paths.of(names, epochs, flat[first])
