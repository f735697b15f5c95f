"""Small models to decide on, drawn from seeds; families that each make one thing hard.

They are models like any other (`knowledge.schema`), so that the product's own advice runs on them:
up to six faults, five checks, five repairs and three setups. All of it is invented.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from brinebayes.knowledge.frozen import freeze
from brinebayes.knowledge.schema import (
    About,
    Cause,
    ChartStep,
    Check,
    Fault,
    FlowChart,
    Mechanism,
    Model,
    Money,
    Move,
    Number,
    Observation,
    Part,
    Proof,
    Repair,
    Row,
    Setups,
    SetupVariable,
    Spread,
)

FAMILIES = ("random", "pairs", "setups", "near_ties", "rare", "two_faults", "harmful")

OTHER, WATER, PHASE = "other", "water", "phase"
PLACES = ("ready", "open", "drained")


def model(family: str, seed: int) -> Model:
    """The model of this family and seed, always the same one."""
    return _Maker(family, np.random.default_rng([FAMILIES.index(family), seed])).model(seed)


def number(value: float) -> Number:
    """A number with an invented reason."""
    return Number(value, "judgement", 10, "invented")


def spread(of: Mapping[str, float]) -> Spread:
    """A distribution with an invented reason; what is impossible is not named."""
    return Spread({name: p for name, p in of.items() if p > 0.0}, "judgement", 10, "invented")


def _chart(checks: Mapping[str, Check], repairs: Mapping[str, Repair]) -> FlowChart:
    """The quick checks first; what one points at is repaired at once."""
    steps = []
    for name in sorted(checks, key=lambda name: checks[name].minutes.value):
        steps.append(ChartStep(name))
        for seen, observation in checks[name].observations.items():
            fault = next(iter(observation.rows[0].when))
            steps += [
                ChartStep(repair, {seen: next(iter(observation.outcomes))})
                for repair in repairs
                if fault in repairs[repair].clears
            ]
    return FlowChart("invented", "judgement", number(2), {}, ("all",), {"all": tuple(steps)})


@dataclass
class _Maker:
    family: str
    chance: np.random.Generator
    faults: list[str] = field(default_factory=list)

    def model(self, seed: int) -> Model:
        # Most are small, so that most can be solved exactly; with the unknown cause up to six.
        count = int(self.chance.choice([2, 3, 4, 5], p=[0.25, 0.4, 0.25, 0.1]))
        if self.family in ("pairs", "two_faults", "rare"):
            count = min(max(count, 3), 4)
        self.faults = [f"fault_{i}" for i in range(count)]
        repairs, shares = self._repairs(), self._shares()
        # No more calls without a fault than independent faults with these shares would leave.
        without = min(0.05, float(np.prod([1.0 - share for share in shares])))
        about = About(
            id="drawn",
            name="drawn",
            version="1",
            currency="EUR",
            note="invented",
            calls_without_fault=number(self._between(0.2, 0.8) * without),
            unknown_cause=OTHER,
            works={WATER: "fine"},
            money=self._money(),
            proof=self._proof(),
        )
        checks = self._checks()
        drawn = Model(
            hash="",
            about=about,
            site={},
            faults={
                name: Fault(name, "invented", number(share), "invented")
                for name, share in zip([*self.faults, OTHER], shares, strict=True)
            },
            mechanisms=self._mechanisms(),
            checks=checks,
            parts={"part": Part("part", number(self._between(5, 60)), number(0.8))},
            repairs=repairs,
            setups=self._setups(),
            rules={},
            complaints={},
            sources={},
            flow_chart=_chart(checks, repairs),
        )
        name = hashlib.sha256(repr((self.family, seed, drawn)).encode()).hexdigest()
        return freeze(replace(drawn, hash=name))

    def _between(self, least: float, most: float) -> float:
        return float(self.chance.uniform(least, most))

    def _log_between(self, least: float, most: float) -> float:
        return float(np.exp(self.chance.uniform(np.log(least), np.log(most))))

    def _sometimes(self, share: float) -> bool:
        return bool(self.chance.random() < share)

    # --- what is wrong -------------------------------------------------------------------------

    def _shares(self) -> list[float]:
        total = self._between(1.4, 1.8) if self.family == "two_faults" else self._between(1.0, 1.12)
        weights = self.chance.dirichlet(np.full(len(self.faults), 1.5)) + 0.02
        if self.family == "near_ties":
            weights = 1.0 + self.chance.uniform(-0.03, 0.03, len(self.faults))
        if self.family == "pairs":
            weights[:2] = weights[:2].mean() + 0.5
        if self.family == "rare":
            weights[-1] = self._between(0.01, 0.04) * weights[:-1].sum()
        shares = np.minimum(weights / weights.sum() * total, 0.85)
        # What was cut off goes to the others, so that every call has its fault.
        shares[shares.argsort()[-2]] += total - shares.sum()
        return [*shares.tolist(), self._between(0.01, 0.05)]

    def _mechanisms(self) -> dict[str, Mechanism]:
        always = spread({"poor": 1.0})
        causes = [Cause({name: "present"}, always) for name in [*self.faults, OTHER]]
        if self.family in ("random", "two_faults") and self._sometimes(0.5):
            # One fault that does not always show.
            shows = self._between(0.7, 0.95)
            mostly = spread({"fine": 1.0 - shows, "poor": shows})
            causes[0] = Cause({self.faults[0]: "present"}, mostly)
        made = {WATER: Mechanism(WATER, ("fine", "poor"), "invented", tuple(causes))}
        if self.family == "pairs":
            even = spread({"a": 0.5, "b": 0.5})
            made[PHASE] = Mechanism(PHASE, ("a", "b"), "invented", leak=even)
        return made

    # --- what can be seen ----------------------------------------------------------------------

    def _checks(self) -> dict[str, Check]:
        made: dict[str, Check] = {}
        if self.family == "pairs":
            made |= self._pair()
        for i in range(int(self.chance.choice([2, 3, 4, 5], p=[0.3, 0.35, 0.2, 0.15])) - len(made)):
            name = f"check_{i}"
            # A repair touches both observations of a check or neither.
            whens = self._parents()
            observations = {f"seen_{i}": self._observation(whens)}
            if self._sometimes(0.15):
                observations[f"seen_{i}_too"] = self._observation(whens)
            waits = self._between(5, 20) if self._sometimes(0.25) else 0.0
            made[name] = self._check(observations, self._log_between(1.5, 20), waits)
        return made

    def _check(
        self, observations: dict[str, Observation], minutes: float, waits: float = 0.0
    ) -> Check:
        needs = self._place()
        leaves = {"at": PLACES[1]} if needs and self._sometimes(0.1) else {}
        return Check(
            name="invented",
            minutes=number(minutes),
            waiting_minutes=number(waits),
            who="technician",
            observations=observations,
            how="invented",
            needs={"at": needs} if needs else {},
            leaves=leaves,
        )

    def _parents(self) -> list[dict[str, str]]:
        """What the lines of an observation look at: one or two faults, or the water."""
        if self._sometimes(0.12):
            return [{WATER: "fine"}, {}]
        count = min(1 + self._sometimes(0.4), len(self.faults))
        chosen = self.chance.choice(self.faults, size=count, replace=False)
        return [*({str(name): "present"} for name in chosen), {}]

    def _observation(self, whens: list[dict[str, str]]) -> Observation:
        outcomes = ["yes", "no", "other"][: 3 if self._sometimes(0.3) else 2]
        rows = []
        for place, when in enumerate(whens):
            sure = self._between(0.75, 0.99)
            rest = (1.0 - sure) / (len(outcomes) - 1)
            of = dict.fromkeys(outcomes, rest)
            of[outcomes[min(place, len(outcomes) - 1)] if when else outcomes[-1]] = sure
            if not when and len(outcomes) == 2 and len(whens) == 3:
                of = {"yes": 1.0 - sure, "no": sure}
            rows.append(Row(when, spread(of)))
        misreading = number(self._between(0.0, 0.06))
        return Observation(
            "invented", "invented", dict.fromkeys(outcomes, "it"), tuple(rows), misreading
        )

    def _pair(self) -> dict[str, Check]:
        """Two checks of which neither tells anything without the other."""
        sure = self._between(0.93, 0.99)
        here, there = {"yes": sure, "no": 1.0 - sure}, {"yes": 1.0 - sure, "no": sure}
        first = (Row({PHASE: "a"}, spread(here)), Row({}, spread(there)))
        fault = self.faults[0]
        second = (
            Row({PHASE: "a", fault: "present"}, spread(here)),
            Row({PHASE: "b", fault: "absent"}, spread(here)),
            Row({}, spread(there)),
        )
        made = {}
        for name, rows in (("first", first), ("second", second)):
            seen = Observation(
                "invented", "invented", {"yes": "it", "no": "it"}, rows, number(0.01)
            )
            made[name] = self._check({f"{name}_seen": seen}, self._between(2, 7))
        return made

    # --- what can be done ----------------------------------------------------------------------

    def _repairs(self) -> dict[str, Repair]:
        made = {}
        for i, fault in enumerate(self.faults[:5]):
            if self._sometimes(0.1) and i > 1:
                continue
            least, most = (0.4, 0.85) if self.family == "harmful" else (0.8, 0.99)
            clears = {fault: number(self._between(least, most))}
            if self._sometimes(0.3):
                clears[str(self.chance.choice(self.faults))] = number(self._between(least, most))
            harms = {}
            if self.family == "harmful" and self._sometimes(0.6):
                harms[str(self.chance.choice(self.faults))] = number(self._between(0.03, 0.25))
            minutes = self._log_between(4, 60)
            if self.family == "near_ties":
                minutes = 20.0 + self._between(-0.5, 0.5)
            if self.family == "rare" and i == len(self.faults) - 1:
                minutes = self._between(80, 120)
            if self.family == "pairs" and i < 2:
                minutes = self._between(35, 60)
            needs = self._place()
            made[f"repair_{i}"] = Repair(
                name="invented",
                kind="R1",
                minutes=number(minutes),
                who="technician",
                how="invented",
                clears=clears,
                # Its luck is a world of its own; more than two would be too many to enumerate.
                same_luck=i < 2 and len(clears) == 1 and self._sometimes(0.4),
                harms=harms,
                parts=("part",) if self._sometimes(0.3) else (),
                needs={"at": needs} if needs else {},
            )
        return made

    def _proof(self) -> Proof:
        return Proof(
            name="invented",
            how="invented",
            minutes=number(self._between(3, 8)),
            waiting_minutes=number(self._between(0, 25)),
            passes_if_works=number(self._between(0.93, 0.99)),
            passes_if_not=number(self._between(0.02, 0.1)),
            needs={"at": PLACES[0]},
        )

    def _money(self) -> Money:
        second = self._between(110, 280)
        return Money(
            attention_per_minute=number(1.5),
            waiting_per_minute=number(0.5),
            second_visit=number(second),
            escalation=number(second * self._between(0.45, 0.9)),
            fetch_part=number(40),
        )

    # --- how the unit stands -------------------------------------------------------------------

    def _place(self) -> str:
        """Where an act needs the unit; empty: anywhere."""
        places = ("", *PLACES)
        odds = [0.3, 0.2, 0.3, 0.2] if self.family != "setups" else [0.1, 0.2, 0.4, 0.3]
        return str(self.chance.choice(places, p=odds))

    def _setups(self) -> Setups:
        least, most = (8.0, 25.0) if self.family == "setups" else (0.5, 4.0)
        moves = {}
        for name, start, end in (
            ("unfasten", "ready", "open"),
            ("fasten", "open", "ready"),
            ("drain", "open", "drained"),
            ("fill", "drained", "open"),
        ):
            minutes = number(self._between(least, most))
            moves[name] = Move("invented", {"at": start}, {"at": end}, minutes)
        return Setups(
            variables={
                "at": SetupVariable(
                    "invented", dict.fromkeys(PLACES, "invented"), "ready", "ready", "ready"
                )
            },
            moves=moves,
            invariants={},
        )
