"""Any case that may be, with any words in it, and one visit to a unit of the small model."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from hypothesis import strategies as st

from brinebayes.cases.record import CALL_BACKS, Case, Confirmed, Step
from brinebayes.errors import UsageError
from brinebayes.visit.ends import ENDS
from brinebayes.visit.events import (
    Complained,
    Done,
    Ended,
    Event,
    Found,
    ModelIs,
    Note,
    Read,
    Saw,
    SiteKnown,
    Undo,
    standing,
)
from brinebayes.visit.found import HOWS
from tests.visit.anything import WORD, event

REFERENCE = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._:-]{0,12}", fullmatch=True)
DAY = st.dates(date(2000, 1, 1), date(2099, 12, 31))
TIME = st.just("") | DAY.map(lambda day: f"{day.isoformat()}T08:30:00Z")
MINUTES = st.none() | st.integers(0, 300) | st.floats(0, 1e6)

SMALL = ModelIs("small", "1", "abc")


def visit(*events: Event, id: str = "a-visit", **fields: Any) -> Case:
    """A case of these events, with an end if they have none."""
    ended = any(isinstance(one, Ended) for one in standing(events))
    if not ended:
        events = (*events, Ended("second_visit_needed", "", "", "", ()))
    steps = tuple(Step(one) for one in events)
    return Case(id, "2024-05-31", "2024-05-31", SMALL, steps, **fields)


#: A town house of our own making: the injector is cleaned and the proof passes.
PROVEN = visit(
    SiteKnown("supply", "town"),
    Complained("hard_water"),
    Saw("level", "static"),
    Read("outlet_hardness", "14 gpg"),
    Done("clean_injector"),
    Saw("proof", "passed"),
    Ended("proven", "", "", "", ()),
    id="proven-1",
    confirmed=(Confirmed("injector_clogged", "seen", 0.97),),
    proven=("clean_injector",),
)


@st.composite
def cases(draw: st.DrawFn) -> Case:
    """A valid case: any events but words of one's own, the end last."""
    events: list[Event] = []
    for one in draw(st.lists(event(), max_size=8)):
        if isinstance(one, Ended):
            continue
        if isinstance(one, Note):
            one = Note("")
        if isinstance(one, Found):
            one = Found(one.fault, draw(st.sampled_from(("", *HOWS))))
        if isinstance(one, Undo) and not _can_undo(events):
            continue
        events.append(one)
    end = draw(st.sampled_from(ENDS))
    events.append(Ended(end, draw(WORD), "", "", tuple(draw(st.lists(WORD, max_size=2)))))
    steps = tuple(Step(one, draw(MINUTES), draw(st.just("") | WORD), draw(TIME)) for one in events)
    opened, closed = sorted((draw(DAY), draw(DAY)))
    case = Case(
        id=draw(REFERENCE),
        opened=opened.isoformat(),
        closed=closed.isoformat(),
        model=ModelIs(draw(WORD), draw(WORD), draw(WORD)),
        steps=steps,
        job=draw(st.just("") | REFERENCE),
        unit=draw(st.just("") | REFERENCE),
        technician=draw(st.just("") | REFERENCE),
        confirmed=tuple(
            Confirmed(fault, draw(st.sampled_from(HOWS)), draw(st.floats(0.001, 1)))  # type: ignore[arg-type]
            for fault in draw(st.lists(WORD, max_size=3, unique=True))
        ),
        call_back=draw(st.sampled_from(CALL_BACKS)),  # type: ignore[arg-type]
        invented=draw(st.booleans()),
    )
    done = st.lists(st.sampled_from(case.done or ("",)), max_size=2)
    if not case.done:
        return case
    return replace(case, proven=tuple(draw(done)), pending=tuple(draw(done)))


def _can_undo(events: list[Event]) -> bool:
    try:
        standing((*events, Undo()))
    except UsageError:
        return False
    return True
