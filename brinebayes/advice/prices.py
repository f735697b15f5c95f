"""What checks, repairs, proofs and ways to end cost from a setup, its route included."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinebayes.knowledge.schema import Check, Model, Proof, Repair
from brinebayes.record import record
from brinebayes.setups.routes import Routes
from brinebayes.setups.states import State

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


#: The price of what no safe route leads to; finite, so that nothing times it is nothing.
FAR = 1e12


@record(eq=False)
class Legs:
    """From each of some setups, in the model's currency; `FAR` where no safe route leads there.

    `checks`: (setups, checks) and `repairs`: (setups, repairs) with their own price; `*_end`:
    the setups after them, by number. `proof_after`, `close_after`: (setups, repairs), a proof or
    handing back right after each. `proof`, `proof_end`, `close`, `pass_on`: (setups,); the last
    includes the price of another's visit.
    """

    checks: Floats
    checks_end: Indices
    repairs: Floats
    repairs_end: Indices
    proof_after: Floats
    close_after: Floats
    proof: Floats
    proof_end: Indices
    close: Floats
    pass_on: Floats

    def at(self, places: Indices) -> Legs:
        """The legs from some of the setups, those of checks left as they are."""
        return _Picked(self, places)


class _Picked(Legs):
    """Legs from some of the setups; each table is picked out when it is first asked for, since
    most callers need few of them."""

    def __init__(self, legs: Legs, places: Indices) -> None:
        self.__dict__.update(_legs=legs, _places=places)

    def __getattr__(self, name: str) -> Any:
        table = getattr(self.__dict__["_legs"], name)
        if not name.startswith("checks"):
            table = table.take(self.__dict__["_places"], axis=0)
        self.__dict__[name] = table
        return table


_FIELDS = tuple(Legs.__dataclass_fields__)


class Prices:
    """The legs from every setup that a search meets, reckoned once for each.

    `checks`, `repairs`: ids; `own_checks`, `own_repairs`: what each costs without its route.
    """

    def __init__(
        self,
        model: Model,
        routes: Routes,
        checks: Sequence[str],
        repairs: Sequence[str],
        own_checks: Floats,
        own_repairs: Floats,
    ) -> None:
        self.own_checks, self.own_repairs = own_checks, own_repairs
        money, proof = model.about.money, model.about.proof
        self.own_proof = proof.minutes.value * money.attention_per_minute.value
        self.own_proof += proof.waiting_minutes.value * money.waiting_per_minute.value
        self._escalation = money.escalation.value
        self._ways = _ways(model, routes)
        self._checks = self._ways.places([model.checks[name] for name in checks])
        self._repairs = self._ways.places([model.repairs[name] for name in repairs])
        self._proof = int(self._ways.places([proof])[0])
        self._numbers: dict[State, int] = {}
        self._setups: list[State] = []
        self._legs: dict[int, Legs] = {}
        self._stacked = 0

    def number(self, setup: State) -> int:
        """The number of a setup in this search."""
        found = self._numbers.get(setup)
        if found is None:
            found = self._numbers[setup] = len(self._setups)
            self._setups.append(setup)
        return found

    def legs(self, setup: int) -> Legs:
        """The legs from one setup."""
        found = self._legs.get(setup)
        if found is None:
            found = self._legs[setup] = self._from(self._setups[setup])
        return found

    def many(self, setups: Indices) -> Legs:
        """The legs from each of several setups, which may repeat; without those of checks."""
        return self._stack(setups).at(self._place.take(setups))

    def to_check(self, setups: Indices, check: int) -> Floats:
        """(n,): what one check costs from each of several setups."""
        ways: Floats = self._stack(setups).checks[self._place.take(setups), check]
        return ways

    def _stack(self, setups: Indices) -> Legs:
        """The legs of all setups so far in one, those named among them."""
        for setup in set(setups.tolist()) - self._legs.keys():
            self.legs(setup)
        if self._stacked != len(self._legs):
            order = list(self._legs)
            parts = ([getattr(self._legs[k], name) for k in order] for name in _FIELDS)
            self._all = Legs(*(np.concatenate(part) for part in parts))
            self._stacked = len(order)
            self._place = np.zeros(max(order) + 1, dtype=np.intp)
            self._place[order] = np.arange(len(order))
        return self._all

    def _from(self, setup: State) -> Legs:
        there, ends, proofs, closes, close, parked = self._ways.of(setup)
        end_of = np.array([self.number(end) for end in ends], dtype=np.intp)
        return Legs(
            checks=(self.own_checks + there[self._checks])[None, :],
            checks_end=end_of[self._checks][None, :],
            repairs=(self.own_repairs + there[self._repairs])[None, :],
            repairs_end=end_of[self._repairs][None, :],
            proof_after=(proofs[self._repairs] + self.own_proof)[None, :],
            close_after=closes[self._repairs][None, :],
            proof=there[[self._proof]] + self.own_proof,
            proof_end=end_of[[self._proof]],
            close=np.array([close]),
            pass_on=np.array([parked + self._escalation]),
        )


class Ways:
    """The ways from a setup to all acts of a model. Many acts need the same setup and leave the
    same: one way, an access, serves them all. Kept with the routes of the model."""

    def __init__(self, model: Model, routes: Routes) -> None:
        self._routes = routes
        self._place: dict[tuple[int, Mapping[str, str]], int] = {}
        proof = model.about.proof
        acts: list[Check | Repair | Proof] = [*model.checks.values(), *model.repairs.values()]
        for act in (*acts, proof):
            self._place.setdefault((routes.goal(act.needs), act.leaves), len(self._place))
        self._proof = routes.goal(proof.needs)
        self._service = routes.goal(routes.to_service)
        self._parked = routes.goal(model.setups.parked)
        self._kept: dict[State, From] = {}

    def places(self, acts: Sequence[Check | Repair | Proof]) -> Indices:
        """(acts,): the access of each."""
        found = [self._place[self._routes.goal(act.needs), act.leaves] for act in acts]
        return np.array(found, dtype=np.intp)

    def of(self, setup: State) -> From:
        """From one setup: per access what its way costs, the setup after the act, and what a proof
        and handing back cost from there; then what handing back and leaving cost at once."""
        if setup not in self._kept:
            reach = self._routes.reach(setup)
            ends, proofs, closes = [], [], []
            for goal, leaves in self._place:
                at = reach.ends[goal]
                # What cannot be reached is never chosen; any setup will do for what would follow.
                end = self._routes.service_state if at is None else self._routes.after(at, leaves)
                after = self._routes.reach(end).costs
                ends.append(end)
                proofs.append(_finite(after[self._proof]))
                closes.append(_finite(after[self._service]))
            there = np.array([_finite(reach.costs[goal]) for goal, _ in self._place])
            self._kept[setup] = (
                there,
                tuple(ends),
                np.array(proofs),
                np.array(closes),
                _finite(reach.costs[self._service]),
                _finite(reach.costs[self._parked]),
            )
        return self._kept[setup]


From = tuple[Floats, tuple[State, ...], Floats, Floats, float, float]
#: By the identity of the routes, which are held here so that no others can take their place.
_shared: dict[int, tuple[Routes, Ways]] = {}
MOST_SHARED = 8


def _ways(model: Model, routes: Routes) -> Ways:
    kept = _shared.get(id(routes))
    if kept is None:
        while len(_shared) >= MOST_SHARED:
            del _shared[next(iter(_shared))]
        kept = _shared[id(routes)] = (routes, Ways(model, routes))
    return kept[1]


def _finite(price: float) -> float:
    return min(float(price), FAR)
