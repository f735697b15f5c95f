"""How far each kind of damage goes, and which way it goes where there are several.

Judged throughout: from what a technician would just call a fault to what is found at the worst.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from brinebayes.physics.hydraulics import circle_m2
from brinebayes.physics.units import FT, IN
from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.parts import Leak, Parts, Stop
from brinebayes.simulation.unit.site import Site


def bore_left(low: float, high: float, field: str) -> Callable[[Parts, Site, Chance], Parts]:
    """Leaves a drawn part of a bore open, evenly in the logarithm."""

    def change(parts: Parts, site: Site, chance: Chance) -> Parts:
        return parts.changed(**{field: chance.evenly_in_ratio(low, high, field)})

    return change


def always(**fields: object) -> Callable[[Parts, Site, Chance], Parts]:
    """Sets fields to what they then always are."""

    def change(parts: Parts, site: Site, chance: Chance) -> Parts:
        return parts.changed(**fields)

    return change


def bore(low_mm: float, high_mm: float, chance: Chance, *name: object) -> float:
    return circle_m2(1e-3 * chance.evenly_in_ratio(low_mm, high_mm, *name))


def worn(chance: Chance) -> Leak:
    """Which of its three ways a worn valve leaks is chance; at least one of them it does."""
    ways = [way for way in ("drain", "jet", "house") if chance.happens(0.6, way)]
    ways = ways or [chance.one_of(("drain", "jet", "house"), "one way")]
    return Leak(
        drain_m2=bore(0.4, 2.5, chance, "to drain") if "drain" in ways else 0.0,
        jet_m2=bore(0.4, 1.6, chance, "to jet") if "jet" in ways else 0.0,
        past_resin=chance.between(0.08, 0.5, "to house") if "house" in ways else 0.0,
    )


def nozzle(parts: Parts, site: Site, chance: Chance) -> Parts:
    return parts.changed(nozzle_clear=chance.between(0.06, 0.55, "nozzle"))


def worn_injector(parts: Parts, site: Site, chance: Chance) -> Parts:
    """Sand widens the nozzle; a wrong one is a size off."""
    if chance.happens(0.5, "worn"):
        return parts.changed(nozzle_size=chance.between(1.1, 1.19, "size"))
    size = chance.one_of((0.6, 1.5), "wrong")
    return parts.changed(nozzle_size=size, throat_size=size)


def drain_control_wrong(parts: Parts, site: Site, chance: Chance) -> Parts:
    size = chance.one_of((math.inf, math.inf, 1.8, 2.5, 0.4), "which")
    lost = chance.between(0.55, 0.95, "resin") if size > 1 and chance.happens(0.5, "lost") else 1.0
    return parts.changed(control_size=size, resin_there=min(parts.resin_there, lost))


def long_high(parts: Parts, site: Site, chance: Chance) -> Parts:
    """Longer, higher or narrower: on a short run it can only be the bore or the climb."""
    if site.known.get("drain_run") == "long_half_inch":
        return parts.changed(
            line_longer_m=FT.to_si(chance.between(25, 180, "longer")),
            line_higher_m=FT.to_si(chance.between(0, 14, "higher")),
        )
    if chance.happens(0.5, "narrow"):
        return parts.changed(line_bore=chance.between(0.28, 0.5, "bore"))
    return parts.changed(line_higher_m=FT.to_si(chance.between(8, 22, "higher")))


def air_check(parts: Parts, site: Site, chance: Chance) -> Parts:
    return parts.changed(air_check="early" if chance.happens(0.35, "early") else "shut")


def float_shut(parts: Parts, site: Site, chance: Chance) -> Parts:
    stuck = chance.happens(0.6, "stuck")
    return parts.changed(float_level=0.0 if stuck else chance.between(0.1, 0.45, "low"))


def float_open(parts: Parts, site: Site, chance: Chance) -> Parts:
    stuck = chance.happens(0.6, "stuck")
    return parts.changed(float_level=math.inf if stuck else chance.between(1.5, 3.0, "high"))


def refill_wrong(parts: Parts, site: Site, chance: Chance) -> Parts:
    return parts.changed(refill_size=chance.one_of((math.inf, 2.0, 3.0), "size"))


def crumb(parts: Parts, site: Site, chance: Chance) -> Parts:
    raw = chance.between(0.03, 0.2, "past resin") if chance.happens(0.3, "raw") else 0.0
    return parts.changed(crumb=Leak(drain_m2=bore(0.5, 2.5, chance, "crumb"), past_resin=raw))


def piston(parts: Parts, site: Site, chance: Chance) -> Parts:
    """Grooves leak like worn seals; a sticking piston may also stop short of service."""
    short = chance.happens(0.25, "short")
    return parts.changed(piston=worn(chance), stands="between" if short else parts.stands)


def stopped(parts: Parts, chance: Chance, away: float) -> Stop:
    """Where the valve stood when its drive failed: mostly at rest, where it stands all day."""
    if parts.stands != "service" or not chance.happens(away, "away"):
        return parts.stands
    return chance.one_of(("backwash", "brine", "rinse", "refill", "between"), "stop")


def drive(field: str, away: float) -> Callable[[Parts, Site, Chance], Parts]:
    def change(parts: Parts, site: Site, chance: Chance) -> Parts:
        return parts.changed(**{field: True}, stands=stopped(parts, chance, away))

    return change


def board(parts: Parts, site: Site, chance: Chance) -> Parts:
    how = chance.one_of(("frozen", "frozen", "garbled", "silent"), "how")
    return parts.changed(board=how, stands=stopped(parts, chance, 0.1))


def power(parts: Parts, site: Site, chance: Chance) -> Parts:
    volts = 0.0 if chance.happens(0.85, "dead") else chance.between(0.2, 0.6, "sags")
    return parts.changed(power=volts, stands=stopped(parts, chance, 0.06))


def position(parts: Parts, site: Site, chance: Chance) -> Parts:
    sensor = chance.happens(0.6, "sensor")
    stop: Stop = chance.one_of(("between", "between", "brine", "rinse", "service"), "stop")
    return parts.changed(sensor_dead=sensor, steps_off=not sensor, stands=stop)


def clock(parts: Parts, site: Site, chance: Chance) -> Parts:
    return parts.changed(clock_off_h=float(chance.one_of((4, 5, 6, 8, 10, 12, 15), "hours")))


def dose(parts: Parts, site: Site, chance: Chance) -> Parts:
    if chance.happens(0.6, "low"):
        return parts.changed(dose_set=chance.between(0.2, 0.6, "dose"))
    return parts.changed(dose_set=chance.between(1.7, 3.0, "dose"))


def steps(parts: Parts, site: Site, chance: Chance) -> Parts:
    if chance.happens(0.5, "draw"):
        return parts.changed(draw_set=chance.between(0.1, 0.35, "time"))
    return parts.changed(
        rinse_set=chance.between(0.05, 0.3, "rinse"), draw_set=chance.between(0.4, 0.7, "d")
    )


def bypass_leak(parts: Parts, site: Site, chance: Chance) -> Parts:
    return parts.changed(bypass_leak=chance.evenly_in_ratio(0.03, 0.3, "gap"))


def bypass(parts: Parts, site: Site, chance: Chance) -> Parts:
    wide = chance.happens(0.55, "wide")
    return parts.changed(bypass_handle=1.0 if wide else chance.evenly_in_ratio(0.05, 0.6, "gap"))


def reversed(parts: Parts, site: Site, chance: Chance) -> Parts:
    return parts.changed(reversed_ports=True, resin_there=chance.between(0.7, 1.0, "lost"))


def fouled(parts: Parts, site: Site, chance: Chance) -> Parts:
    return parts.changed(
        resin_capacity=chance.between(0.35, 0.8, "capacity"),
        resin_drag=chance.between(1.0, 2.0, "drag"),
        rust_mg_l=chance.evenly_in_ratio(0.05, 1.5, "rust"),
    )


def oxidised(parts: Parts, site: Site, chance: Chance) -> Parts:
    return parts.changed(
        resin_capacity=chance.between(0.5, 0.85, "capacity"),
        resin_drag=chance.evenly_in_ratio(2.0, 12.0, "drag"),
        soft_beads=True,
    )


def basket(parts: Parts, site: Site, chance: Chance) -> Parts:
    return parts.changed(
        basket_broken=True,
        resin_there=chance.between(0.5, 1.0, "lost"),
        resin_drag=chance.between(1.0, 1.5, "wedged"),
    )


def rinse_cut(parts: Parts, site: Site, chance: Chance) -> Parts:
    return parts.changed(salt_left_kg=chance.between(0.1, 0.8, "left"))


def mush(parts: Parts, site: Site, chance: Chance) -> Parts:
    """Sludge lies round the foot of the well; below it brine is strong, and finds no way in."""
    return parts.changed(
        mush_m=IN.to_si(chance.between(3, 12, "depth")),
        well_clear=chance.evenly_in_ratio(0.001, 0.05, "well"),
    )


def dirt(parts: Parts, site: Site, chance: Chance) -> Parts:
    return parts.changed(
        salt_dirt=chance.between(0.4, 1.0, "dirt"),
        rust_mg_l=max(parts.rust_mg_l, chance.evenly_in_ratio(0.1, 1.5, "colour")),
    )


def beyond(parts: Parts, site: Site, chance: Chance) -> Parts:
    what = chance.one_of(("cracked_body", "collapsed_hose", "rusty_pipe", "dead_leg"), "what")
    return parts.changed(beyond=what)
