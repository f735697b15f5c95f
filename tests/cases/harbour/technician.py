"""What a sensible technician of the harbour does next, by a rule of thumb and no search.

He has seen many units like this one (rows drawn from the model), keeps those in mind that fit what
was seen, and looks where the leading fault would show most for the minutes. The rule is written
for these cases alone; it is not the advice of the program.
"""

from __future__ import annotations

import numpy as np

from brinebayes.knowledge.schema import Model
from brinebayes.visit.state import PROOF, observations_of
from tests.cases.harbour.unit import Floats, Site, Unit, draw_called, fits

#: Units in mind; the least share of an outcome that nobody rules out; minutes to get to an act.
ROWS, FLOOR, WAY = 900, 2e-3, 6.0


class Technician:
    """One visit in the mind of the technician."""

    def __init__(self, model: Model, site: Site, chance: np.random.Generator) -> None:
        self.model, self.site = model, site
        self.mind: Unit = draw_called(model, site, ROWS, chance)
        self.weights = np.full(ROWS, 1.0 / ROWS)
        self.asked: set[str] = set()

    def hear(self, complaint: str, said: bool) -> None:
        """A complaint that was made, or was not."""
        self._weigh(self.mind.chances(complaint)[:, 0 if said else 1])

    def see(self, observation: str, outcome: str) -> None:
        """An observation that was made."""
        place = observations_of(self.model)[observation][1].index(outcome)
        self._weigh(self.mind.chances(observation)[:, place])

    def did(self, repair: str) -> None:
        """A repair was carried out; everything may be looked at again."""
        self.mind.repair(repair)
        self.asked.clear()

    @property
    def shares(self) -> Floats:
        """The share of each fault among the units that fit."""
        found: Floats = np.round(self.weights @ self.mind.faults, 9)
        return found

    @property
    def sound(self) -> float:
        """How likely the unit works."""
        return float(round(self.weights @ self.mind.works, 9))

    def next_checks(self) -> list[str]:
        """Checks that are open, the most telling for its minutes first."""
        lead = self.mind.faults[:, int(np.argmax(self.shares))]
        with_it, without = self.weights * lead, self.weights * ~lead
        with_it, without = with_it / max(with_it.sum(), 1e-12), without / max(without.sum(), 1e-12)
        found = []
        for name, check in self.model.checks.items():
            if name in self.asked or check.who == "licensed" or not fits(check.applies, self.site):
                continue
            apart = max(
                float(np.abs((with_it - without) @ self.mind.chances(one)).sum())
                for one in check.observations
            )
            minutes = check.minutes.value + 0.3 * check.waiting_minutes.value + WAY
            found.append((-round(apart / minutes, 6), name))
        return [name for _, name in sorted(found)]

    def next_repair(self) -> tuple[str, float]:
        """The repair that most likely mends for its minutes, and how likely it clears a fault."""
        shares = dict(zip(self.model.faults, self.shares.tolist(), strict=True))
        best = ("", 0.0, 0.0)
        for name, repair in self.model.repairs.items():
            if not fits(repair.applies, self.site):
                continue
            hope = sum(shares[f] * number.value for f, number in repair.clears.items())
            worth = round(hope / (repair.minutes.value + 2 * WAY), 9)
            if hope > 0.04 and worth > best[2]:
                best = (name, hope, worth)
        return best[0], min(best[1], 1.0)

    def _weigh(self, chances: Floats) -> None:
        self.weights = self.weights * (chances + FLOOR)
        self.weights = self.weights / self.weights.sum()


def pointing(model: Model, seen: list[tuple[str, str]], fault: str) -> bool:
    """Whether somebody has looked at the fault itself: an observation of faults alone that shows
    the outcome which this fault gives.
    """
    for name, outcome in seen:
        if name == PROOF:
            continue
        rows = model.observation(name).rows
        parents = {parent for row in rows for parent in row.when}
        shows = any(
            row.when.get(fault) == "present" and row.gives.of.get(outcome, 0.0) > 0.5
            for row in rows
        )
        if shows and parents <= set(model.faults):
            return True
    return False
