"""One simulated visit: a policy chooses, the unit answers, and what it cost is counted."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, MutableMapping
from dataclasses import dataclass
from typing import Protocol

from brinebayes.advice.acts import Act
from brinebayes.advice.policies import Policy
from brinebayes.advice.situation import situation
from brinebayes.advice.underway import underway
from brinebayes.knowledge.schema import CheckedModel, Model
from brinebayes.record import record
from brinebayes.visit.events import Complained, Done, Event, Saw, SiteKnown
from brinebayes.visit.state import ESCALATE, PROOF, VisitState, fold

#: Acts after which the case is passed on, whatever the policy says.
MOST_ACTS = 80


class Unit(Protocol):
    """What a visit meets: a drawn unit, or a physical one."""

    @property
    def site(self) -> Mapping[str, str]: ...

    @property
    def complaints(self) -> tuple[str, ...]: ...

    @property
    def works(self) -> bool: ...

    @property
    def faults(self) -> frozenset[str]: ...

    def copy(self) -> Unit: ...

    def works_with(self, faults: frozenset[str]) -> bool: ...

    def observe(self, check: str) -> Mapping[str, str]: ...

    def repair(self, repair: str) -> None: ...

    def prove(self) -> str: ...


@record
class Served:
    """How a visit went. `cost` in the model's currency, with the second visit of a call-back.

    `minutes` of attention and `waiting`; `moves`: setup changes; `needless`: repairs of what was
    not wrong. `end`: `finish` or `escalate`; `works`: whether the unit then does its work.
    """

    policy: str
    visit: int
    cost: float
    minutes: float
    waiting: float
    checks: int
    repairs: int
    needless: int
    moves: int
    end: str
    works: bool
    acts: tuple[str, ...]

    @property
    def called_back(self) -> bool:
        """Left as finished and does not work."""
        return self.end == "finish" and not self.works


#: What was chosen in a situation before: many visits begin alike.
Remembered = MutableMapping[object, Act]


@dataclass(frozen=True)
class Chooser:
    """A policy by its name; `of` makes it for a unit, which only the oracle looks into."""

    name: str
    of: Callable[[Unit], Policy]
    sees_the_unit: bool = False


def always(name: str, policy: Policy) -> Chooser:
    """A policy that knows no more than the visit tells."""
    return Chooser(name, lambda unit: policy)


def serve(
    checked: CheckedModel,
    unit: Unit,
    visit: int,
    chooser: Chooser,
    told: Iterable[str],
    remembered: Remembered,
) -> Served:
    """One visit from door to door. `told`: the site conditions that the technician knows."""
    model = checked.model
    policy = chooser.of(unit)
    state = fold(model, told_at_first(unit, told))
    acts: list[Act] = []
    needless = 0
    while True:
        act = _chosen(checked, state, policy, {} if chooser.sees_the_unit else remembered)
        if len(acts) == MOST_ACTS:
            act = next(one for one in situation(checked, state).acts if one.id == ESCALATE)
        acts.append(act)
        if act.kind in ("finish", "escalate"):
            return _served(model, unit, visit, chooser.name, acts, needless)
        if act.kind in ("repair", "fetch"):
            needless += unit.faults.isdisjoint(model.repairs[act.id].clears)
        happened = (*underway(model, state, act), *answered(unit, act))
        state = fold(model, happened, state)


def told_at_first(unit: Unit, told: Iterable[str]) -> tuple[Event, ...]:
    """What is known at the door: `told` of the site, and what the customer says."""
    site = (SiteKnown(name, unit.site[name]) for name in told)
    return (*site, *(Complained(complaint) for complaint in unit.complaints))


def answered(unit: Unit, act: Act) -> Iterable[Event]:
    """What a unit shows when an act is done to it, which changes it where it is a repair."""
    if act.kind == "check":
        yield from (Saw(name, outcome) for name, outcome in unit.observe(act.id).items())
    elif act.kind == "prove":
        yield Saw(PROOF, unit.prove())
    else:
        unit.repair(act.id)
        yield Done(act.id)


def _chosen(
    checked: CheckedModel, state: VisitState, policy: Policy, remembered: Remembered
) -> Act:
    key = (
        tuple(sorted(state.site.items())),
        state.complaints,
        state.seen,
        state.done,
        tuple(sorted((state.walked or {}).items())),
        state.before_refill,
    )
    if key not in remembered:
        remembered[key] = policy(checked, state)
    return remembered[key]


def _served(
    model: Model, unit: Unit, visit: int, policy: str, acts: list[Act], needless: int
) -> Served:
    end = acts[-1].kind
    cost = sum(act.cost for act in acts)
    if end == "finish" and not unit.works:
        cost += model.about.money.second_visit.value
    return Served(
        policy=policy,
        visit=visit,
        cost=cost,
        minutes=sum(act.minutes for act in acts),
        waiting=sum(act.waiting_minutes for act in acts),
        checks=sum(act.kind == "check" for act in acts),
        repairs=sum(act.kind in ("repair", "fetch") for act in acts),
        needless=needless,
        moves=sum(len(act.route.moves) for act in acts),
        end=end,
        works=unit.works,
        acts=tuple(act.id for act in acts),
    )
