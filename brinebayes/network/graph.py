"""What depends on what in a model, before any network is built."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from graphlib import CycleError, TopologicalSorter
from itertools import chain

from brinebayes.errors import ModelError, UsageError
from brinebayes.knowledge.names import lookup
from brinebayes.knowledge.schema import FAULT_STATES, Condition, Model, Observation

#: Ids that the network gives to what every model has.
CALL, WORKS, PROOF = "call", "works", "proof"
CALL_STATES = WORKS_STATES = ("no", "yes")
PROOF_STATES = ("passed", "failed")
COMPLAINT_STATES = ("said", "not_said")


def observations(model: Model) -> dict[str, Observation]:
    """Every observation of every check, by id, in the order of the file."""
    return {
        observation_id: observation
        for check in model.checks.values()
        for observation_id, observation in check.observations.items()
    }


def states_of(model: Model, name: str) -> tuple[str, ...]:
    """States of a fault, mechanism, site condition, observation, complaint, `works` or `proof`.

    Raises UsageError when the model has nothing of that name.
    """
    if name in model.faults:
        return FAULT_STATES
    if name in model.mechanisms:
        return model.mechanisms[name].states
    if name in model.site:
        return tuple(model.site[name].values)
    if name in model.complaints:
        return COMPLAINT_STATES
    if name == WORKS:
        return WORKS_STATES
    if name == PROOF:
        return PROOF_STATES
    for check in model.checks.values():
        if name in check.observations:
            return tuple(check.observations[name].outcomes)
    raise UsageError(f"the model has no fault, mechanism, site condition or observation {name!r}")


def named_states(wanted: str | Iterable[str]) -> tuple[str, ...]:
    """The states of a condition as a tuple, also when the file names a single one."""
    return (wanted,) if isinstance(wanted, str) else tuple(wanted)


def parents_in(conditions: Iterable[Condition]) -> tuple[str, ...]:
    """The ids that the conditions name, in order of first mention."""
    return tuple(dict.fromkeys(chain.from_iterable(conditions)))


def parents_of(model: Model) -> dict[str, tuple[str, ...]]:
    """Mechanisms, observations, complaints, `works` and `proof` -> what each depends on."""
    found: dict[str, tuple[str, ...]] = {}
    for name, mechanism in model.mechanisms.items():
        found[name] = parents_in(
            [*(c.when for c in mechanism.causes), *(c.when for c in mechanism.cases)]
        )
    for name, observation in observations(model).items():
        found[name] = parents_in(row.when for row in observation.rows)
    for name, complaint in model.complaints.items():
        found[name] = parents_in(row.when for row in complaint.rows)
    found[WORKS] = tuple(model.about.works)
    found[PROOF] = (WORKS,)
    return found


def mechanism_order(model: Model) -> tuple[str, ...]:
    """Mechanisms, every one after those it depends on. Raises ModelError for a cycle."""
    parents = parents_of(model)
    sorter = TopologicalSorter(
        {m: [p for p in parents[m] if p in model.mechanisms] for m in model.mechanisms}
    )
    try:
        return tuple(sorter.static_order())
    except CycleError as error:
        raise ModelError(f"mechanisms.yaml: a cycle: {' -> '.join(error.args[1])}") from None


def history(model: Model) -> frozenset[str]:
    """What always speaks of the weeks before the visit: complaints and history observations."""
    return frozenset(model.complaints) | {o for o, at in observations(model).items() if at.history}


def versions(model: Model, done: tuple[str, ...]) -> Mapping[str, tuple[int, ...]]:
    """For each id the epoch of its newest copy, per epoch 0 .. len(done).

    A repair makes new copies of the faults it clears or may harm, and of all that is downstream
    of them; the rest stays the same variable. Raises UsageError for an unknown repair.
    """
    parents = parents_of(model)
    order = [*mechanism_order(model), *observations(model), WORKS, PROOF]
    newest: dict[str, list[int]] = {
        name: [0] for name in chain(model.faults, model.site, model.complaints, order)
    }
    kept = history(model)
    for epoch, repair_id in enumerate(done, start=1):
        repair = lookup("repair", repair_id, model.repairs)
        touched = {*repair.clears, *repair.harms}
        for name in (*model.faults, *model.site, *model.complaints):
            newest[name].append(epoch if name in touched else newest[name][-1])
        for name in order:
            copied = name not in kept and any(newest[p][epoch] == epoch for p in parents[name])
            newest[name].append(epoch if copied else newest[name][-1])
    return {name: tuple(epochs) for name, epochs in newest.items()}
