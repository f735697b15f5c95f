"""Where the record itself may mislead: what a shop should know before it believes the numbers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from math import sqrt

import numpy as np

from brinebayes.cases.record import UNSEEN, Case
from brinebayes.knowledge.schema import Model, SiteCondition
from brinebayes.network import graph
from brinebayes.network.ordering import Orders
from brinebayes.network.worlds import evaluate, noise_roots, outcome_chances
from brinebayes.tuning.chunk import Chunk, some, together
from brinebayes.tuning.counts import expect
from brinebayes.tuning.engine import engine, plan
from brinebayes.tuning.numbers import entries
from brinebayes.tuning.spool import Spool
from brinebayes.visit.events import Done, Ended, Event, Read, Saw, Waiting
from brinebayes.visit.state import ESCALATE, FINISH, observations_of

#: A warning is given from here on: a part of all confirmations, of all acts, standard errors.
TOO_MANY_UNSEEN = 0.5
TOO_MANY_OTHERS = 0.3
TOO_FEW_NORMAL = 4.0
#: Confirmations, or acts with advice on record, from which a part is worth a word.
FEWEST = 20
#: Cases of which it is asked whether their normal results are written down: it takes one count of
#: each for each of its observations, and shows in some hundred cases or not at all.
MOST_LOOKED_AT = 300


@dataclass(frozen=True)
class Normal:
    """Results of an observation that a sound unit shows: written down, and to be expected from
    everything else in the same cases; `apart`: the difference in standard errors."""

    observation: str
    made: float
    normal: float
    expected: float
    apart: float


@dataclass(frozen=True)
class Misleading:
    """`unseen`: fault -> (confirmations that nobody saw, all of it); `unseen_part`: of all faults.

    `not_followed`: part of the acts with advice on record (`advised`) that were another act.
    `missing_normal`: observations whose normal results seem not to be written down; `normal_apart`:
    all observations together, in standard errors.
    """

    confirmations: int
    unseen_part: float
    unseen: Mapping[str, tuple[int, int]]
    advised: int
    not_followed: float
    normal_apart: float
    missing_normal: tuple[Normal, ...]

    @property
    def by_repair(self) -> bool:
        """Too many faults were taken to be there because a repair seemed to help."""
        return self.confirmations >= FEWEST and self.unseen_part > TOO_MANY_UNSEEN

    @property
    def own_way(self) -> bool:
        """The advice was often not followed."""
        return self.advised >= FEWEST and self.not_followed > TOO_MANY_OTHERS

    @property
    def few_normal(self) -> bool:
        """Normal results seem not to be written down."""
        return self.normal_apart < -TOO_FEW_NORMAL


@dataclass
class Watch:
    """Looks at the cases as they go by."""

    model: Model
    how: Counter[str] = field(default_factory=Counter)
    unseen: Counter[str] = field(default_factory=Counter)
    advised: int = 0
    other: int = 0

    def __post_init__(self) -> None:
        self._check_of = {name: at for name, (at, _) in observations_of(self.model).items()}

    def see(self, case: Case) -> None:
        """One case."""
        for one in case.confirmed:
            self.how[one.fault] += 1
            self.unseen[one.fault] += one.how in UNSEEN
        for advised, event in case.advised:
            self.advised += 1
            self.other += advised != self._act(event)

    def summary(self, normal: Iterable[Normal]) -> Misleading:
        """What was seen, with what `normal_results` found."""
        results = tuple(normal)
        made = sum(self.how.values())
        spread = sqrt(sum(_variance(one) for one in results))
        apart = sum(one.normal - one.expected for one in results)
        return Misleading(
            made,
            sum(self.unseen.values()) / made if made else 0.0,
            {
                name: (self.unseen[name], n)
                for name, n in self.how.most_common()
                if self.unseen[name]
            },
            self.advised,
            self.other / self.advised if self.advised else 0.0,
            apart / spread if spread > 0.0 else 0.0,
            tuple(
                sorted(
                    (one for one in results if one.apart < -TOO_FEW_NORMAL),
                    key=lambda one: (one.apart, one.observation),
                )
            ),
        )

    def _act(self, event: Event) -> str:
        match event:
            case Saw(observation, _) | Read(observation, _):
                return self._check_of.get(observation, "")
            case Done(repair):
                return repair
            case Waiting(act):
                return act
            case Ended(end):
                return ESCALATE if end in ("escalated", "not_a_softener_fault") else FINISH
            case _:
                return ""


def normal_results(
    model: Model, cases: Spool, most: int = MOST_LOOKED_AT, orders: Orders | None = None
) -> tuple[Normal, ...]:
    """For each observation, how often it was normal, and how often the model expects so from all
    else that is told in the same cases. Looks at about `most` of the different cases, evenly over
    all; `orders`: as in `plan`."""
    chunk = together(list(_every(cases, -(-cases.different // most))))
    now = engine(model, plan(model, chunk.found, entries(model, ("misreadings",)), orders))
    normal = _sound(model)
    sums: dict[str, list[float]] = {}
    for name in now.tables:
        rows, likelihoods = chunk.found[name]
        clear = np.count_nonzero(likelihoods, axis=1) == 1
        rows, likelihoods = rows[clear], likelihoods[clear]
        if not len(rows):
            continue
        others = {key: value for key, value in chunk.found.items() if key != name}
        found = expect(now, some(replace(chunk, found=others), rows))
        p = now.tables[name][:, normal[name]] @ found.rows[name]
        w = np.where(np.isfinite(found.log_p), chunk.weights[rows], 0.0)
        here = likelihoods[:, normal[name]] > 0.0
        sums[name] = [float(w.sum()), float(w @ here), float(w @ p), float(w @ (p * (1.0 - p)))]
    return tuple(
        Normal(name, made, seen, expected, (seen - expected) / sqrt(v) if v > 0.0 else 0.0)
        for name, (made, seen, expected, v) in sums.items()
    )


def _every(cases: Spool, step: int) -> Iterable[Chunk]:
    """One of `step` cases, counted over all chunks."""
    before = 0
    for chunk in cases():
        here = np.arange(-before % step, len(chunk), step)
        before += len(chunk)
        if len(here):
            yield some(chunk, here)


def _variance(one: Normal) -> float:
    return ((one.normal - one.expected) / one.apart) ** 2 if one.apart else 0.0


def _sound(model: Model) -> dict[str, int]:
    """Observation -> the place of what a unit without any fault shows most often."""
    site = {name: _usual(condition) for name, condition in model.site.items()}
    faults = np.zeros(len(model.faults), dtype=bool)
    noise = {name: np.zeros((), dtype=np.int8) for name in noise_roots(model)}
    states = evaluate(model, site, faults, noise)
    return {
        name: int(np.argmax(outcome_chances(model, name, site, faults, states)))
        for name in graph.observations(model)
    }


def _usual(condition: SiteCondition) -> str:
    """The value that most sites have."""
    return max(condition.values, key=lambda value: condition.values[value].share.value)
