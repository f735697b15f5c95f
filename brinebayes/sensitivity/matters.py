"""Which numbers of a model matter most to its score, one at a time."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.local import Floats
from brinebayes.record import record
from brinebayes.scoring.ranking import FIGURES, by_case
from brinebayes.scoring.resampling import Figure, intervals, weights
from brinebayes.scoring.shapes import Plan, plan
from brinebayes.sensitivity.moves import movable, moved, possible
from brinebayes.sensitivity.sample import Sample, at
from brinebayes.tuning.numbers import Entry

#: Numbers that are shown.
SHOWN = 20

_LOG_SCORE = tuple(FIGURES).index("log_score")


@record
class Matter:
    """A number, moved down and up by one standard deviation of what its weight leaves open.

    `lower`, `higher`: what it was moved to, None where shares would not fit together. `down`, `up`:
    how much larger (worse) the log score before the first repair is then, nat a case, with its
    interval by case. `affected`: cases whose evidence it bears on.
    """

    entry: Entry
    lower: float | None
    higher: float | None
    down: Figure | None
    up: Figure | None
    affected: int

    @property
    def size(self) -> float:
        """The larger of both changes."""
        return max(abs(one.value) for one in (self.down, self.up, Figure(0.0, 0.0, 0.0)) if one)


def matters(
    model: Model,
    sample: Sample,
    shown: int = SHOWN,
    progress: Callable[[int, int], None] = lambda *_: None,
) -> tuple[Matter, ...]:
    """The numbers that move the log score most, the largest first.

    Every number is moved up; those that then matter most are moved down as well.
    """
    ready = _Ready(model, sample, plan(model))
    numbers = movable(model)
    found: list[tuple[float, Entry]] = []
    for count, entry in enumerate(numbers):
        change, _ = ready.change(entry, 1.0)
        found.append((0.0 if change is None else abs(float(change.mean())), entry))
        progress(count + 1, len(numbers) + 2 * shown)
    found.sort(key=lambda one: -round(one[0], 12))
    wanted = [entry for size, entry in found[: 2 * shown] if size > 0.0]
    both = []
    for count, entry in enumerate(wanted):
        both.append(ready.both(entry))
        progress(len(numbers) + count + 1, len(numbers) + 2 * shown)
    both.sort(key=lambda one: -one.size)
    return tuple(both[:shown])


class _Ready:
    """A sample with the model's own losses."""

    def __init__(self, model: Model, sample: Sample, planned: Plan) -> None:
        self.model, self.sample, self.planned = model, sample, planned
        beliefs = planned.engine(model).posteriors(sample.known)[1]
        self.own = _losses(at(beliefs, sample.last), sample)
        self.spoken = [{name for name, _ in sample.known[place].findings} for place in sample.last]
        self.drawn = weights(sample.names)

    def change(self, entry: Entry, by: float) -> tuple[Floats | None, float]:
        """(cases,) by how much each loss grows, and what the number was moved to."""
        values, to = moved(self.model, entry, by)
        other = possible(self.model, values)
        if other is None:
            return None, to
        rows = self.affected(entry)
        change = np.zeros(len(self.own))
        if len(rows):
            last = [self.sample.last[row] for row in rows]
            known = [self.sample.known[place] for place in last]
            _, beliefs = self.planned.engine(other).posteriors(known)
            here = by_case(beliefs, self.sample.found[rows])[:, _LOG_SCORE]
            change[rows] = here - self.own[rows]
        return change, to

    def affected(self, entry: Entry) -> list[int]:
        """The cases that a number bears on: of an observation those in which it was made."""
        observations = graph.observations(self.model)
        name = str(entry.path[3]) if entry.path[0] == "checks" else ""
        if name in observations:
            return [row for row, spoken in enumerate(self.spoken) if name in spoken]
        return list(range(len(self.own)))

    def both(self, entry: Entry) -> Matter:
        """The number moved down and up."""
        sides = [self.change(entry, by) for by in (-1.0, 1.0)]
        figures = [None if change is None else self._figure(change) for change, _ in sides]
        ends = [None if change is None else to for change, to in sides]
        return Matter(entry, ends[0], ends[1], figures[0], figures[1], len(self.affected(entry)))

    def _figure(self, change: Floats) -> Figure:
        means = (self.drawn.T @ change)[:, None] / self.drawn.sum(axis=0)[:, None]
        (figure,) = intervals(means)
        return figure


def _losses(beliefs: Floats, sample: Sample) -> Floats:
    losses: Floats = by_case(beliefs, sample.found)[:, _LOG_SCORE]
    return losses
