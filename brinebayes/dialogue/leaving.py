"""How a visit can end from here, and what is seen to before leaving the site.

The list itself is common practice, no source; its sentences stand among the templates.
"""

from __future__ import annotations

from brinebayes.knowledge.rules import Fired
from brinebayes.record import record
from brinebayes.visit.ends import ESCALATED, OPEN, OUTSIDE, PENDING, PROVEN
from brinebayes.visit.state import PROOF, VisitState

#: The list where the unit goes back to service, and where it is left in bypass.
SERVICE_LIST = (
    "bypass_service",
    "line_and_lid",
    "clock_and_settings",
    "drain_dry",
    "no_leak",
    "customer_shown",
    "note_left",
)
PARKED_LIST = ("bypass_parked", "line_and_lid", "no_leak", "customer_shown", "note_left")

#: Ends after which somebody calls the customer back.
CALLED_BACK = (PENDING, OPEN)


@record
class Leaving:
    """How far the leave-taking has come; what is empty or None has not been settled yet."""

    end: str = ""
    act: str = ""
    to: str | None = None
    still_open: tuple[str, ...] | None = None
    days: int | None = None


def possible_ends(state: VisitState, fired: tuple[Fired, ...]) -> tuple[str, ...]:
    """The ends that fit what was done, the likeliest first; one alone needs no question.

    Passing the case on is a decision of its own and never in this list.
    """
    if not state.done:
        outside = any(item.rule.kind == "outside" for item in fired)
        return (OUTSIDE, OPEN) if outside else (OPEN, OUTSIDE)
    proof = state.seen_now().get(PROOF)
    if proof == "passed":
        return (PROVEN,)
    return (OPEN,) if proof == "failed" else (PENDING,)


def end_of(leaving: Leaving, state: VisitState, fired: tuple[Fired, ...]) -> str:
    """How the visit ends, as far as that is settled; else empty."""
    ends = possible_ends(state, fired)
    return leaving.end or (ends[0] if len(ends) == 1 else "")


def is_parked(end: str, fired: tuple[Fired, ...]) -> bool:
    """Whether the unit is left in bypass: passed on, or left unmended where it was made safe."""
    made_safe = any(item.rule.kind == "make_safe" for item in fired)
    return end == ESCALATED or (end == OPEN and made_safe)


def leaving_list(end: str, fired: tuple[Fired, ...]) -> tuple[str, ...]:
    """What to see to before leaving, in order."""
    return PARKED_LIST if is_parked(end, fired) else SERVICE_LIST


def takes_on(fired: tuple[Fired, ...]) -> str:
    """Who takes the case on, by the rules; empty if none says."""
    named = [item.rule.to for item in fired if item.rule.kind == "escalates"]
    return named[0] if named else ""
