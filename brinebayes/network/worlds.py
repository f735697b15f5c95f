"""Joint states of a unit: the deterministic functions of the model over many rows at once.

`evaluate` is written straight from the shape of the model files and knows nothing of the network;
the tests enumerate with it what the network must say.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import ModelError, UsageError
from brinebayes.knowledge.schema import Condition, Mechanism, Model, Row, Spread
from brinebayes.network import graph
from brinebayes.record import record

Bools = NDArray[np.bool_]
States = NDArray[np.int8]
Floats = NDArray[np.float64]
#: A site condition: the name of its value, or the place of its value for every row.
SiteValues = Mapping[str, str | States]


def noise_roots(model: Model) -> dict[str, Floats]:
    """Every source of noise of the mechanisms -> the chance of each state it would bring about.

    `<mechanism>__n<j>` belongs to the cause at place j, `<mechanism>__leak` to the leak.
    """
    roots: dict[str, Floats] = {}
    for name, mechanism in model.mechanisms.items():
        if mechanism.leak is not None:
            roots[f"{name}__leak"] = _chances(mechanism.states, mechanism.leak)
        for j, cause in enumerate(mechanism.causes):
            roots[f"{name}__n{j}"] = _chances(mechanism.states, cause.effect)
    return roots


def evaluate(
    model: Model, site: SiteValues, faults: Bools, noise: Mapping[str, States]
) -> dict[str, States]:
    """The state of every mechanism in every row: places in `states`, best first.

    `faults`: (..., faults) in the order of the model, True where present. `noise`: for each of
    `noise_roots` the state it would bring about, broadcastable to (...). The results broadcast to
    (...) too. `site` needs only the conditions that mechanisms depend on.
    Raises UsageError for a missing site condition, ModelError for a decision that nothing covers.
    """
    at = _Lookup(model, site, faults)
    for name in graph.mechanism_order(model):
        mechanism = model.mechanisms[name]
        at.mechanisms[name] = (
            _decided(name, mechanism, at) if mechanism.cases else _worst(name, mechanism, at, noise)
        )
    return at.mechanisms


def works(model: Model, mechanisms: Mapping[str, States]) -> Bools:
    """Whether the unit does its work: every mechanism of model.yaml: works in a good state."""
    good: Any = np.ones((), dtype=bool)
    for name, wanted in model.about.works.items():
        good = good & _in_states(mechanisms[name], model.mechanisms[name].states, wanted)
    return np.asarray(good)


def outcome_chances(
    model: Model,
    name: str,
    site: SiteValues,
    faults: Bools,
    mechanisms: Mapping[str, States],
) -> Floats:
    """P(outcome | row) of an observation, complaint or the proof: (..., outcomes)."""
    if name == graph.PROOF:
        proof = model.about.proof
        passes = np.where(
            works(model, mechanisms), proof.passes_if_works.value, proof.passes_if_not.value
        )
        return np.stack([passes, 1.0 - passes], axis=-1)
    rows: tuple[Row, ...]
    if name in model.complaints:
        rows, misreading = model.complaints[name].rows, 0.0
    else:
        observation = graph.observations(model).get(name)
        if observation is None:
            raise UsageError(f"the model has no observation {name!r}")
        rows, misreading = observation.rows, observation.misreading.value
    outcomes = graph.states_of(model, name)
    at = _Lookup(model, site, faults, dict(mechanisms))
    table = np.array([_chances(outcomes, row.gives) for row in rows])
    table = (1.0 - misreading) * table + misreading / len(outcomes)
    which: Any = np.full((), -1, dtype=np.int16)
    for place in reversed(range(len(rows))):
        which = np.where(at.holds(rows[place].when), place, which)
    if (which < 0).any():
        raise ModelError(f"{name}: rows: nothing is said for some combination of states")
    found: Floats = table[which]
    return found


@dataclass(slots=True)
class _Lookup:
    """Where the conditions of a model find what they speak of."""

    model: Model
    site: SiteValues
    faults: Bools
    mechanisms: dict[str, States]

    def __init__(
        self,
        model: Model,
        site: SiteValues,
        faults: Bools,
        mechanisms: dict[str, States] | None = None,
    ) -> None:
        self.model, self.site, self.faults = model, site, faults
        self.mechanisms = {} if mechanisms is None else mechanisms

    def holds(self, when: Condition) -> Bools:
        """Where every part of a condition holds."""
        result: Any = np.ones((), dtype=bool)
        for name, wanted in when.items():
            result = result & self._part(name, wanted)
        return np.asarray(result)

    def _part(self, name: str, wanted: str | tuple[str, ...]) -> Bools:
        model = self.model
        if name in model.faults:
            present = self.faults[..., list(model.faults).index(name)]
            accepted = graph.named_states(wanted)
            if "present" in accepted:
                return present if "absent" not in accepted else np.ones((), dtype=bool)
            return ~present
        if name in model.mechanisms:
            return _in_states(self.mechanisms[name], model.mechanisms[name].states, wanted)
        if name not in self.site:
            raise UsageError(f"site condition {name!r} is needed and not given")
        value = self.site[name]
        if isinstance(value, str):
            return np.asarray(value in graph.named_states(wanted))
        return _in_states(value, tuple(model.site[name].values), wanted)


def _in_states(values: States, states: tuple[str, ...], wanted: str | tuple[str, ...]) -> Bools:
    """Where `values`, places in `states`, are among the wanted states."""
    places = sorted(states.index(state) for state in graph.named_states(wanted))
    if places == list(range(places[0], len(states))):
        return np.asarray(values >= places[0])
    if places == list(range(places[-1] + 1)):
        return np.asarray(values <= places[-1])
    result: Any = values == places[0]
    for place in places[1:]:
        result = result | (values == place)
    return np.asarray(result)


def _worst(name: str, mechanism: Mechanism, at: _Lookup, noise: Mapping[str, States]) -> States:
    """The worst state that any cause, or the leak, brings about."""
    state: Any = np.zeros((), dtype=np.int8)
    if mechanism.leak is not None:
        state = noise[f"{name}__leak"]
    for j, cause in enumerate(mechanism.causes):
        acts = at.holds(cause.when)
        state = np.maximum(state, acts.astype(np.int8) * noise[f"{name}__n{j}"])
    return np.asarray(state)


def _decided(name: str, mechanism: Mechanism, at: _Lookup) -> States:
    """The state that the first case gives whose condition holds."""
    state: Any = np.full((), -1, dtype=np.int8)
    for case in reversed(mechanism.cases):
        place = np.int8(mechanism.states.index(case.then))
        state = np.where(at.holds(case.when), place, state)
    if (state < 0).any():
        raise ModelError(f"mechanisms.yaml: {name}: cases: nothing is said for some combination")
    return np.asarray(state)


def _chances(states: Iterable[str], spread: Spread) -> Floats:
    return np.array([spread.of.get(state, 0.0) for state in states])


@record(eq=False)
class Worlds:
    """Weighted joint states of the present epoch, one a row.

    `faults`: (n, faults), True where present. `noise`: source -> (n,), the state it would bring
    about. `site`: condition -> (n,), the place of its value, for the conditions that matter.
    `mechanisms`: (n,) states. `weights`: (n,), sum 1. `first_faults` and `first_mechanisms` speak
    of the unit as it was found. `works`: (n,). `effective_draws`: how many independent draws of
    equal weight would be as exact; more than there are rows, since equal draws were merged.
    """

    model: Model
    site: Mapping[str, States]
    faults: Bools
    noise: Mapping[str, States]
    mechanisms: Mapping[str, States]
    works: Bools
    weights: Floats
    effective_draws: float
    first_faults: Bools
    first_mechanisms: Mapping[str, States]

    def only(self, rows: NDArray[np.intp], weights: Floats, effective_draws: float) -> Worlds:
        """Some of the rows, with other weights."""

        def taken(of: Mapping[str, States]) -> dict[str, States]:
            whole = (len(self.weights),)
            return {name: np.broadcast_to(values, whole)[rows] for name, values in of.items()}

        return Worlds(
            model=self.model,
            site=taken(self.site),
            faults=self.faults[rows],
            noise=taken(self.noise),
            mechanisms=taken(self.mechanisms),
            works=self.works[rows],
            weights=weights,
            effective_draws=effective_draws,
            first_faults=self.first_faults[rows],
            first_mechanisms=taken(self.first_mechanisms),
        )

    def has(self, fault: str) -> Bools:
        """(n,): where the fault is present."""
        return self.faults[:, list(self.model.faults).index(fault)]

    def observation_likelihoods(self, name: str) -> Floats:
        """(n, outcomes): P(outcome | row) of an observation not made yet, a complaint or the proof.

        What speaks of history is asked of the unit as it was found.
        """
        found, states = self.faults, self.mechanisms
        if name in graph.history(self.model):
            found, states = self.first_faults, self.first_mechanisms
        return self._rows(outcome_chances(self.model, name, self.site, found, states))

    def after(
        self, cleared: Sequence[Iterable[str]], added: Sequence[Iterable[str]] = ()
    ) -> tuple[Bools, dict[str, States]]:
        """Faults (changes, n, faults) and mechanisms (changes, n) after each of several changes.

        Change k takes away the faults `cleared[k]`, then brings about `added[k]`; all noise stays.
        """
        places = {name: j for j, name in enumerate(self.model.faults)}
        changes = len(cleared)
        # Faults outermost in memory, so that each fault's rows lie together.
        columns = np.empty((len(places), changes, len(self.weights)), dtype=bool)
        columns[:] = self.faults.T[:, None, :]
        for k, names in enumerate(cleared):
            columns[[places[name] for name in names], k] = False
        for k, names in enumerate(added):
            columns[[places[name] for name in names], k] = True
        faults = np.moveaxis(columns, 0, -1)
        return faults, evaluate(self.model, self.site, faults, self.noise)

    def works_after(
        self, cleared: Sequence[Iterable[str]], added: Sequence[Iterable[str]] = ()
    ) -> Bools:
        """(changes, n): whether the unit would work after each change; see `after`."""
        _, mechanisms = self.after(cleared, added)
        shape = (len(cleared), len(self.weights))
        return np.broadcast_to(works(self.model, mechanisms), shape)

    def _rows(self, chances: Floats) -> Floats:
        return np.broadcast_to(chances, (len(self.weights), chances.shape[-1]))
