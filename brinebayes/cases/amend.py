"""What becomes known of a case after the visit: the cause, a call-back, the shop's references."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from brinebayes.cases.record import CALL_BACKS, SURE, Case, Confirmed, problem
from brinebayes.errors import UsageError
from brinebayes.knowledge.names import lookup
from brinebayes.knowledge.schema import Model
from brinebayes.visit.found import HOWS


def found(text: str) -> Confirmed:
    """FAULT, FAULT=HOW or FAULT=HOW:SURE; as judged, and as sure as that usually is, if not said.

    Raises UsageError with what would be right.
    """
    fault, _, rest = text.partition("=")
    word, _, number = rest.partition(":")
    how: Any = lookup("way to confirm a fault", word or "judged", {name: name for name in HOWS})
    if not number:
        return Confirmed(fault.strip(), how, SURE[how])
    try:
        sure = float(number)
    except ValueError:
        raise UsageError(f"'{number}' is no number; write it as {fault}={how}:0.9") from None
    return Confirmed(fault.strip(), how, sure)


def amended(
    model: Model, case: Case, confirmed: tuple[Confirmed, ...], call_back: str, **references: str
) -> Case:
    """The case with what was told; a fault that is told again replaces what was said of it.

    What is empty stays as it is. Raises UsageError for what cannot be.
    """
    told = {one.fault: one for one in (*case.confirmed, *confirmed)}
    changes: dict[str, Any] = {name: value for name, value in references.items() if value}
    if call_back:
        lookup("answer to whether there was a call-back", call_back, dict.fromkeys(CALL_BACKS))
        changes["call_back"] = call_back
    after = replace(case, confirmed=tuple(told.values()), **changes)
    wrong = problem(after)
    if wrong is not None:
        raise UsageError(f"{wrong[0]}: {wrong[1]}")
    for one in confirmed:
        lookup("fault", one.fault, model.faults)
    return after


def same_visit(before: Case, now: Case) -> Case:
    """A visit that was taken up again after it had become a case: what was amended stays."""
    found = {one.fault: one for one in (*now.confirmed, *before.confirmed)}
    return replace(
        now,
        confirmed=tuple(found.values()),
        call_back=before.call_back,
        job=before.job,
        unit=before.unit,
        technician=before.technician,
    )
