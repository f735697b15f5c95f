"""The sheet for a call: what the customer does now, what to ask, what to carry, how it may end."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice.prepare.parts import Part, parts
from brinebayes.advice.prepare.questions import Call, PhoneQuestion, questions
from brinebayes.advice.prepare.remedies import (
    Kind,
    Remedy,
    costs,
    fixable,
    needed,
    remedies,
)
from brinebayes.advice.prepare.visits import Visits, walk
from brinebayes.advice.situation import situation
from brinebayes.knowledge.rules import Fired
from brinebayes.knowledge.schema import CheckedModel, Model
from brinebayes.network.worlds import Worlds
from brinebayes.visit.state import VisitState

Floats = NDArray[np.float64]

#: Rows of the tables of units, and how many visits are walked through.
ROWS, VISITS = 2000, 200
#: The cautious figure of the minutes: so many visits of a hundred are over by then. Judged.
CAUTIOUS = 0.8
#: Tools that fewer visits than this take to hand are not named, nor is rarer work. Judged.
NAMED_FROM = 0.02


@dataclass(frozen=True, slots=True)
class Chances:
    """How the visit may end: chance that the unit works when the technician leaves.

    `carrying`: with the parts to carry; `van_as_is`: with the van as it is; `fetching`: with a trip
    for whatever is missing; `known`: the same if the cause were known at the door. `error`: the
    standard error of the first three.
    """

    carrying: float
    van_as_is: float
    fetching: float
    known: float
    error: float


@dataclass(frozen=True, slots=True)
class Sheet:
    """Everything the office is told. `faults` run from the most to the least likely.

    `works`: chance that the unit works as it is. `minutes`: on site, without the drive: the median
    and the cautious figure. `tools`: with the share of visits that take each to hand. `elsewhere`:
    work that is not for this visit (kind, repair or empty, chance). `visits`: how many were walked.
    """

    state: VisitState
    notes: tuple[Fired, ...]
    questions: tuple[PhoneQuestion, ...]
    faults: tuple[tuple[str, float], ...]
    works: float
    parts: tuple[Part, ...]
    chances: Chances
    minutes: tuple[float, float]
    tools: tuple[tuple[str, float], ...]
    elsewhere: tuple[tuple[Kind, str, float], ...]
    visits: int


def prepare(
    checked: CheckedModel,
    state: VisitState,
    visits: int = VISITS,
    ended: Callable[[int], object] = bool,
) -> Sheet:
    """The sheet for what is known on the phone; the same for the same model and state.

    `visits`: how many are walked through for the chances and the minutes, which takes nearly all of
    the time; `ended` is told how many have come to their end since it was told last.

    Raises EvidenceConflict where what was said cannot hold together.
    """
    model, here = checked.model, situation(checked, state)
    belief, routes, start = here.belief, here.routes, here.start
    plans, prices = remedies(model, state, routes), costs(model, state, routes)
    order = sorted(prices, key=lambda name: (prices[name], name))
    known, units = belief.worlds(ROWS, here.seed), belief.worlds(ROWS, here.seed + 1)
    call = Call(model, state, belief, known, plans, order, here.notes)
    present = needed(known)
    listed = parts(model, plans, present, known.weights)
    walked = walk(model, state, routes, start, plans, known, units, visits, here.seed, ended)
    ranked = sorted(belief.faults, key=lambda fault: -round(belief.faults[fault], 12))
    return Sheet(
        state=state,
        notes=here.notes,
        questions=questions(call, routes, start),
        faults=tuple((fault, belief.faults[fault]) for fault in ranked),
        works=belief.works,
        parts=tuple(listed),
        chances=_chances(model, plans, listed, known, units, walked),
        minutes=(
            float(np.quantile(walked.minutes, 0.5)),
            float(np.quantile(walked.minutes, CAUTIOUS)),
        ),
        tools=_tools(walked),
        elsewhere=_elsewhere(model, plans, known),
        visits=visits,
    )


def _chances(
    model: Model,
    plans: Mapping[str, Remedy],
    listed: list[Part],
    known: Worlds,
    units: Worlds,
    visits: Visits,
) -> Chances:
    """Chances from the visits, corrected by what is known of their luck.

    The chance with a known cause is reckoned on all rows, so that only the difference between the
    two rests on the few visits walked; and the proofs of these visits passed wrongly more often or
    less than expected (control variates; Hammersley & Handscomb 1964, from memory).
    """
    every = np.ones(len(model.parts))
    exact = [fixable(model, plans, needed(rows), every) for rows in (known, units)]
    if_known = float(np.mean([known.weights @ exact[0], units.weights @ exact[1]]))
    missed = visits.works - exact[1][visits.units]
    spread = float(visits.luck @ visits.luck)
    if spread > 0.0:
        missed = missed - visits.luck * float(visits.luck @ (missed - missed.mean())) / spread
    fetching = min(max(if_known + float(missed.mean()), 0.0), 1.0)

    def supplied(at_hand: Mapping[str, float]) -> float:
        """Chance that all the parts of a visit that mends are at hand."""
        ended = [took for took, works in zip(visits.parts, visits.works, strict=True) if works]
        each = [np.prod([at_hand[part] for part in sorted(took)]) for took in ended]
        return float(np.mean(each)) if each else 1.0

    return Chances(
        carrying=fetching * supplied({p.part: 1.0 if p.carry else p.in_van for p in listed}),
        van_as_is=fetching * supplied({p.part: p.in_van for p in listed}),
        fetching=fetching,
        known=if_known,
        # Neighbours are alike, since the units were drawn in order: successive differences.
        # Source: Wolter 2007 (from memory).
        error=float((np.diff(missed) ** 2).sum() / (2.0 * len(missed) * (len(missed) - 1))) ** 0.5,
    )


def _tools(visits: Visits) -> tuple[tuple[str, float], ...]:
    """Tools with the share of visits that take them to hand, the commonest first."""
    counted = Counter(tool for tools in visits.tools for tool in sorted(tools))
    shares = [(tool, count / len(visits.tools)) for tool, count in counted.items()]
    shares.sort(key=lambda item: (-item[1], item[0]))
    return tuple((tool, share) for tool, share in shares if share >= NAMED_FROM)


def _elsewhere(
    model: Model, plans: Mapping[str, Remedy], known: Worlds
) -> tuple[tuple[Kind, str, float], ...]:
    """Work that is not for this visit, with the chance that it is called for."""
    present = needed(known)
    rows: dict[tuple[Kind, str], list[int]] = {}
    for column, fault in enumerate(model.faults):
        plan = plans[fault]
        if plan.kind != "on_this_visit":
            rows.setdefault((plan.kind, "".join(plan.repairs)), []).append(column)
    found = [
        (kind, repair, float(known.weights @ present[:, columns].any(axis=1)))
        for (kind, repair), columns in rows.items()
    ]
    found.sort(key=lambda item: (-round(item[2], 9), item[1]))
    return tuple(item for item in found if item[2] >= NAMED_FROM)
