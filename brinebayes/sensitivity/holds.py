"""Whether the ranking holds when all numbers move at once within their weights."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from brinebayes.knowledge.schema import Model
from brinebayes.network.local import Floats
from brinebayes.record import record
from brinebayes.scoring.ranking import by_case
from brinebayes.scoring.resampling import COVERS, Figure
from brinebayes.scoring.score import LAST
from brinebayes.scoring.shapes import plan
from brinebayes.sensitivity.moves import drawn, movable, possible
from brinebayes.sensitivity.sample import Sample, at

SEED = 11
#: Draws in which a case must keep its first fault to be called steady.
STEADY = 0.9
#: Draws that are tried for one whose shares fit together.
TRIES = 20


@record
class Held:
    """One step under drawn numbers. `answers`: 0 or `last`. `figures`: value of the model itself,
    and between which 95 % of the draws lie, in the order of `ranking.FIGURES`. `changed`: part of
    the cases in which another fault stands first than in the model itself: mean and range of the
    draws. `steady`: part of the cases in which the same one stands first in 9 of 10 draws."""

    answers: int | str
    figures: tuple[Figure, ...]
    changed: Figure
    steady: float


@record
class Holds:
    """`draws`: how many; `refused`: draws left out since their shares did not fit together."""

    draws: int
    refused: int
    steps: tuple[Held, ...]


def holds(
    model: Model, sample: Sample, draws: int, progress: Callable[[int, int], None] = lambda *_: None
) -> Holds:
    """Score a sample under so many drawn models. `progress`: how many are done, and of how many."""
    planned = plan(model)
    numbers = movable(model)
    own = planned.engine(model).posteriors(sample.known)[1]
    places: dict[int | str, tuple[int, ...]] = {0: sample.told, LAST: sample.last}
    figures: dict[int | str, list[Floats]] = {step: [] for step in places}
    changed: dict[int | str, list[Floats]] = {step: [] for step in places}
    chance = np.random.Generator(np.random.PCG64(SEED))
    refused = 0
    for count in range(draws):
        for _ in range(TRIES):
            other = possible(model, drawn(model, numbers, chance))
            if other is not None:
                break
            refused += 1
        else:
            continue
        beliefs = planned.engine(other).posteriors(sample.known)[1]
        for step, where in places.items():
            mine, theirs = at(own, where), at(beliefs, where)
            figures[step].append(by_case(theirs, sample.found).mean(axis=0))
            changed[step].append(mine.argmax(axis=1) != theirs.argmax(axis=1))
        progress(count + 1, draws)
    steps = tuple(
        _held(step, by_case(at(own, where), sample.found), figures[step], changed[step])
        for step, where in places.items()
    )
    return Holds(len(figures[0]), refused, steps)


def _held(answers: int | str, own: Floats, figures: list[Floats], changed: list[Floats]) -> Held:
    tails = [(1.0 - COVERS) / 2.0, (1.0 + COVERS) / 2.0]
    low, high = np.quantile(np.array(figures), tails, axis=0)
    other = np.array(changed, dtype=np.float64)
    part = other.mean(axis=1)
    least, most = np.quantile(part, tails)
    rows = zip(own.mean(axis=0).tolist(), low.tolist(), high.tolist(), strict=True)
    return Held(
        answers,
        tuple(Figure(*row) for row in rows),
        Figure(float(part.mean()), float(least), float(most)),
        float((1.0 - other.mean(axis=0) >= STEADY).mean()),
    )
