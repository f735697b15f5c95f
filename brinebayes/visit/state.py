"""Events in, state out: what is known at this point of the visit, checked against the model."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from brinebayes.errors import UsageError
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.names import suggest
from brinebayes.knowledge.schema import Model
from brinebayes.network.belief import Question, Seen
from brinebayes.visit.events import (
    Complained,
    CouldNot,
    Done,
    Event,
    PartMissing,
    Saw,
    SetupIs,
    SiteKnown,
)

PROOF = "proof"
PROOF_OUTCOMES = ("passed", "failed")


@dataclass(frozen=True, slots=True)
class VisitState:
    """What is known so far. `seen` and `done` are in the order in which things happened.

    The epoch of an observation is the number of repairs done before it.
    """

    site: Mapping[str, str] = ReadOnly({})
    complaints: tuple[str, ...] = ()
    seen: tuple[tuple[int, str, str], ...] = ()
    done: tuple[str, ...] = ()
    #: Only what the technician stated; all else is taken as the worst case.
    setup: Mapping[str, str] = ReadOnly({})
    could_not: frozenset[str] = frozenset()
    parts_missing: frozenset[str] = frozenset()

    def seen_now(self) -> dict[str, str]:
        """Observations made since the last repair, the latest answer of each."""
        return {name: outcome for epoch, name, outcome in self.seen if epoch == len(self.done)}

    def seen_ever(self) -> dict[str, str]:
        """The latest answer to each observation of the visit."""
        return {name: outcome for _, name, outcome in self.seen}


def observations_of(model: Model) -> dict[str, tuple[str, tuple[str, ...]]]:
    """Observation -> (its check, its outcomes), the proof included under the check `proof`."""
    table = {
        name: (check_id, tuple(observation.outcomes))
        for check_id, check in model.checks.items()
        for name, observation in check.observations.items()
    }
    table[PROOF] = (PROOF, PROOF_OUTCOMES)
    return table


def fold(model: Model, events: Iterable[Event], start: VisitState | None = None) -> VisitState:
    """Add events to a state. Raises UsageError where one names what the model lacks."""
    state = start or VisitState()
    for event in events:
        state = _step(model, state, event)
    return state


def _step(model: Model, state: VisitState, event: Event) -> VisitState:
    match event:
        case SiteKnown(condition, value):
            _known("site condition", condition, model.site)
            _known(f"value of {condition}", value, model.site[condition].values)
            return replace(state, site=ReadOnly({**state.site, condition: value}))
        case Complained(complaint):
            _known("complaint", complaint, model.complaints)
            if complaint in state.complaints:
                return state
            return replace(state, complaints=(*state.complaints, complaint))
        case Saw(observation, outcome):
            table = observations_of(model)
            _known("observation", observation, table)
            _known(f"outcome of {observation}", outcome, table[observation][1])
            seen = (*state.seen, (len(state.done), observation, outcome))
            return replace(state, seen=seen, setup=ReadOnly({}))
        case Done(repair):
            _known("repair", repair, model.repairs)
            return replace(state, done=(*state.done, repair), setup=ReadOnly({}))
        case SetupIs(variable, value):
            _known("setup variable", variable, model.setups.variables)
            _known(f"value of {variable}", value, model.setups.variables[variable].values)
            return replace(state, setup=ReadOnly({**state.setup, variable: value}))
        case CouldNot(act):
            _known("check or repair", act, {**model.checks, **model.repairs})
            return replace(state, could_not=state.could_not | {act})
        case PartMissing(part):
            _known("part", part, model.parts)
            return replace(state, parts_missing=state.parts_missing | {part})


def _known(what: str, word: str, known: Iterable[str]) -> None:
    names = tuple(known)
    if word not in names:
        hint = suggest(word, names)
        listed = "" if hint or len(names) > 8 else f"; it is one of {', '.join(names)}"
        raise UsageError(f"there is no {what} '{word}'{hint}{listed}")


def to_question(model: Model, state: VisitState) -> Question:
    """What the exact engine is asked: everything said, seen and done up to now."""
    table = observations_of(model)
    seen = tuple(
        Seen(
            epoch=epoch,
            observation=name,
            likelihood=tuple(1.0 if known == outcome else 0.0 for known in table[name][1]),
        )
        for epoch, name, outcome in state.seen
    )
    return Question(site=state.site, complaints=state.complaints, done=state.done, seen=seen)
