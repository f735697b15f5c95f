"""Does what `prepare` states hold? Visits to drawn units by the policies, act by act.

    python -m tests.bench.preparing [--visits 60] [--seed 21] [--policies search ...] [--json FILE]

The ten calls of tests/advice/prepare. Units are drawn from the exact network given the call, other
draws than those of the sheet, and served as in `simulation`. Every part is at hand, so that the
share of visits that end with a working unit stands beside `ends_mended: fetching`; the parts that
each visit took, held against a van with the listed ones, stand beside `carrying`. What the customer
has answered is told again when the technician asks. Ten intervals that each hold 95 % of the time
all hold 60 % of the time: `all` gives wider ones that do so together. Minutes are shown and are no
test: a policy proves, and leaves, when that pays.
"""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from scipy.stats import binomtest

from brinebayes.advice.prepare.sheet import Sheet, prepare
from brinebayes.checking.ready import ready
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shipped import model_folder
from brinebayes.knowledge.shop import NO_SHOP, apply
from brinebayes.network.belief import believe
from brinebayes.network.worlds import Worlds
from brinebayes.simulation.drawn import DrawnUnit
from brinebayes.simulation.trials import choosers, interval
from brinebayes.simulation.visits import Chooser, Remembered, serve
from brinebayes.visit.state import to_question
from tests.advice.prepare.calls import Call, read


@dataclass
class Told(DrawnUnit):
    """A unit about which the customer has already answered something; he says it again."""

    answers: Mapping[str, str] | None = None

    def observe(self, check: str) -> dict[str, str]:
        """What was told stays so, until a repair."""
        told = {} if self.done else dict(self.answers or {})
        return {**super().observe(check), **{k: v for k, v in told.items() if k in self._of(check)}}

    def _of(self, check: str) -> Mapping[str, object]:
        return self.model.checks[check].observations


def unit_of(checked: CheckedModel, call: Call, rows: Worlds, row: int, name: str) -> Told:
    """One of the rows as a unit."""
    model = checked.model
    one = rows.only(np.array([row]), np.ones(1), 1.0)
    site = {
        name: tuple(condition.values)[int(one.site[name][0])]
        for name, condition in model.site.items()
    }
    return Told(model, name, site, tuple(call.complaint), one, one, answers=call.saw)


def measure(
    checked: CheckedModel, call: Call, compared: list[Chooser], visits: int, seed: int
) -> dict[str, object]:
    """One call: what the sheet states, and what came of the visits."""
    model = checked.model
    sheet: Sheet = prepare(checked, call.state(model))
    stocked = apply(checked, replace(NO_SHOP, van=tuple(model.parts)))
    units = believe(model, to_question(model, call.state(model))).worlds(3000, seed)
    chance = np.random.Generator(np.random.Philox(seed))
    drawn = chance.choice(len(units.weights), visits, p=units.weights / units.weights.sum())
    at_hand = {part.part: 1.0 if part.carry else part.in_van for part in sheet.parts}
    stated = {"fetching": sheet.chances.fetching, "carrying": sheet.chances.carrying}
    result: dict[str, object] = {
        "call": call.name,
        "visits": visits,
        "stated": stated,
        "error": sheet.chances.error,
        "minutes": sheet.minutes,
    }
    for chooser in compared:
        before: Remembered = {}
        served = [
            serve(
                stocked,
                unit_of(stocked, call, units, row, f"{call.name} {seed} {visit}"),
                visit,
                chooser,
                tuple(call.site),
                before,
            )
            for visit, row in enumerate(drawn.tolist())
        ]
        supplied = [
            float(np.prod([at_hand[p] for p in sorted(_parts(checked, one.acts))]))
            for one in served
        ]
        works = np.array([float(one.works) for one in served])
        carried = interval(works * np.array(supplied))
        found = {
            "fetching": (float(works.mean()), *share(int(works.sum()), len(works))),
            "carrying": (carried.mean, carried.low, carried.high),
        }
        minutes = [one.minutes + one.waiting for one in served]
        result[chooser.name] = (
            {
                name: [mean, low, high, low <= stated[name] <= high]
                for name, (mean, low, high) in found.items()
            }
            | {"all": _among_all(stated["fetching"], int(works.sum()), len(works))}
            | {"minutes": [float(np.quantile(minutes, share)) for share in (0.5, 0.8)]}
        )
    return result


def share(of: int, visits: int, covers: float = 0.95) -> tuple[float, float]:
    """Interval of a share; near 0 or 1 a mean's would be too narrow.

    Source: Clopper & Pearson 1934.
    """
    found = binomtest(of, visits).proportion_ci(covers, method="exact")
    return float(found.low), float(found.high)


def _among_all(stated: float, of: int, visits: int) -> list[float | bool]:
    """The interval that holds together with those of all the other calls at 95 %, and whether it
    holds what is stated. Source: Dunn 1961 (Bonferroni), from memory."""
    low, high = share(of, visits, 1.0 - 0.05 / len(read()))
    return [low, high, low <= stated <= high]


def _parts(checked: CheckedModel, acts: tuple[str, ...]) -> frozenset[str]:
    """The parts that the repairs among these acts took."""
    repairs = checked.model.repairs
    return frozenset(part for act in acts if act in repairs for part in repairs[act].parts)


def main() -> None:
    """Every call, a line each as it is done."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--visits", type=int, default=60)
    options.add_argument("--seed", type=int, default=21, help="of the units")
    options.add_argument("--policies", nargs="*", default=["search"])
    options.add_argument("--json", type=Path)
    given = options.parse_args()
    checked, found = ready(model_folder("softener")), []
    compared = [choosers()[name] for name in given.policies]
    for call in read():
        found.append(measure(checked, call, compared, given.visits, given.seed))
        print(json.dumps(found[-1]), flush=True)
        if given.json:
            given.json.write_text(json.dumps(found, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
