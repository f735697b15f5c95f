"""Recorded cases some hundred at a time, with the beliefs of a model at each of their steps."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from brinebayes.cases.record import Case
from brinebayes.cases.replay import misfit
from brinebayes.knowledge.schema import Model
from brinebayes.network.local import Floats
from brinebayes.scoring.known import Known, steps
from brinebayes.scoring.ranking import Truth
from brinebayes.scoring.shapes import plan

Rows = NDArray[np.intp]

#: Cases that are looked at together, and among which identical evidence is found.
WINDOW = 512

#: Different sets of evidence after which it pays to choose smaller trees for the rest.
PLANNED_AFTER = 8_000


@dataclass
class Sorted:
    """How many cases were sorted how; filled while they are read."""

    scored: int = 0
    invented: int = 0
    several: int = 0
    nothing_found: int = 0
    impossible: int = 0
    misfits: Counter[str] = field(default_factory=Counter)
    evidence: int = 0
    different: int = 0
    first_day: str = ""
    last_day: str = ""


@dataclass(frozen=True, eq=False)
class Batch:
    """Some cases with what was found and the beliefs of each model.

    `found`: (cases, faults). `last`: (cases,) number of the last step of each. `beliefs`: per model
    (sets, faults); `where`: per model and case the rows of its steps in these.
    """

    cases: tuple[Case, ...]
    found: Truth
    last: Rows
    where: tuple[tuple[Rows, ...], ...]
    beliefs: tuple[Floats, ...]

    def at(self, model: int, step: int | None) -> Floats:
        """(cases, faults): beliefs after so many steps, or after as many as a case has; None: the
        last."""
        rows = [w[-1 if step is None else min(step, len(w) - 1)] for w in self.where[model]]
        chosen: Floats = self.beliefs[model][rows]
        return chosen


def batches(models: Sequence[Model], cases: Iterable[Case], sorted_: Sorted) -> Iterator[Batch]:
    """The cases that can be scored: known to every model, with a fault that was confirmed and that
    no call-back puts in doubt, and with evidence that no model holds for impossible."""
    engines = [plan(model).engine(model) for model in models]
    planned = False
    left = iter(cases)
    while window := list(islice(left, WINDOW)):
        kept = [case for case in window if _counts(models, case, sorted_)]
        if not kept:
            continue
        told = [_merged(model, kept) for model in models]
        if not planned and sorted_.different > PLANNED_AFTER:
            engines = [plan(m, sets).engine(m) for m, (sets, _) in zip(models, told, strict=True)]
            planned = True
        possible = np.ones(len(kept), dtype=bool)
        beliefs = []
        for one, (sets, where) in zip(engines, told, strict=True):
            logs, faults = one.posteriors(sets)
            possible &= [bool(np.isfinite(logs[rows]).all()) for rows in where]
            beliefs.append(faults)
        fine = np.flatnonzero(possible).tolist()
        sorted_.impossible += len(kept) - len(fine)
        sorted_.evidence += sum(len(rows) for rows in told[0][1])
        sorted_.different += len(told[0][0])
        if fine:
            chosen = tuple(kept[k] for k in fine)
            _note(chosen, sorted_)
            steps_of = tuple(tuple(rows[k] for k in fine) for _, rows in told)
            last = np.array([len(rows) - 1 for rows in steps_of[0]], dtype=np.intp)
            yield Batch(chosen, _truth(models[0], chosen), last, steps_of, tuple(beliefs))


def _merged(model: Model, cases: Sequence[Case]) -> tuple[tuple[Known, ...], tuple[Rows, ...]]:
    """Every different set of evidence once, and for each case which of them its steps are."""
    number: dict[Known, int] = {}
    where = []
    for case in cases:
        rows = [number.setdefault(known, len(number)) for known in steps(model, case)]
        where.append(np.array(rows, dtype=np.intp))
    return tuple(number), tuple(where)


def _counts(models: Sequence[Model], case: Case, sorted_: Sorted) -> bool:
    for model in models:
        why = misfit(model, case)
        if why is not None:
            sorted_.misfits[why] += 1
            return False
    if not case.undisputed:
        sorted_.nothing_found += 1
        return False
    return True


def _note(cases: Sequence[Case], sorted_: Sorted) -> None:
    sorted_.scored += len(cases)
    sorted_.invented += sum(case.invented for case in cases)
    sorted_.several += sum(len(case.undisputed) > 1 for case in cases)
    days = [case.closed for case in cases]
    sorted_.first_day = min([*days, *([sorted_.first_day] if sorted_.first_day else [])])
    sorted_.last_day = max([*days, sorted_.last_day])


def _truth(model: Model, cases: Sequence[Case]) -> Truth:
    number = {fault: k for k, fault in enumerate(model.faults)}
    found = np.zeros((len(cases), len(number)), dtype=bool)
    for row, case in enumerate(cases):
        for one in case.undisputed:
            found[row, number[one.fault]] = True
    return found
