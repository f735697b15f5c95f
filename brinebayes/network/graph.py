"""What depends on what in a model, before any network is built."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from graphlib import CycleError, TopologicalSorter
from itertools import chain

from brinebayes.errors import ModelError, UsageError
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.names import lookup
from brinebayes.knowledge.schema import FAULT_STATES, Condition, Model, Observation
from brinebayes.knowledge.schema import PROOF as PROOF
from brinebayes.knowledge.schema import PROOF_OUTCOMES as PROOF_OUTCOMES
from brinebayes.record import record

#: Ids that the network gives to what every model has.
CALL, WORKS = "call", "works"
CALL_STATES = WORKS_STATES = ("no", "yes")
COMPLAINT_STATES = ("said", "not_said")


@record
class Outline:
    """What a model's parts depend on, worked out once.

    `states`: of everything that can be observed or be a parent. `parents`: mechanisms,
    observations, complaints, `works` and `proof` -> what each depends on. `order`: mechanisms,
    every one after those it depends on. `history`: what always speaks of the weeks before the
    visit, complaints among it.
    """

    observations: Mapping[str, Observation]
    states: Mapping[str, tuple[str, ...]]
    parents: Mapping[str, tuple[str, ...]]
    order: tuple[str, ...]
    history: frozenset[str]


#: Outlines by model hash; more than one model in a process is rare outside of tests.
_outlines: dict[str, Outline] = {}
MOST_OUTLINES = 16


def outline(model: Model) -> Outline:
    """The outline of `model`, kept by its hash. Raises ModelError for a cycle of mechanisms."""
    found = _outlines.get(model.hash)
    if found is None:
        while len(_outlines) >= MOST_OUTLINES:
            del _outlines[next(iter(_outlines))]
        found = _outlines[model.hash] = _outlined(model)
    return found


def observations(model: Model) -> Mapping[str, Observation]:
    """Every observation of every check, by id, in the order of the file."""
    return outline(model).observations


def states_of(model: Model, name: str) -> tuple[str, ...]:
    """States of a fault, mechanism, site condition, observation, complaint, `works` or `proof`.

    Raises UsageError when the model has nothing of that name.
    """
    return lookup("fault, mechanism, site condition or observation", name, outline(model).states)


def parents_of(model: Model) -> Mapping[str, tuple[str, ...]]:
    """Mechanisms, observations, complaints, `works` and `proof` -> what each depends on."""
    return outline(model).parents


def mechanism_order(model: Model) -> tuple[str, ...]:
    """Mechanisms, every one after those it depends on."""
    return outline(model).order


def history(model: Model) -> frozenset[str]:
    """What always speaks of the weeks before the visit: complaints and history observations."""
    return outline(model).history


def named_states(wanted: str | Iterable[str]) -> tuple[str, ...]:
    """The states of a condition as a tuple, also when the file names a single one."""
    return (wanted,) if isinstance(wanted, str) else tuple(wanted)


def parents_in(conditions: Iterable[Condition]) -> tuple[str, ...]:
    """The ids that the conditions name, in order of first mention."""
    return tuple(dict.fromkeys(chain.from_iterable(conditions)))


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


def touched(model: Model, repair: str) -> frozenset[str]:
    """Everything that a repair may change: an observation among it may be answered otherwise."""
    return frozenset(name for name, epochs in versions(model, (repair,)).items() if epochs[1])


def newest_copy(newest: Mapping[str, tuple[int, ...]], id: str, epoch: int) -> int:
    """The epoch of the newest copy of `id` as of `epoch`. Raises UsageError when there is none."""
    if id not in newest:
        raise UsageError(f"the model has nothing named {id!r} that could be observed")
    if not 0 <= epoch < len(newest[id]):
        raise UsageError(f"epoch {epoch} of {id}: only {len(newest[id]) - 1} repairs were done")
    return newest[id][epoch]


def node_name(id: str, epoch: int) -> str:
    """Name of an observation that hangs on the copies of `epoch`."""
    return f"{id}@{epoch}" if epoch else id


def _outlined(model: Model) -> Outline:
    seen = {
        observation_id: observation
        for check in model.checks.values()
        for observation_id, observation in check.observations.items()
    }
    states: dict[str, tuple[str, ...]] = dict.fromkeys(model.faults, FAULT_STATES)
    states |= {name: mechanism.states for name, mechanism in model.mechanisms.items()}
    states |= {name: tuple(condition.values) for name, condition in model.site.items()}
    states |= {name: tuple(observation.outcomes) for name, observation in seen.items()}
    states |= dict.fromkeys(model.complaints, COMPLAINT_STATES)
    states |= {WORKS: WORKS_STATES, PROOF: PROOF_OUTCOMES}
    parents: dict[str, tuple[str, ...]] = {}
    for name, mechanism in model.mechanisms.items():
        whens = [*(c.when for c in mechanism.causes), *(c.when for c in mechanism.cases)]
        parents[name] = parents_in(whens)
    for name, observation in seen.items():
        parents[name] = parents_in(row.when for row in observation.rows)
    for name, complaint in model.complaints.items():
        parents[name] = parents_in(row.when for row in complaint.rows)
    parents[WORKS] = tuple(model.about.works)
    parents[PROOF] = (WORKS,)
    sorter = TopologicalSorter(
        {m: [p for p in parents[m] if p in model.mechanisms] for m in model.mechanisms}
    )
    try:
        order = tuple(sorter.static_order())
    except CycleError as error:
        raise ModelError(f"mechanisms.yaml: a cycle: {' -> '.join(error.args[1])}") from None
    past = frozenset(model.complaints) | {name for name, at in seen.items() if at.history}
    return Outline(ReadOnly(seen), ReadOnly(states), ReadOnly(parents), order, past)
