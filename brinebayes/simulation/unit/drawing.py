"""Units about which somebody has called, drawn by seed from a family of houses."""

from __future__ import annotations

import math
from bisect import bisect
from collections.abc import Mapping
from functools import lru_cache
from itertools import accumulate

from brinebayes.knowledge.schema import Model, Number, SiteCondition
from brinebayes.physics.roots import crossing
from brinebayes.simulation.unit import brined, judging
from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.faults import damaged
from brinebayes.simulation.unit.houses import Family, draw
from brinebayes.simulation.unit.parts import SOUND
from brinebayes.simulation.unit.site import Site
from brinebayes.simulation.unit.unit import Unit
from brinebayes.simulation.unit.weeks import serve, start

#: A fault that nobody would have noticed brings no call: house and extent are drawn again, so
#: often at most. A fault that still shows nothing (a float that never shuts, where nothing ever
#: fills the tank so far) is not called for on this site, and another call is drawn.
TRIES = 25


def unit(model: Model, family: Family, number: int) -> Unit:
    """The `number`th unit of a family: its site and faults by the model's shares of calls.

    How often a fault occurs is taken from the model; what it does is not.
    """
    chance = Chance(f"{family.name}/{number}")
    for again in range(TRIES):
        drawn = chance.part("call", again)
        conditions = draw_conditions(model, drawn.part("site"))
        faults = draw_faults(model, conditions, drawn.part("faults"))
        made, called = _tried(model, family, str(number), conditions, faults)
        if called:
            break
    return made


def with_faults(
    model: Model, family: Family, name: str, conditions: Mapping[str, str], faults: tuple[str, ...]
) -> Unit:
    """A unit with given faults, in a house in which they made themselves felt if they can.

    Without faults it is a unit in order, called for or not.
    """
    if not faults:
        return _attempt(model, family, name, conditions, faults, 0)
    return _tried(model, family, name, conditions, faults)[0]


def _tried(
    model: Model, family: Family, name: str, conditions: Mapping[str, str], faults: tuple[str, ...]
) -> tuple[Unit, bool]:
    """The first house in which there was something to complain of, or without any fault in which
    somebody complained all the same; else the last, and False."""
    for attempt in range(TRIES):
        made = _attempt(model, family, name, conditions, faults, attempt)
        if made.complaints and (made.wrong_at_call or not faults):
            return made, True
    return made, False


def _attempt(
    model: Model,
    family: Family,
    name: str,
    conditions: Mapping[str, str],
    faults: tuple[str, ...],
    attempt: int,
) -> Unit:
    chance = Chance(f"{family.name}/{name}").part("attempt", attempt)
    site = _house(family, conditions, chance)
    parts = damaged(SOUND, faults, site, chance)
    days = int(chance.evenly_in_ratio(16, 50, "days"))
    begin = start(site, parts, chance.between(0.1, 1.0, "charged"))
    log = serve(site, parts, begin, days)
    said = judging.complaints(site, parts, log, chance.part("customer"))
    checks = {check: tuple(item.observations) for check, item in model.checks.items()}
    return Unit(f"{family.name}/{name}", site, faults, parts, log, said, chance, checks)


def _house(family: Family, conditions: Mapping[str, str], chance: Chance) -> Site:
    """A house that was put in properly: without any fault its unit does its work, and shows it."""
    for again in range(TRIES):
        site = draw(family, conditions, chance.part("house", *(() if again == 0 else (again,))))
        begin = start(site, SOUND)
        if judging.works(site, SOUND, begin) and brined.rinses(site, SOUND, begin.tanks):
            return site
    return site


def draw_conditions(model: Model, chance: Chance) -> dict[str, str]:
    """Values of the site conditions by their shares of calls."""
    return {name: _value(condition, chance.uniform(name)) for name, condition in model.site.items()}


def _value(condition: SiteCondition, drawn: float) -> str:
    values = list(condition.values)
    shares = [condition.values[value].share.value for value in values]
    reached = list(accumulate(shares))
    return values[min(bisect(reached, drawn * reached[-1]), len(values) - 1)]


def draw_faults(model: Model, conditions: Mapping[str, str], chance: Chance) -> tuple[str, ...]:
    """Faults of a call: independent, and at least one of them there, or seldom none.

    With s the stated shares, s Z are the odds before the call, Z the chance of one:
    Z (1 - p0) = 1 - prod(1 - s Z).
    """
    shares = {fault: item.share.value for fault, item in model.faults.items()}
    none = model.about.calls_without_fault.value
    z = _chance_of_a_call(tuple(shares.values()), none)
    if chance.happens(none, "no fault"):
        return ()
    rates = {
        fault: share * z * site_factor(model, conditions, fault) for fault, share in shares.items()
    }
    for attempt in range(1000):
        present = tuple(f for f, rate in rates.items() if chance.happens(rate, attempt, f))
        if present:
            return present
    return ()


@lru_cache(maxsize=8)
def _chance_of_a_call(shares: tuple[float, ...], none: float) -> float:
    def excess(z: float) -> float:
        absent = math.prod(1 - share * z for share in shares)
        return z * (1 - none) - (1 - absent)

    return crossing(excess, 1e-6, 1.0)


def site_factor(model: Model, conditions: Mapping[str, str], fault: str) -> float:
    """Factor of this site on a fault, 1 on average over all sites; 0 where it cannot be."""
    applies = model.faults[fault].applies
    factor = 1.0
    for name, condition in model.site.items():
        wanted = applies.get(name, tuple(condition.values))
        allowed = (wanted,) if isinstance(wanted, str) else wanted
        at = {
            value: _number(item.factors.get(fault)) if value in allowed else 0.0
            for value, item in condition.values.items()
        }
        mean = sum(item.share.value * at[value] for value, item in condition.values.items())
        factor *= at[conditions[name]] / mean
    return factor


def _number(factor: Number | None) -> float:
    return 1.0 if factor is None else factor.value
