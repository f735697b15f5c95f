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
        #: Rows of the routes' table, by number and the other way round.
        self._numbers: dict[int, int] = {}
        self._setups: list[int] = []
        self._legs: dict[int, Legs] = {}
        self._stacked = 0

    def number(self, setup: State) -> int:
        """The number of a setup in this search."""
        return self._number(self._ways.routes.row(setup))

    def _number(self, row: int) -> int:
        found = self._numbers.get(row)
        if found is None:
            found = self._numbers[row] = len(self._setups)
            self._setups.append(row)
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

    def _from(self, row: int) -> Legs:
        there, ends, proofs, closes, close, parked = self._ways.of(row)
        end_of = np.array([self._number(end) for end in ends.tolist()], dtype=np.intp)
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
        self.routes = routes
        self._place: dict[tuple[int, Mapping[str, str]], int] = {}
        proof = model.about.proof
        acts: list[Check | Repair | Proof] = [*model.checks.values(), *model.repairs.values()]
        for act in (*acts, proof):
            self._place.setdefault((routes.goal(act.needs), act.leaves), len(self._place))
        self._goals = np.array([goal for goal, _ in self._place], dtype=np.intp)
        self._changes = np.array([routes.changes(leaves) for _, leaves in self._place]).T
        self._proof = routes.goal(proof.needs)
        self._service = routes.goal(routes.to_service)
        self._parked = routes.goal(model.setups.parked)
        self._in_service = routes.row(routes.service_state)
        self._kept: dict[int, From] = {}

    def places(self, acts: Sequence[Check | Repair | Proof]) -> Indices:
        """(acts,): the access of each."""
        found = [self._place[self.routes.goal(act.needs), act.leaves] for act in acts]
        return np.array(found, dtype=np.intp)

    def of(self, row: int) -> From:
        """From one setup, by its row among the routes: per access what its way costs, the setup
        after the act, and what a proof and handing back cost from there; then what handing back and
        leaving cost at once."""
        if row not in self._kept:
            routes = self.routes
            at = routes.ends(self._goals, row)
            # What cannot be reached is never chosen; any setup will do for what would follow.
            ends, here = np.full(len(at), self._in_service), np.flatnonzero(at >= 0)
            ends[here] = routes.rows_after(at[here], self._changes[:, here])
            self._kept[row] = (
                np.minimum(routes.costs(self._goals, row), FAR),
                ends,
                np.minimum(routes.costs(self._proof, ends), FAR),
                np.minimum(routes.costs(self._service, ends), FAR),
                min(float(routes.costs(self._service, row)), FAR),
                min(float(routes.costs(self._parked, row)), FAR),
            )
        return self._kept[row]


From = tuple[Floats, Indices, Floats, Floats, float, float]
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
