"""What can happen in a visit. An event is a fact about the past; none of them is ever changed.

Nothing is deleted either: `Undo` is an event of its own, and `standing` says which events still
hold after all undos.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from brinebayes.errors import UsageError
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.record import record

# --- what becomes known ------------------------------------------------------------------------


@record
class SiteKnown:
    """A site condition became known."""

    condition: str
    value: str


@record
class Complained:
    """The customer made a complaint."""

    complaint: str


@record
class Saw:
    """An observation was made."""

    observation: str
    outcome: str


@record
class Read:
    """A number was read for an observation; `text` as told: `0.6 gpm`, `0.5 in in 10 min`."""

    observation: str
    text: str


@record
class Measured:
    """A number about the site became known; `text` as it was told, `10 in`."""

    measure: str
    text: str


@record
class Skipped:
    """A question was put and nobody could answer it, so it is not put again.

    `what`: a site condition, an observation, or `complaint`, `site` or `setup` for the rest of the
    first questions of that kind.
    """

    what: str


@record
class Heeded:
    """The advice of a rule was shown and the technician has seen to it."""

    rule: str


# --- what is done ------------------------------------------------------------------------------


@record
class Arrived:
    """The route to an act was walked: how the unit stands when the act is over.

    `act`: a check, a repair, `proof`, `finish` or `escalate`; empty: the unit was found so.
    `setup`: setup variable -> value; a variable that is not named is not known.
    """

    act: str
    setup: Mapping[str, str]


@record
class Waiting:
    """A check has been begun; its waiting time runs and other checks may be made meanwhile."""

    act: str


@record
class Done:
    """A repair was carried out."""

    repair: str


@record
class SetupIs:
    """The technician states how one part of the unit stands right now."""

    variable: str
    value: str


@record
class Refilled:
    """The brine tank was refilled and has stood long enough for a full draw."""


@record
class CouldNot:
    """A check or repair cannot be done on this visit; it says nothing about the unit."""

    act: str


@record
class PartMissing:
    """A part is not in the van."""

    part: str


@record
class PartHere:
    """A part is at hand: it was found in the van or has been fetched."""

    part: str


@record
class Note:
    """Something in the technician's own words; it changes no belief."""

    text: str


@record
class Found:
    """A fault was found to be there, so the technician says; the beliefs do not lean on it.

    `how`: one of `visit.found.HOWS`, or empty if it was not said.
    """

    fault: str
    how: str


@record
class Ended:
    """The visit was ended.

    `end`: one of `visit.ends.ENDS`. `act`: the licensed repair that the case is passed on for, if
    any; `to`: who takes it on. `call_back`: a date as 2024-05-31, or empty. `still_open`: what of
    the list for leaving the site could not be done.
    """

    end: str
    act: str
    to: str
    call_back: str
    still_open: tuple[str, ...]


# --- about the record itself -------------------------------------------------------------------


@record
class Undo:
    """The last step that still holds is taken back."""


@record
class ModelIs:
    """From here on the advice came from this model."""

    id: str
    version: str
    hash: str


@record
class CutOff:
    """The line above was cut off when its writer was stopped; it is kept but not read."""


Event = (
    SiteKnown
    | Complained
    | Saw
    | Read
    | Measured
    | Skipped
    | Heeded
    | Arrived
    | Waiting
    | Done
    | SetupIs
    | Refilled
    | CouldNot
    | PartMissing
    | PartHere
    | Note
    | Found
    | Ended
    | Undo
    | ModelIs
    | CutOff
)

#: The word that names each kind of event in a visit file.
KINDS: dict[str, type[Event]] = {
    "site": SiteKnown,
    "complaint": Complained,
    "saw": Saw,
    "read": Read,
    "measured": Measured,
    "skipped": Skipped,
    "heeded": Heeded,
    "arrived": Arrived,
    "waiting": Waiting,
    "done": Done,
    "setup": SetupIs,
    "refilled": Refilled,
    "could_not": CouldNot,
    "part_missing": PartMissing,
    "part_here": PartHere,
    "note": Note,
    "found": Found,
    "ended": Ended,
    "undo": Undo,
    "model": ModelIs,
    "cut_off": CutOff,
}


# --- undo --------------------------------------------------------------------------------------


def standing(events: Iterable[Event]) -> tuple[Event, ...]:
    """The events that still hold, in order. Raises UsageError if an undo finds nothing."""
    left: list[Event] = []
    for event in events:
        if not isinstance(event, Undo):
            left.append(event)
            continue
        taken = last_step(left)
        if not taken:
            raise UsageError("there is nothing left to take back")
        left = [item for place, item in enumerate(left) if place not in taken]
    return tuple(left)


def last_step(events: Sequence[Event]) -> tuple[int, ...]:
    """The places of what an undo takes back: the last event, with the arrival that led to it.

    What the record says about itself is not a step. Empty if there is no step.
    """
    steps = [p for p, event in enumerate(events) if not isinstance(event, ModelIs | CutOff)]
    if not steps:
        return ()
    before = events[steps[-2]] if len(steps) > 1 else None
    with_arrival = isinstance(before, Arrived) and before.act and _belongs(events[steps[-1]])
    return tuple(steps[-2:]) if with_arrival else tuple(steps[-1:])


def steps(events: Iterable[Event]) -> int:
    """How many steps still hold: what an undo could take back, one after the other."""
    left = list(standing(events))
    count = 0
    while taken := last_step(left):
        left = [item for place, item in enumerate(left) if place not in taken]
        count += 1
    return count


def _belongs(event: Event) -> bool:
    return isinstance(event, Saw | Read | Done | Waiting | Ended)


def arrived(act: str, setup: Mapping[str, str]) -> Arrived:
    """An arrival with its setup made read-only."""
    return Arrived(act, ReadOnly(setup))
