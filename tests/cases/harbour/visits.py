"""Visits of the harbour's technicians, as cases. Each depends on its number and the model alone."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

import numpy as np

from brinebayes.cases.closing import proofs
from brinebayes.cases.record import SURE, Case, Confirmed, How, Step
from brinebayes.knowledge.schema import Model
from brinebayes.visit.ends import ESCALATED, OPEN, OUTSIDE, PENDING, PROVEN
from brinebayes.visit.events import (
    Complained,
    CouldNot,
    Done,
    Ended,
    Event,
    ModelIs,
    PartMissing,
    Saw,
    SiteKnown,
    Undo,
    standing,
)
from brinebayes.visit.state import ESCALATE, FINISH, PROOF
from tests.cases.harbour.technician import Technician, pointing
from tests.cases.harbour.unit import Unit, draw_called, draw_site

COUNT = 360
#: The first day, the days in all, and the days at the end whose call-backs nobody knows yet.
FIRST, DAYS, WINDOW = date(2023, 1, 9), 720, 30
UNITS, TECHNICIANS = 140, 6
FEWEST_CHECKS, MOST_CHECKS, MOST_REPAIRS = 5, 11, 3


@dataclass
class Visit:
    """One visit while it happens."""

    model: Model
    truth: Unit
    technician: Technician
    chance: np.random.Generator
    pace: float
    steps: list[Step] = field(default_factory=list)
    #: Repair -> the faults that were there when it was done.
    mended: list[tuple[str, tuple[str, ...]]] = field(default_factory=list)

    def happens(self, share: float) -> bool:
        """Something that comes about in this share of all cases."""
        return bool(self.chance.random() < share)

    def note(self, event: Event, minutes: float | None = None, advised: str = "") -> None:
        """Write an event down, with minutes in most cases."""
        if minutes is not None:
            spread = self.pace * float(np.exp(0.3 * self.chance.standard_normal()))
            minutes = round(minutes * spread * 2) / 2 if self.happens(0.85) else None
        self.steps.append(Step(event, minutes, advised))

    def seen_now(self) -> list[tuple[str, str]]:
        """What was seen since the last repair."""
        found: list[tuple[str, str]] = []
        for event in standing(step.event for step in self.steps):
            if isinstance(event, Done):
                found = []
            elif isinstance(event, Saw):
                found.append((event.observation, event.outcome))
        return found


def case(model: Model, harbour: Model, number: int) -> Case:
    """The case of this number. `model` is in the technicians' minds, `harbour` is so."""
    chance = np.random.default_rng([20230109, number])
    site = draw_site(harbour, chance)
    truth = draw_called(harbour, site, 1, chance)
    pace = (0.85, 0.9, 1.0, 1.0, 1.1, 1.3)[number % TECHNICIANS]
    visit = Visit(harbour, truth, Technician(model, site, chance), chance, pace)
    _arrive(visit)
    end, act = _work(visit)
    visit.note(Ended(end, act, "", "", ()), 4.0, ESCALATE if end == ESCALATED else FINISH)
    return _closed(model, visit, number)


# --- the visit ---------------------------------------------------------------------------------


def _arrive(visit: Visit) -> None:
    """What the customer says, and what is plain about the place."""
    for complaint, said in _complaints(visit.truth).items():
        visit.technician.hear(complaint, said)
        if said:
            visit.note(Complained(complaint))
    for condition, value in visit.truth.site.items():
        if visit.happens(0.85):
            visit.note(SiteKnown(condition, value))


def _complaints(unit: Unit) -> dict[str, bool]:
    """Complaint -> whether it is made. Nobody calls without a word of what is wrong: a customer who
    has said nothing is asked again."""
    while True:
        said = {complaint: unit.says(complaint) for complaint in unit.model.complaints}
        if any(said.values()):
            return said


def _work(visit: Visit) -> tuple[str, str]:
    """Look, repair, prove, up to the end of the visit: (end, licensed repair)."""
    thorough = int(visit.chance.integers(FEWEST_CHECKS, MOST_CHECKS + 1))
    for _ in range(MOST_REPAIRS):
        repair = _look(visit, thorough)
        if not repair:
            return (OUTSIDE if visit.technician.sound > 0.5 else OPEN), ""
        if visit.model.repairs[repair].who == "licensed":
            return ESCALATED, repair
        if not _repair(visit, repair):
            return OPEN, ""
        if not visit.happens(0.85):
            return PENDING, ""
        proof = visit.model.about.proof
        visit.note(Saw(PROOF, visit.truth.look(PROOF)), proof.minutes.value, PROOF)
        outcome = visit.seen_now()[-1][1]
        visit.technician.see(PROOF, outcome)
        if outcome == "passed":
            return PROVEN, ""
        thorough = 4
    return (ESCALATED if visit.happens(0.4) else OPEN), ""


