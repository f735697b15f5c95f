"""How long checks and repairs take, from the minutes in the cases.

The minutes of a step run from the answer before, the way to the act included. So only acts count
that needed no way: the unit stood as it had to, or the act needs no setup at all. A check with
waiting time is left out, since the record does not tell work from waiting.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import sqrt

from brinebayes.cases.record import Case, Step, standing_steps
from brinebayes.knowledge.schema import Model
from brinebayes.tuning.intervals import UNEVEN
from brinebayes.tuning.numbers import Entry
from brinebayes.visit.events import Arrived, Done, Read, Saw
from brinebayes.visit.state import observations_of

#: Longer than so many times the model's minutes is taken as so long: somebody was called away.
LONGEST = 4.0


@dataclass
class Spent:
    """Minutes of one act: how often, their sum and the sum of their squares."""

    times: float = 0.0
    total: float = 0.0
    squares: float = 0.0

    def add(self, minutes: float, weight: float) -> None:
        """One more time."""
        self.times += weight
        self.total += weight * minutes
        self.squares += weight * minutes**2


@dataclass
class Clock:
    """Adds up the minutes of all acts, case by case."""

    model: Model
    spent: dict[str, Spent] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._check_of = {name: at for name, (at, _) in observations_of(self.model).items()}

    def see(self, case: Case, weight: float) -> None:
        """The acts of one case that needed no way."""
        stood: Mapping[str, str] | None = None
        no_way, running, minutes = False, "", 0.0
        for step in (*standing_steps(case.steps), None):
            act = self._act(step) if step is not None else ""
            if running and act != running:
                self._count(running, minutes, no_way, weight)
                running, minutes = "", 0.0
                no_way = False
            if step is None:
                break
            if isinstance(step.event, Arrived):
                no_way = stood is not None and dict(step.event.setup) == dict(stood)
                stood = step.event.setup
            elif act:
                if step.minutes is None:
                    minutes = float("nan")
                else:
                    minutes += step.minutes
                running = act
                if not self._needs(act):
                    no_way = True

    def _act(self, step: Step) -> str:
        match step.event:
            case Saw(observation, _) | Read(observation, _):
                return self._check_of.get(observation, "")
            case Done(repair):
                return repair
            case _:
                return ""

    def _needs(self, act: str) -> bool:
        if act in self.model.checks:
            return bool(self.model.checks[act].needs)
        return act not in self.model.repairs or bool(self.model.repairs[act].needs)

    def _count(self, act: str, minutes: float, no_way: bool, weight: float) -> None:
        model = self.model
        about = model.checks.get(act) or model.repairs.get(act)
        if about is None or not no_way or not minutes > 0.0:
            return
        if act in model.checks and model.checks[act].waiting_minutes.value > 0.0:
            return
        most = LONGEST * max(about.minutes.value, 1.0)
        self.spent.setdefault(act, Spent()).add(min(minutes, most), weight)


def mean_minutes(entry: Entry, spent: Spent) -> tuple[float, float, float]:
    """The mean with the prior counted in, and an interval around it (1.96 standard errors).

    The spread of single times is that of the record; where it says little, half of the mean.
    """
    prior, weight = entry.value[0], entry.weight
    mean = (weight * prior + spent.total) / (weight + spent.times)
    own = spent.total / spent.times if spent.times else prior
    around = spent.squares - spent.times * own**2 + weight * (UNEVEN * prior) ** 2
    spread = sqrt(max(around, 0.0) / (weight + spent.times))
    reach = 1.96 * spread / sqrt(weight + spent.times)
    return mean, max(mean - reach, 0.0), mean + reach
