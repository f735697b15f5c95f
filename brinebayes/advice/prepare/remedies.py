"""What would put each unit right if its cause were known: the cheapest repairs, fault by fault.

A remedy is one repair, or one and another to fall back on, whichever costs least when a unit that
stays broken costs a second visit. Every part is taken to be at hand: what to carry is decided with
this, not before it. Where nothing is cheaper than a second visit, the work is a visit of its own,
or a licensed trade's, or nobody knows it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice.acts import TRIES
from brinebayes.errors import UnsafeRoute
from brinebayes.knowledge.schema import Model, Repair
from brinebayes.network.worlds import Worlds, evaluate, works
from brinebayes.setups.routes import Routes
from brinebayes.setups.states import allowed
from brinebayes.visit.state import VisitState

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Places = NDArray[np.intp]

Kind = Literal["on_this_visit", "visit_of_its_own", "licensed", "unknown"]


@dataclass(frozen=True, slots=True)
class Remedy:
    """What clears one fault: repairs in the order in which they are tried, and their chances.

    Unless the kind is `on_this_visit`, `repairs` names at most one: the work to be arranged for.
    """

    kind: Kind
    repairs: tuple[str, ...] = ()
    chances: tuple[float, ...] = ()


def remedies(model: Model, state: VisitState, routes: Routes) -> dict[str, Remedy]:
    """Fault -> its cheapest remedy on this site."""
    prices = costs(model, state, routes)
    return {fault: _remedy(model, fault, prices) for fault in model.faults}


def costs(model: Model, state: VisitState, routes: Routes) -> dict[str, float]:
    """Money for each repair that exists on the site, its way, parts and proof included."""
    return {
        name: cost
        for name, repair in model.repairs.items()
        if applies(repair, state)
        for cost in _cost(model, repair, routes)
    }


def applies(repair: Repair, state: VisitState) -> bool:
    """Whether a repair exists on the site, as far as the site is known."""
    return all(
        name not in state.site or state.site[name] in allowed(accepted)
        for name, accepted in repair.applies.items()
    )


def _cost(model: Model, repair: Repair, routes: Routes) -> Iterator[float]:
    """Money for a repair on a unit in service, parts and proof included; nothing if no way leads
    there."""
    money, proof = model.about.money, model.about.proof
    try:
        way = routes.way(routes.service_state, repair.needs)
        back = routes.cost(routes.after(way.end, repair.leaves), proof.needs)
    except UnsafeRoute:
        return
    minutes = repair.minutes.value + proof.minutes.value
    cost = way.money + back + minutes * money.attention_per_minute.value
    cost += proof.waiting_minutes.value * money.waiting_per_minute.value
    yield cost + sum(model.parts[part].price.value for part in repair.parts)


def _remedy(model: Model, fault: str, prices: dict[str, float]) -> Remedy:
    clears = {
        name: model.repairs[name].clears[fault].value
        for name in prices
        if fault in model.repairs[name].clears
    }
    ours = {name: p for name, p in clears.items() if model.repairs[name].who != "licensed"}
    stop = model.about.money.second_visit.value
    plans: list[tuple[float, tuple[str, ...]]] = []
    for first, p in ours.items():
        plans.append((prices[first] + (1.0 - p) * stop, (first,)))
        for then, q in ours.items():
            if then != first:
                fallen = prices[then] + (1.0 - q) * stop
                plans.append((prices[first] + (1.0 - p) * fallen, (first, then)))
    cost, repairs = min(((round(c, 6), r) for c, r in plans), default=(stop, ()))
    if cost < stop:
        return Remedy("on_this_visit", repairs, tuple(ours[name] for name in repairs))
    if not clears:
        return Remedy("unknown")
    best = min(ours or clears, key=lambda name: prices[name] + (1.0 - clears[name]) * stop)
    return Remedy("visit_of_its_own" if ours else "licensed", (best,), (clears[best],))


def needed(worlds: Worlds) -> Bools:
    """(rows, faults): the faults that keep the unit of a row from working.

    A present fault that would do no harm by itself is not among them; where only several together
    do harm, all are.
    """
    found = worlds.faults & ~worlds.works[:, None]
    # One fault alone is the one; only where there are several must they be told apart.
    several = np.flatnonzero(found.sum(axis=1) > 1)
    if len(several):
        # Each fault of each of these rows by itself.
        row, fault = np.nonzero(found[several])
        alone = np.zeros((len(row), found.shape[1]), dtype=bool)
        alone[np.arange(len(row)), fault] = True
        rows = several[row]
        each = worlds.only(rows, worlds.weights[rows], float(len(rows)))
        mechanisms = evaluate(worlds.model, each.site, alone, each.noise)
        harmful = np.zeros((len(several), found.shape[1]), dtype=bool)
        harmful[row, fault] = ~np.broadcast_to(works(worlds.model, mechanisms), len(row))
        lost = ~harmful.any(axis=1)
        harmful[lost] = found[several[lost]]
        found[several] = harmful
    return found


def fixable(model: Model, plans: Mapping[str, Remedy], faults: Bools, at_hand: Floats) -> Floats:
    """(rows,): chance that the remedies of all these faults work and their parts are at hand.

    `faults`: (rows, faults), of `needed`; `at_hand`: (parts,), the chance that each is. A row with
    a fault that is not for this visit has none.
    """
    places = {part: place for place, part in enumerate(model.parts)}
    result = np.ones(len(faults))
    for column, fault in enumerate(model.faults):
        chance = 0.0
        if plans[fault].kind == "on_this_visit":
            left, here = 1.0, set[str]()
            for name, p in zip(plans[fault].repairs, plans[fault].chances, strict=True):
                here.update(model.repairs[name].parts)
                supplied = float(np.prod([at_hand[places[part]] for part in sorted(here)]))
                chance += left * p * supplied
                left *= 1.0 - p
        result[faults[:, column]] *= chance
    return result


def uses(model: Model, plans: Mapping[str, Remedy]) -> Floats:
    """(faults, parts): chance that the remedy of a fault takes the part."""
    table = np.zeros((len(model.faults), len(model.parts)))
    places = {part: place for place, part in enumerate(model.parts)}
    for row, fault in enumerate(model.faults):
        if plans[fault].kind != "on_this_visit":
            continue
        left = 1.0
        taken: set[str] = set()
        for name, p in zip(plans[fault].repairs, plans[fault].chances, strict=True):
            for part in model.repairs[name].parts:
                table[row, places[part]] += 0.0 if part in taken else left
            taken.update(model.repairs[name].parts)
            left *= 1.0 - p
    return table


def called_for(
    model: Model,
    plans: Mapping[str, Remedy],
    order: Sequence[str],
    worlds: Worlds,
    done: Sequence[str] = (),
    dearest: bool = False,
) -> Places:
    """(rows,): what the unit of a row calls for, as a place in `order` (repairs, cheapest first).

    Of several repairs the first in that order, or the last if `dearest`; what was done is called
    for again only where another try has a luck of its own, and after the rest of its remedy.
    `len(order)`: work that is not for this visit; `len(order) + 1`: nothing.
    """
    places = {name: place for place, name in enumerate(order)}
    called = np.full(len(model.faults), len(order), dtype=np.intp)
    for column, fault in enumerate(model.faults):
        plan = plans[fault]
        left = [n for n in plan.repairs if done.count(n) < TRIES - model.repairs[n].same_luck]
        left.sort(key=done.count)
        if plan.kind == "on_this_visit" and left:
            called[column] = places[left[0]]
    present = needed(worlds)
    if dearest:
        found: Places = np.where(present, called, -1).max(axis=1)
        found[found < 0] = len(order)
    else:
        found = np.where(present, called, len(order)).min(axis=1)
    found[worlds.works] = len(order) + 1
    return found
