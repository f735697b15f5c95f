"""A finished visit file becomes a case: the same events, without anybody's own words."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from typing import cast

from brinebayes.cases.record import SURE, TIME, Case, Confirmed, Step
from brinebayes.cases.replay import misfit
from brinebayes.errors import DataError, UsageError
from brinebayes.knowledge.schema import Model
from brinebayes.visit.events import Done, Ended, Event, Found, ModelIs, Note, Saw, standing
from brinebayes.visit.found import How
from brinebayes.visit.record import Entry, Record, event_lines, header_line
from brinebayes.visit.state import PROOF

#: Minutes after which the answer before was given in another sitting: judged, no source.
LONGEST = 240.0


def is_over(record: Record) -> bool:
    """Whether the visit of a file has ended, and no undo took the end back."""
    try:
        return any(isinstance(event, Ended) for event in standing(record.events))
    except UsageError:
        return False


def close(name: str, record: Record, model: Model, day: str = "") -> Case:
    """The case of a finished visit; `name` is its file's, for messages.

    `day`: when the visit took place, for a file that holds no times. Raises DataError.
    """
    if not is_over(record):
        raise DataError(f"{name}: the visit has not ended; go on with it: brinebayes visit {name}")
    case = Case(
        id=identity(record),
        opened=day or _day(name, record, first=True),
        closed=day or _day(name, record, first=False),
        model=record.model or ModelIs(model.about.id, model.about.version, model.hash),
        steps=_steps(record.entries),
    )
    why = misfit(model, case)
    if why is not None:
        raise DataError(f"{name}: {why}")
    proven, pending = proofs(model, case.standing)
    confirmed = found(model, case.standing, proven)
    return replace(case, confirmed=confirmed, proven=proven, pending=pending)


def identity(record: Record) -> str:
    """The id of a visit: that of its file, or made from how it began; lines are only ever added."""
    if record.header.id:
        return record.header.id
    first = record.entries[0]
    begun = header_line(record.header) + event_lines([first.event], first.at, first.advised)
    return f"visit-{hashlib.sha256(begun.encode()).hexdigest()[:16]}"


def proofs(model: Model, events: Iterable[Event]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The repairs proven on the visit, and those of which something is still to be proven.

    A proof speaks of the repairs since the one before; of two without a repair between them the
    later counts. A failed one leaves its repairs neither proven nor pending.
    """
    groups: list[tuple[list[str], str]] = []
    for event in events:
        match event:
            case Done(repair):
                before, verdict = groups.pop() if groups and not groups[-1][1] else ([], "")
                groups.append(([*before, repair], verdict))
            case Saw(observation, outcome) if observation == PROOF and groups:
                groups[-1] = (groups[-1][0], outcome)
    proven = [name for names, verdict in groups if verdict == "passed" for name in names]
    open_ = [name for names, verdict in groups if not verdict for name in names]
    later = [name for name in proven if model.repairs[name].proven_later]
    return tuple(dict.fromkeys(proven)), tuple(dict.fromkeys([*open_, *later]))


def found(model: Model, events: Sequence[Event], proven: tuple[str, ...]) -> tuple[Confirmed, ...]:
    """The faults that the technician says were there; how, if not said, by what was repaired."""
    told = {event.fault: event.how for event in events if isinstance(event, Found)}
    done = {event.repair for event in events if isinstance(event, Done)}
    out = []
    for fault, said in told.items():
        clearing = {name for name in done if fault in model.repairs[name].clears}
        how: How = "judged"
        if said:
            how = cast(How, said)
        elif clearing:
            how = "repaired_and_proven" if clearing & set(proven) else "repaired_only"
        out.append(Confirmed(fault, how, SURE[how]))
    return tuple(out)


def _steps(entries: Sequence[Entry]) -> tuple[Step, ...]:
    """What was written at one time is one answer; its minutes stand with its last event."""
    found = []
    before = ""
    for place, entry in enumerate(entries):
        following = entries[place + 1].at if place + 1 < len(entries) else ""
        last = not entry.at or entry.at != following
        minutes = _minutes(before, entry.at) if last else None
        if last and entry.at:
            before = entry.at
        found.append(Step(_without_words(entry.event), minutes, entry.advised, entry.at))
    return tuple(found)


def _minutes(before: str, now: str) -> float | None:
    """Minutes between two times of one sitting; None if either is not known."""
    if not before or not now:
        return None
    passed = datetime.strptime(now, TIME) - datetime.strptime(before, TIME)
    minutes = passed.total_seconds() / 60.0
    return minutes if 0.0 <= minutes <= LONGEST else None


def _without_words(event: Event) -> Event:
    """Words of one's own may name the customer; they stay in the visit file."""
    if isinstance(event, Note):
        return Note("")
    return replace(event, to="") if isinstance(event, Ended) else event


def _day(name: str, record: Record, *, first: bool) -> str:
    times = [entry.at for entry in record.entries if entry.at]
    if first and record.header.at:
        times.insert(0, record.header.at)
    if not times:
        raise DataError(f"{name}: holds no times; say on which day it was: --day 2024-05-31")
    return times[0 if first else -1].partition("T")[0]
