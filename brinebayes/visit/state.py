"""Events in, state out: what is known at this point of the visit, checked against the model."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from brinebayes.errors import UsageError
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.names import suggest
from brinebayes.knowledge.schema import PROOF as PROOF
from brinebayes.knowledge.schema import PROOF_OUTCOMES as PROOF_OUTCOMES
from brinebayes.knowledge.schema import Condition, Model
from brinebayes.network.belief import Question as Question
from brinebayes.network.belief import Seen
from brinebayes.network.graph import touched
from brinebayes.record import record
from brinebayes.setups.states import allowed
from brinebayes.visit.ends import ENDS
from brinebayes.visit.events import (
    Arrived,
    Complained,
    CouldNot,
    CutOff,
    Done,
    Ended,
    Event,
    Found,
    Heeded,
    Measured,
    ModelIs,
    Note,
    PartHere,
    PartMissing,
    Read,
    Refilled,
    Saw,
    SetupIs,
    SiteKnown,
    Skipped,
    Undo,
    Waiting,
    standing,
)
from brinebayes.visit.found import HOWS

if TYPE_CHECKING:
    from brinebayes.readings.interpret import Reading as Reading

#: Acts that are no check and no repair of the model, beside the proof.
FINISH, ESCALATE = "finish", "escalate"

#: First questions that are skipped as a whole.
FIRST = COMPLAINTS, SITE, SETUP = "complaint", "site", "setup"


@record
class NumberRead:
    """A number that was read after `epoch` repairs.

    `place`: which of `seen` it is; None if it was taken too early and is not used.
    """

    epoch: int
    place: int | None
    reading: Reading


@record
class VisitState:
    """What is known so far. `seen` and `done` are in the order in which things happened.

    The epoch of an observation is the number of repairs done before it.
    """

    site: Mapping[str, str] = ReadOnly({})
    complaints: tuple[str, ...] = ()
    seen: tuple[tuple[int, str, str], ...] = ()
    done: tuple[str, ...] = ()
    #: Observations whose answer a repair since then may have changed.
    outdated: frozenset[str] = frozenset()
    #: Only what the technician stated since the last act; all else is taken as the worst case.
    setup: Mapping[str, str] = ReadOnly({})
    could_not: frozenset[str] = frozenset()
    parts_missing: frozenset[str] = frozenset()
    parts_here: frozenset[str] = frozenset()
    #: How the unit stood when a route was last walked, and the act it was walked for; None: never.
    walked: Mapping[str, str] | None = None
    at: str = ""
    #: Acts done in another way since then, whose routes nobody told, in order.
    since: tuple[str, ...] = ()
    #: The check whose waiting time runs.
    waiting: str = ""
    #: (epoch, question) that was put and not answered.
    skipped: frozenset[tuple[int, str]] = frozenset()
    heeded: frozenset[str] = frozenset()
    #: How many of `seen` were made before the brine tank was last refilled.
    before_refill: int = 0
    refilled: bool = False
    notes: tuple[str, ...] = ()
    #: Fault that was found -> how, empty if that was not said.
    found: Mapping[str, str] = ReadOnly({})
    ended: Ended | None = None
    #: Measure of the site -> its value as it was told.
    measures: Mapping[str, str] = ReadOnly({})
    #: In order; what each says follows from all measures that are known now.
    readings: tuple[NumberRead, ...] = ()

    def seen_now(self) -> dict[str, str]:
        """Observations made since the last repair, the latest answer of each."""
        return {name: outcome for epoch, name, outcome in self.seen if epoch == len(self.done)}

    def still_known(self) -> dict[str, str]:
        """The latest answer to each observation that no repair has touched since."""
        ever = self.seen_ever().items()
        return {name: outcome for name, outcome in ever if name not in self.outdated}

    def seen_ever(self) -> dict[str, str]:
        """The latest answer to each observation of the visit."""
        return {name: outcome for _, name, outcome in self.seen}

    def clear_now(self) -> dict[str, str]:
        """As `seen_now`, without what was read as a number that leaves its outcome open."""
        return self._clear(len(self.done))

    def clear_ever(self) -> dict[str, str]:
        """As `seen_ever`, without what was read as a number that leaves its outcome open."""
        return self._clear(None)

    def _clear(self, only: int | None) -> dict[str, str]:
        unclear = {item.place for item in self.readings if not item.reading.clear}
        found: dict[str, str] = {}
        for place, (epoch, name, outcome) in enumerate(self.seen):
            if only is None or epoch == only:
                found.pop(name, None)
                if place not in unclear:
                    found[name] = outcome
        return found

    @property
    def failed_proofs(self) -> int:
        """How many proofs have failed on this visit."""
        return sum((name, outcome) == (PROOF, "failed") for _, name, outcome in self.seen)

    def times_seen(self, observation: str) -> int:
        """How often an observation was made since the last repair."""
        return sum((len(self.done), observation) == (epoch, name) for epoch, name, _ in self.seen)

    def was_skipped(self, observation: str) -> bool:
        """Whether an observation was asked for since the last repair and not made."""
        return (len(self.done), observation) in self.skipped

    def was_asked(self, question: str) -> bool:
        """Whether a first question was put on this visit and not answered."""
        return (0, question) in self.skipped


#: Model hash -> its observations; a fold asks for them at every sighting.
_observations: dict[str, Mapping[str, tuple[str, tuple[str, ...]]]] = {}


def observations_of(model: Model) -> Mapping[str, tuple[str, tuple[str, ...]]]:
    """Observation -> (its check, its outcomes), the proof included under the check `proof`.

    Kept for the life of the process by the model's hash.
    """
    found = _observations.get(model.hash)
    if found is None:
        table = {
            name: (check_id, tuple(observation.outcomes))
            for check_id, check in model.checks.items()
            for name, observation in check.observations.items()
        }
        table[PROOF] = (PROOF, PROOF_OUTCOMES)
        found = _observations[model.hash] = ReadOnly(table)
    return found


def fold(model: Model, events: Iterable[Event], start: VisitState | None = None) -> VisitState:
    """Add events to a state, those left that no undo among them took back.

    Raises UsageError where one names what the model lacks, or an undo finds nothing.
    """
    state = start or VisitState()
    for event in standing(events):
        state = _step(model, state, event)
    return state


def lacks(model: Model, event: Event) -> str | None:
    """What an event names that the model does not have; None if it has all of it."""
    try:
        _step(model, VisitState(), event)
    except UsageError as error:
        return str(error)
    return None


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
            return _saw(model, state, observation, outcome)
        case Read(observation, text):
            return _read(model, state, observation, text)
        case Measured(measure, text):
            return _measured(model, state, measure, text)
        case Done(repair):
            _known("repair", repair, model.repairs)
            done, outdated = (*state.done, repair), state.outdated | touched(model, repair)
            after = _acted(model, state, repair)
            return replace(after, done=done, outdated=outdated, at="", waiting="")
        case Arrived(act, setup):
            return _arrived(model, state, act, setup)
        case Waiting(act):
            _known("check", act, model.checks)
            return replace(state, waiting=act)
        case SetupIs(variable, value):
            _setup(model, {variable: value})
            setup = ReadOnly({**state.setup, variable: value})
            # Who tells parts by himself need not be asked for them.
            skipped = state.skipped | {(0, SETUP)}
            return replace(state, setup=setup, waiting="", skipped=skipped)
        case _:
            return _noted(model, state, event)


def _noted(model: Model, state: VisitState, event: Event) -> VisitState:
    """The events that change no belief and move nothing."""
    match event:
        case Skipped(what):
            observations = observations_of(model)
            _known("question", what, (*model.site, *model.measures, *observations, *FIRST))
            epoch = len(state.done) if what in observations else 0
            skipped = state.skipped | {(epoch, what)}
            waiting = "" if observations.get(what, ("",))[0] == state.waiting else state.waiting
            return replace(state, skipped=skipped, waiting=waiting)
        case Heeded(rule):
            _known("rule", rule, model.rules)
            return replace(state, heeded=state.heeded | {rule})
        case Refilled():
            return replace(state, before_refill=len(state.seen), refilled=True)
        case CouldNot(act):
            _known("check or repair", act, {**model.checks, **model.repairs, PROOF: None})
            waiting = "" if act == state.waiting else state.waiting
            return replace(state, could_not=state.could_not | {act}, waiting=waiting)
        case PartMissing(part):
            _known("part", part, model.parts)
            here = state.parts_here - {part}
            return replace(state, parts_missing=state.parts_missing | {part}, parts_here=here)
        case PartHere(part):
            _known("part", part, model.parts)
            gone = state.parts_missing - {part}
            return replace(state, parts_here=state.parts_here | {part}, parts_missing=gone)
        case Note(text):
            return replace(state, notes=(*state.notes, text))
        case Found(fault, how):
            _known("fault", fault, model.faults)
            _known("way to find a fault", how, ("", *HOWS))
            return replace(state, found=ReadOnly({**state.found, fault: how}))
        case Ended(end, act):
            _known("way to end a visit", end, ENDS)
            if act:
                _known("repair", act, model.repairs)
            return replace(state, ended=event)
        case Undo() | ModelIs() | CutOff():
            return state
        case _:
            raise AssertionError(event)


def _saw(model: Model, state: VisitState, observation: str, outcome: str) -> VisitState:
    table = observations_of(model)
    _known("observation", observation, table)
    check, outcomes = table[observation]
    _known(f"outcome of {observation}", outcome, outcomes)
    seen = (*state.seen, (len(state.done), observation, outcome))
    outdated = state.outdated - {observation}
    return replace(_acted(model, state, check), seen=seen, outdated=outdated)


def _read(model: Model, state: VisitState, observation: str, text: str) -> VisitState:
    """A number counts as seen, with the likeliest outcome, unless it was taken too early.

    Raises UsageError for what cannot have been read.
    """
    from brinebayes.readings.interpret import interpret

    epoch, place = len(state.done), len(state.seen)
    reading = interpret(model, observation, text, state.measures)
    if reading.challenge is not None:
        if reading.challenge.kind == "implausible":
            raise UsageError(reading.challenge.says)
        early = NumberRead(epoch, None, reading)
        return replace(state, readings=(*state.readings, early))
    state = _saw(model, state, observation, reading.outcome)
    return replace(state, readings=(*state.readings, NumberRead(epoch, place, reading)))


def _measured(model: Model, state: VisitState, measure: str, text: str) -> VisitState:
    """A measure of the site, in the light of which every number is read again."""
    from brinebayes.readings import site
    from brinebayes.readings.interpret import interpret

    _known("measure", measure, model.measures)
    site.check(model, measure, text)
    measures = ReadOnly({**state.measures, measure: text})
    seen = list(state.seen)
    readings = []
    for item in state.readings:
        old = item.reading
        reading = interpret(model, old.observation, old.text, measures)
        readings.append(replace(item, reading=reading))
        if item.place is not None:
            seen[item.place] = (item.epoch, old.observation, reading.outcome)
    return replace(state, measures=measures, seen=tuple(seen), readings=tuple(readings))


def site_fact(model: Model, name: str, text: str) -> SiteKnown | Measured:
    """What was told of the site: the value of a condition, or a measure with its unit."""
    if name in model.measures:
        return Measured(name, text)
    _known("site condition or measure", name, (*model.site, *model.measures))
    return SiteKnown(name, text)


def _acted(model: Model, state: VisitState, act: str) -> VisitState:
    """After an act: as its route left it if that was walked, else what it touched is unknown."""
    if act == state.waiting:
        return replace(state, at=act, waiting="")
    if act == state.at:
        return state
    last = state.since[-1:] == (act,)
    since = state.since if last else (*state.since, act)
    waiting = state.waiting if _undisturbed(model, state, act) else ""
    return replace(state, at="", since=since, setup=ReadOnly({}), waiting=waiting)


def _undisturbed(model: Model, state: VisitState, act: str) -> bool:
    """Whether an act can be done where the unit stands, and leaves it so."""
    needs, leaves = needs_and_leaves(model, act)
    now = {**(state.walked or {}), **state.setup}
    return not leaves and all(now.get(name) in allowed(values) for name, values in needs.items())


def needs_and_leaves(model: Model, act: str) -> tuple[Condition, Mapping[str, str]]:
    """The setup that a check, a repair or the proof needs, and what it leaves changed."""
    if act == PROOF:
        return model.about.proof.needs, model.about.proof.leaves
    item = model.checks[act] if act in model.checks else model.repairs[act]
    return item.needs, item.leaves


def _arrived(model: Model, state: VisitState, act: str, setup: Mapping[str, str]) -> VisitState:
    if act:
        acts = {**model.checks, **model.repairs, PROOF: None, FINISH: None, ESCALATE: None}
        _known("act", act, acts)
    _setup(model, setup)
    still = state.walked == setup and not state.since and not state.setup
    return replace(
        state,
        walked=ReadOnly(setup),
        at=act,
        since=(),
        setup=ReadOnly({}),
        waiting=state.waiting if still else "",
    )


def _setup(model: Model, setup: Mapping[str, str]) -> None:
    for variable, value in setup.items():
        _known("setup variable", variable, model.setups.variables)
        _known(f"value of {variable}", value, model.setups.variables[variable].values)


def _known(what: str, word: str, known: Iterable[str]) -> None:
    names = tuple(known)
    if word not in names:
        hint = suggest(word, names)
        listed = "" if hint or len(names) > 8 else f"; it is one of {', '.join(names)}"
        raise UsageError(f"there is no {what} '{word}'{hint}{listed}")


def to_question(model: Model, state: VisitState) -> Question:
    """What the exact engine is asked: everything said, seen, read and done up to now."""
    read = {item.place: item.reading.likelihood for item in state.readings}
    seen = tuple(
        Seen(
            epoch=epoch,
            observation=name,
            likelihood=read.get(place)
            or tuple(1.0 if known == outcome else 0.0 for known in _outcomes(model, name)),
        )
        for place, (epoch, name, outcome) in enumerate(state.seen)
    )
    return Question(site=state.site, complaints=state.complaints, done=state.done, seen=seen)


def _outcomes(model: Model, observation: str) -> Iterable[str]:
    return PROOF_OUTCOMES if observation == PROOF else model.observation(observation).outcomes