def _look(visit: Visit, most: int) -> str:
    """Check after check until one repair is likely enough; that repair, or empty."""
    for _ in range(most):
        repair, hope = visit.technician.next_repair()
        if repair and hope > 0.6:
            return repair
        if visit.technician.sound > 0.9:
            return ""
        checks = visit.technician.next_checks()
        if not checks:
            break
        # Now and then something else is looked at than what the rule puts first.
        check = checks[1] if len(checks) > 1 and visit.happens(0.15) else checks[0]
        _check(visit, check, checks[0])
    repair, hope = visit.technician.next_repair()
    return repair if hope > 0.08 else ""


def _check(visit: Visit, name: str, advised: str) -> None:
    check = visit.model.checks[name]
    visit.technician.asked.add(name)
    if visit.happens(0.04):
        visit.note(CouldNot(name), None, advised)
        return
    minutes: float | None = check.minutes.value + check.waiting_minutes.value
    for observation, about in check.observations.items():
        if not visit.happens(0.95):
            continue
        outcome = visit.truth.look(observation)
        others = [one for one in about.outcomes if one != outcome]
        if visit.happens(0.015):  # A slip of the finger, taken back at once.
            visit.note(Saw(observation, others[0]), None, advised)
            visit.note(Undo())
        visit.note(Saw(observation, outcome), minutes, advised)
        visit.technician.see(observation, outcome)
        minutes = None


def _repair(visit: Visit, name: str) -> bool:
    """Whether the repair could be done: a part may not be in the van."""
    repair = visit.model.repairs[name]
    for part in repair.parts:
        if not visit.happens(visit.model.parts[part].in_van.value):
            visit.note(PartMissing(part), None, name)
            return False
    names = list(visit.model.faults)
    there = tuple(f for f in repair.clears if visit.truth.faults[0][names.index(f)])
    visit.mended.append((name, there))
    visit.note(Done(name), repair.minutes.value, name)
    visit.truth.repair(name)
    visit.technician.did(name)
    return True


# --- the record --------------------------------------------------------------------------------


def _closed(model: Model, visit: Visit, number: int) -> Case:
    steps = tuple(visit.steps)
    day = int(number * DAYS / COUNT)
    closed = FIRST + timedelta(day)
    stood = standing(step.event for step in steps)
    proven, pending = proofs(model, stood)
    about = model.about
    return Case(
        id=f"harbour-{number:04d}",
        opened=closed.isoformat(),
        closed=closed.isoformat(),
        model=ModelIs(about.id, about.version, model.hash),
        steps=steps,
        job=f"H-{closed.year}-{number:04d}",
        unit=f"quay-{int(visit.chance.integers(1, UNITS + 1)):03d}",
        technician=f"t{number % TECHNICIANS + 1}",
        confirmed=_found(visit, proven),
        proven=proven,
        pending=pending,
        call_back=_call_back(visit, stood[-1], day),
        invented=True,
    )


def _found(visit: Visit, proven: tuple[str, ...]) -> tuple[Confirmed, ...]:
    """What the technician writes down as the cause: mostly right, sometimes wrong or nothing."""
    seen = [(s.event.observation, s.event.outcome) for s in visit.steps if isinstance(s.event, Saw)]
    found: dict[str, Confirmed] = {}
    for repair, there in visit.mended:
        for fault in there or tuple(visit.model.repairs[repair].clears)[:1]:
            how: How = "repaired_and_proven" if repair in proven else "repaired_only"
            if pointing(visit.model, seen, fault):
                how = "seen"
            if visit.happens(0.75 if there else 0.25):
                found[fault] = Confirmed(fault, how, SURE[how])
    wrong = [fault for fault in visit.model.faults if fault not in found]
    if visit.happens(0.03):
        fault = wrong[int(visit.chance.integers(len(wrong)))]
        found[fault] = Confirmed(fault, "judged", SURE["judged"])
    return tuple(found.values())


def _call_back(visit: Visit, ended: Any, day: int) -> Any:
    """Known when the window has passed: likely yes where the unit was left not working."""
    if day > DAYS - WINDOW or visit.happens(0.08):
        return "unknown"
    closed = ended.end in (PROVEN, PENDING, OUTSIDE)
    again = 0.03 if not closed or visit.truth.works[0] else 0.8
    return "yes" if visit.happens(again) else "no"
