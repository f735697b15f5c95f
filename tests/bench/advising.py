"""One recommendation, search included, beside one exact ask of all outcomes: the shipped model.

Visits to units drawn from the model, served as the search says; at every act both are timed, in
turn, as processor time, the fastest of three. Apart by how many repairs were done before.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

import numpy as np

from brinebayes.advice.advise import advise
from brinebayes.advice.situation import situation
from brinebayes.advice.underway import underway
from brinebayes.checking.ready import ready
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shipped import model_folder
from brinebayes.simulation import trials
from brinebayes.simulation.visits import answered, told_at_first
from brinebayes.visit.state import fold
from tests.bench.measure import Measurement, processor_timed
from tests.bench.shipped import everything

NAME = "advice"
#: Repairs done before, of which a row is made.
REPAIRS = (0, 1, 2)
TURNS = 3
SEED = 2024


def measure(visits: int, acts: int = 20) -> Iterator[Measurement]:
    """A median and a 99th percentile for each number of repairs done before."""
    checked = ready(model_folder("softener"))
    times: dict[int, list[tuple[float, float]]] = defaultdict(list)
    for visit in range(visits):
        for repairs, asked, advised in _walked(checked, visit, acts):
            times[repairs].append((asked, advised))
    for repairs in REPAIRS:
        ratios = [advised / asked for asked, advised in times[repairs]]
        if not ratios:
            continue
        what = f"one recommendation over one ask, {repairs} repairs done"
        note = f"{len(ratios)} acts; ask {1e3 * np.median([a for a, _ in times[repairs]]):.0f} ms"
        yield Measurement(NAME, f"{what}, median", float(np.median(ratios)), "x", "6 x", note)
        most = float(np.quantile(ratios, 0.99))
        yield Measurement(NAME, f"{what}, 99th percentile", most, "x", "8 x")


def _walked(checked: CheckedModel, visit: int, acts: int) -> Iterator[tuple[int, float, float]]:
    """(repairs done, seconds to ask, seconds to advise) at each act of one visit."""
    model = checked.model
    unit = trials.makers()["model"](checked, SEED, visit)
    told = trials.known_of_the_site(model, trials.trial("model", 1, visit, SEED))
    state = fold(model, told_at_first(unit, told))
    for _ in range(acts):
        question = situation(checked, state).question
        # What is compiled for these sites and repairs is kept from here on.
        advice = advise(checked, state)
        asked, advised = float("inf"), float("inf")
        for _ in range(TURNS):
            asked = min(asked, processor_timed(lambda q=question: everything(model, q))[0])
            advised = min(advised, processor_timed(lambda s=state: advise(checked, s))[0])
        yield len(state.done), asked, advised
        act = advice.next.act
        if act.kind in ("finish", "escalate"):
            return
        happened = (*underway(model, state, act), *answered(unit, act))
        state = fold(model, happened, state)
