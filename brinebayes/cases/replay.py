"""What was known at each step of a case, as the question that the exact engine is asked."""

from __future__ import annotations

from collections.abc import Iterator

from brinebayes.cases.record import Case
from brinebayes.errors import DataError, UsageError
from brinebayes.knowledge.schema import Model
from brinebayes.visit.events import (
    Complained,
    Done,
    Event,
    Measured,
    Read,
    Saw,
    SiteKnown,
    Undo,
)
from brinebayes.visit.state import Question, VisitState, fold, to_question

#: What is told of the customer and the site; several in a row are one step.
_TOLD = Complained | SiteKnown | Measured
_SHOWN = Saw | Read | Done | Undo


def steps(case: Case) -> tuple[int, ...]:
    """Numbers of events after which more was known than before, each to be put into `question`.

    The first is what was told before anything was seen (0 if nothing was), the last the whole case
    as far as beliefs go. What an undo took back later counts until then, as it did on the visit.
    """
    events = case.events
    found = [_opening(events)]
    for count, event in enumerate(events[found[0] :], found[0] + 1):
        more = isinstance(event, _TOLD) and any(isinstance(e, _TOLD) for e in events[count:][:1])
        if isinstance(event, _SHOWN | _TOLD) and not more:
            found.append(count)
    return tuple(found)


def question(model: Model, case: Case, step: int | None = None) -> Question:
    """Everything said, seen, read and done after the first `step` events; after all if None.

    Raises DataError naming the case if the model does not know something in it.
    """
    return to_question(model, state(model, case, step))


def walk(model: Model, case: Case) -> Iterator[Question]:
    """The question at each of `steps`, all in one pass. Raises DataError as `question`."""
    events, now, before = case.events, VisitState(), 0
    for step in steps(case):
        new = events[before:step]
        if any(isinstance(event, Undo) for event in new):
            now = state(model, case, step)
        else:
            now = _folded(model, case, new, now)
        before = step
        yield to_question(model, now)


def state(model: Model, case: Case, step: int | None = None) -> VisitState:
    """The visit after the first `step` events. Raises DataError as `question`."""
    return _folded(model, case, case.events if step is None else case.events[:step])


def _folded(
    model: Model, case: Case, events: tuple[Event, ...], start: VisitState | None = None
) -> VisitState:
    try:
        return fold(model, events, start)
    except UsageError as error:
        raise DataError(f"case {case.id}: {error}") from error


def misfit(model: Model, case: Case) -> str | None:
    """The first thing in a case that the model does not know; None if it knows all of it."""
    try:
        found = state(model, case)
    except DataError as error:
        return str(error).removeprefix(f"case {case.id}: ")
    for one in case.confirmed:
        if one.fault not in model.faults:
            return f"there is no fault '{one.fault}'"
    if case.model.id != model.about.id:
        return f"belongs to the model '{case.model.id}', not to '{model.about.id}'"
    return None if found.ended is not None else "the visit has not ended"


def _opening(events: tuple[Event, ...]) -> int:
    """How many events were told before anything was seen or done."""
    last = 0
    for count, event in enumerate(events, 1):
        if isinstance(event, _SHOWN):
            break
        if isinstance(event, _TOLD):
            last = count
    return last
