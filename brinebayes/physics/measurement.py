"""How sure a measured value is: first order, as in the Guide to the Expression of Uncertainty.

Source: JCGM 100:2008, sections 4.3 and 5.1; inputs are taken as independent.
"""

from __future__ import annotations

import math

from brinebayes.record import record


@record
class Estimate:
    """A value with its standard uncertainty (k = 1), both in the same unit."""

    value: float
    u: float = 0.0


def within(value: float, half_width: float) -> Estimate:
    """A value known to lie within +-`half_width`, evenly: u = half width / sqrt(3)."""
    return Estimate(value, half_width / math.sqrt(3))


def difference(first: Estimate, second: Estimate) -> Estimate:
    """first - second, as of two tape readings."""
    return Estimate(first.value - second.value, math.hypot(first.u, second.u))


def product(*factors: tuple[Estimate, float], times: float = 1.0) -> Estimate:
    """`times` x1^p1 x2^p2 ..., given pairs (x, p): u^2 = sum of (dy/dx_i u_i)^2."""
    values = [estimate.value**power for estimate, power in factors]
    u2 = 0.0
    for at, (estimate, power) in enumerate(factors):
        others = math.prod(values[:at]) * math.prod(values[at + 1 :])
        u2 += (power * estimate.value ** (power - 1) * others * estimate.u) ** 2
    return Estimate(times * math.prod(values), abs(times) * math.sqrt(u2))


def timed_volume_m3_s(volume_m3: Estimate, seconds: Estimate) -> Estimate:
    """Flow from a bucket and a watch, V/t."""
    return product((volume_m3, 1), (seconds, -1))


def level_draw_m3_s(
    drop_m: Estimate, seconds: Estimate, tank_m: Estimate, open_part: Estimate
) -> Estimate:
    """Brine drawn from the fall of the level: porosity pi d^2/4 h/t, as `brine.draw_m3_s`."""
    return product((open_part, 1), (tank_m, 2), (drop_m, 1), (seconds, -1), times=math.pi / 4)
