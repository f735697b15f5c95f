"""A case: a visit that is over, with what was found and how surely, and no word of the customer.

A case has no field for names, addresses or anybody's own words: notes, and to whom a visit was
passed on, stay in the visit file. What refers to a job, a unit or a technician is the shop's own
reference, which says nothing to anybody else.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from functools import cached_property
from typing import Literal, get_args

from brinebayes.errors import UsageError
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.record import record
from brinebayes.visit.ends import ENDS
from brinebayes.visit.events import (
    Complained,
    CutOff,
    Done,
    Ended,
    Event,
    Found,
    Measured,
    ModelIs,
    Note,
    Read,
    Saw,
    SiteKnown,
    Undo,
    Waiting,
    last_step,
    standing,
)
from brinebayes.visit.found import HOWS, How

#: Whether the customer called again within the shop's window about the same trouble.
CallBack = Literal["yes", "no", "unknown"]

CALL_BACKS: tuple[str, ...] = get_args(CallBack)

#: How surely a fault was present if nobody says so: judged, no source.
SURE: Mapping[How, float] = ReadOnly(
    {"seen": 0.97, "repaired_and_proven": 0.9, "repaired_only": 0.7, "judged": 0.6}
)

#: How a fault may be confirmed without anybody having seen it.
UNSEEN: tuple[How, ...] = ("repaired_and_proven", "repaired_only", "judged")

#: What ids and references look like; no spaces, so that nobody writes a name into them.
REFERENCE = r"[A-Za-z0-9][A-Za-z0-9._:-]{0,79}"
TIME = "%Y-%m-%dT%H:%M:%SZ"

_REFERENCE = re.compile(REFERENCE + r"\Z")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}\Z")
_TIME = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z\Z")


@record
class Confirmed:
    """A fault that was found; `sure`: the probability, above 0, that it was there."""

    fault: str
    how: How
    sure: float


@record
class Step:
    """An event with what is known about it.

    `minutes`: from the answer before to this one, the way to the act included; None if not known.
    `advised`: the act that the advice put first when this was done. `at`: when (UTC). Both may be
    empty.
    """

    event: Event
    minutes: float | None = None
    advised: str = ""
    at: str = ""


@record
class Case:
    """A visit that is over. `steps`: everything that happened, in order, undone steps included.

    `opened`, `closed`: dates as 2024-05-31. `model`: the one that gave the advice or, where a case
    comes from elsewhere, the one in whose ids it is written. `job`, `unit`, `technician`: the
    shop's own references, or empty. `proven`: repairs followed by a passed proof. `pending`:
    repairs of which something is still to be proven.
    """

    id: str
    opened: str
    closed: str
    model: ModelIs
    steps: tuple[Step, ...]
    job: str = ""
    unit: str = ""
    technician: str = ""
    confirmed: tuple[Confirmed, ...] = ()
    proven: tuple[str, ...] = ()
    pending: tuple[str, ...] = ()
    call_back: CallBack = "unknown"
    invented: bool = False

    @property
    def events(self) -> tuple[Event, ...]:
        """Every event in order, undone ones included."""
        return tuple(step.event for step in self.steps)

    @cached_property
    def standing(self) -> tuple[Event, ...]:
        """The events that no undo took back."""
        return standing(self.events)

    @cached_property
    def site(self) -> Mapping[str, str]:
        """Site condition -> value, as far as it was told."""
        return ReadOnly({e.condition: e.value for e in self.standing if isinstance(e, SiteKnown)})

    @cached_property
    def measures(self) -> Mapping[str, str]:
        """Measure of the site -> its value as it was told."""
        return ReadOnly({e.measure: e.text for e in self.standing if isinstance(e, Measured)})

    @cached_property
    def complaints(self) -> tuple[str, ...]:
        """Each complaint once, in order."""
        return tuple(dict.fromkeys(e.complaint for e in self.standing if isinstance(e, Complained)))

    @property
    def undisputed(self) -> tuple[Confirmed, ...]:
        """The confirmed faults that no call-back puts in doubt: after one, only those seen."""
        if self.call_back != "yes":
            return self.confirmed
        return tuple(one for one in self.confirmed if one.how not in UNSEEN)

    @cached_property
    def done(self) -> tuple[str, ...]:
        """The repairs in order; one that was done twice stands twice."""
        return tuple(e.repair for e in self.standing if isinstance(e, Done))

    @property
    def ended(self) -> str:
        """How the visit ended: one of `visit.ends.ENDS`."""
        return next(e.end for e in reversed(self.standing) if isinstance(e, Ended))

    @cached_property
    def advised(self) -> tuple[tuple[str, Event], ...]:
        """(act advised, what was done) for every standing act whose advice is on record."""
        return tuple(
            (step.advised, step.event)
            for step in standing_steps(self.steps)
            if step.advised and isinstance(step.event, Saw | Read | Done | Waiting | Ended)
        )


def standing_steps(steps: Iterable[Step]) -> tuple[Step, ...]:
    """The steps whose events no undo took back. Raises UsageError if an undo finds nothing."""
    left: list[Step] = []
    for step in steps:
        if not isinstance(step.event, Undo):
            left.append(step)
            continue
        taken = last_step([one.event for one in left])
        if not taken:
            raise UsageError("there is nothing left to take back")
        left = [one for place, one in enumerate(left) if place not in taken]
    return tuple(left)


# --- what must hold ----------------------------------------------------------------------------


def problem(case: Case) -> tuple[str, str] | None:
    """The first thing wrong with a case: (its field, what would be right); None if all is well.

    Whether the model knows what it names is another question, see `replay.misfit`.
    """
    return _references(case) or _dates(case) or _steps(case) or _found(case)


def _references(case: Case) -> tuple[str, str] | None:
    for field in ("id", "job", "unit", "technician"):
        value = getattr(case, field)
        if (value or field == "id") and not _REFERENCE.match(value):
            return field, (
                "must be a reference of letters, digits and . _ : - without spaces, at most 80"
            )
    for field in ("id", "hash"):
        if not getattr(case.model, field):
            return f"model.{field}", "must not be empty"
    return None


def _dates(case: Case) -> tuple[str, str] | None:
    for field in ("opened", "closed"):
        if not is_date(getattr(case, field)):
            return field, "must be a date as 2024-05-31"
    if case.opened > case.closed:
        return "opened", f"must not be after the day it was closed ({case.closed})"
    return None


def _steps(case: Case) -> tuple[str, str] | None:
    for place, step in enumerate(case.steps):
        here = f"steps[{place}]"
        minutes, event = step.minutes, step.event
        if minutes is not None and not (math.isfinite(minutes) and minutes >= 0.0):
            return f"{here}.minutes", "must be a number of minutes, not below 0"
        if step.at and not _is_time(step.at):
            return f"{here}.at", "must be a UTC time as 2024-05-31T08:00:00Z"
        if isinstance(event, Note) and event.text:
            return f"{here}.text", "must be empty: words of one's own stay in the visit file"
        if isinstance(event, Found) and event.how not in ("", *HOWS):
            return f"{here}.how", f"must be empty or one of {', '.join(HOWS)}"
        if isinstance(event, Ended):
            if event.to:
                return f"{here}.to", "must be empty: who takes it on stays in the visit file"
            if event.end not in ENDS:
                return f"{here}.end", f"must be one of {', '.join(ENDS)}"
    return _end(case)


def _end(case: Case) -> tuple[str, str] | None:
    try:
        left = [e for e in case.standing if not isinstance(e, ModelIs | CutOff | Note)]
    except UsageError as error:
        return "steps", str(error)
    ends = sum(isinstance(event, Ended) for event in left)
    if ends == 0:
        return "steps", "the visit has not ended; a case ends with an 'ended' event"
    if ends > 1 or not isinstance(left[-1], Ended):
        return "steps", "nothing may be done after the visit has ended"
    return None


def _found(case: Case) -> tuple[str, str] | None:
    counts = Counter(one.fault for one in case.confirmed)
    for place, one in enumerate(case.confirmed):
        here = f"confirmed[{place}]"
        if counts[one.fault] > 1:
            return f"{here}.fault", f"'{one.fault}' is confirmed twice; keep one"
        if one.how not in HOWS:
            return f"{here}.how", f"must be one of {', '.join(HOWS)}"
        if not 0.0 < one.sure <= 1.0:
            return f"{here}.sure", "must be above 0 and at most 1"
    for field in ("proven", "pending"):
        for place, repair in enumerate(getattr(case, field)):
            if repair not in case.done:
                return f"{field}[{place}]", f"'{repair}' was not done on this visit"
    if case.call_back not in CALL_BACKS:
        return "call_back", f"must be one of {', '.join(CALL_BACKS)}"
    return None


def is_date(text: str) -> bool:
    """Whether a text is a day of the calendar as 2024-05-31."""
    try:
        return bool(_DATE.match(text)) and date.fromisoformat(text) is not None
    except ValueError:
        return False


def _is_time(text: str) -> bool:
    try:
        return bool(_TIME.match(text)) and datetime.strptime(text, TIME) is not None
    except ValueError:
        return False
