"""Everything that recorded cases say about the ranking of a model, or of two on the same cases."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from brinebayes.cases.record import Case
from brinebayes.errors import DataError, UsageError
from brinebayes.knowledge.names import lookup
from brinebayes.knowledge.schema import Model
from brinebayes.network.local import Floats
from brinebayes.record import record
from brinebayes.scoring.batches import Batch, Sorted, batches
from brinebayes.scoring.calibration import Calibration, Statements
from brinebayes.scoring.ranking import FIGURES, by_case, by_fault
from brinebayes.scoring.resampling import Figure, Singles, Sums, intervals, weights
from brinebayes.scoring.wrong import Missed, Worst

#: Numbers of answers after which the ranking is scored, and `LAST`: before the first repair.
ANSWERS = (0, 1, 2, 3, 4, 5, 6, 8, 10, 15)
LAST = "last"

#: What is drawn anew in a resample, by name -> the unit of a case; a case without it is its own.
UNITS: Mapping[str, Callable[[Case], str]] = {
    "case": lambda case: "",
    "site": lambda case: case.unit,
    "technician": lambda case: case.technician,
}


@record
class Step:
    """The ranking after so many answers (`LAST`: all before the first repair), over all cases.

    `going_on`: cases that had so many; the others stay with what they had.
    """

    answers: int | str
    going_on: int
    figures: tuple[Figure, ...]


@record
class Group:
    """The ranking before the first repair in some of the cases. `kind`: fault, found (how it was
    confirmed), count (of confirmed faults), or a site condition; `few`: too few for an interval."""

    kind: str
    name: str
    cases: int
    few: bool
    figures: tuple[Figure, ...]


@record
class Ranking:
    """One model on the cases; figures in the order of `ranking.FIGURES`."""

    model: Model
    steps: tuple[Step, ...]
    groups: tuple[Group, ...]
    calibration: Mapping[str, Calibration]
    missed: tuple[Missed, ...]


@record
class Difference:
    """How much more of each figure the second model has, on the same cases and resamples."""

    answers: int | str
    figures: tuple[Figure, ...]


@dataclass(frozen=True, eq=False)
class Score:
    """Cases, and one or two models on them. `units`: what was resampled, and how many there are."""

    sorted: Sorted
    resampled: str
    units: int
    few: bool
    rankings: tuple[Ranking, ...]
    differences: tuple[Difference, ...]


def score(
    model: Model,
    cases: Iterable[Case],
    against: Model | None = None,
    resampled: str = "case",
    worst: int = 10,
) -> Score:
    """Score a model, or `model` and `against`, on cases that are gone through once.

    Raises DataError when no case can be scored, UsageError for an unknown unit of resampling or
    models of different faults.
    """
    unit = lookup("unit of resampling", resampled, UNITS)
    models = (model,) if against is None else (model, against)
    if against is not None and tuple(against.faults) != tuple(model.faults):
        raise UsageError(
            "the two models do not have the same faults; their scores cannot be paired"
        )
    record_ = Sorted()
    tallies = [_Tally(one, worst) for one in models]
    going_on: dict[int | str, int] = dict.fromkeys((*ANSWERS, LAST), 0)
    units: set[str] = set()
    for batch in batches(models, cases, record_):
        names = [unit(case) or f"case {case.id}" for case in batch.cases]
        units.update(names)
        drawn = weights(names)
        going_on[LAST] += len(names)
        for answers in ANSWERS:
            going_on[answers] += int((batch.last >= answers).sum())
        for place, tally in enumerate(tallies):
            tally.add(batch, place, drawn, names)
    if not record_.scored:
        raise DataError(_nothing(record_))
    rankings = tuple(tally.ranking(going_on) for tally in tallies)
    differences = _differences(tallies) if against is not None else ()
    few = tallies[0].steps[LAST].few
    return Score(record_, resampled, len(units), few, rankings, differences)


class _Tally:
    """What is added up for one model while the cases go by."""

    def __init__(self, model: Model, worst: int) -> None:
        self.model = model
        self.steps: dict[int | str, Sums] = {step: Sums(len(FIGURES)) for step in (*ANSWERS, LAST)}
        self.groups: dict[tuple[str, str], Sums] = {}
        self.statements = {"0": Statements(), LAST: Statements()}
        self.worst = Worst(worst)

    def add(self, batch: Batch, place: int, drawn: Singles, names: list[str]) -> None:
        for step, sums in self.steps.items():
            faults = batch.at(place, None if isinstance(step, str) else step)
            sums.add(by_case(faults, batch.found), drawn, names)
        told, last = batch.at(place, 0), batch.at(place, None)
        self.statements["0"].add(told, batch.found, drawn)
        self.statements[LAST].add(last, batch.found, drawn)
        self._by_group(batch, last, drawn, names)
        self.worst.add(batch, last)

    def _by_group(self, batch: Batch, last: Floats, drawn: Singles, names: list[str]) -> None:
        rows: dict[tuple[str, str], list[int]] = {}
        for row, case in enumerate(batch.cases):
            for kind, name in _groups(case):
                rows.setdefault((kind, name), []).append(row)
        values = by_case(last, batch.found)
        for key, here in rows.items():
            self._sums(key).add(values[here], drawn[here], [names[k] for k in here])
        faults = tuple(self.model.faults)
        at, fault, alone = by_fault(last, batch.found)
        for k in np.unique(fault):
            mine = np.flatnonzero(fault == k)
            where = at[mine]
            named = [names[r] for r in where]
            self._sums(("fault", faults[k])).add(alone[mine], drawn[where], named)

    def _sums(self, key: tuple[str, str]) -> Sums:
        return self.groups.setdefault(key, Sums(len(FIGURES)))

    def ranking(self, going_on: Mapping[int | str, int]) -> Ranking:
        steps = [Step(s, going_on[s], sums.figures()) for s, sums in self.steps.items()]
        order = {name: k for k, name in enumerate(("count", "found", "fault", *self.model.site))}
        keys = sorted(self.groups, key=lambda key: (order[key[0]], -self.groups[key].cases, key[1]))
        groups = [
            Group(*key, one.cases, one.few, one.figures())
            for key, one in ((key, self.groups[key]) for key in keys)
        ]
        return Ranking(
            self.model,
            tuple(step for step in steps if step.going_on or step.answers == 0),
            tuple(groups),
            {name: one.calibration() for name, one in self.statements.items()},
            self.worst.missed(self.model),
        )


def _groups(case: Case) -> Iterable[tuple[str, str]]:
    found = case.undisputed
    yield "count", "one" if len(found) == 1 else "several"
    for how in dict.fromkeys(one.how for one in found):
        yield "found", how
    yield from case.site.items()


def _differences(tallies: list[_Tally]) -> tuple[Difference, ...]:
    first, second = (tally.steps for tally in tallies)
    return tuple(
        Difference(step, intervals(second[step].means - first[step].means)) for step in first
    )


def _nothing(record_: Sorted) -> str:
    parts = [
        f"{record_.nothing_found} have no fault that was confirmed"
        if record_.nothing_found
        else "",
        f"{sum(record_.misfits.values())} do not fit the model" if record_.misfits else "",
        f"{record_.impossible} are impossible in it" if record_.impossible else "",
    ]
    said = ", ".join(part for part in parts if part)
    return f"no case can be scored{': ' + said if said else '; there are none'}"
