"""From a ratio to a likelihood over the outcomes on its scale.

The true ratio r of a reading to what is expected lies in one of the bands between the limits. What
was read, q, lies about it so that asinh(q/s) is normal round asinh(r/s) with standard deviation
sigma. For q well above s that is a log-normal with sigma the relative uncertainties of instrument,
figure and site in quadrature; near nothing it is a normal with the instrument's resolution
s sigma, so that a level that stands still, or rises, is read in the same way.

Before the reading every true asinh(r/s) near it counts as equally likely. Then the likelihood of an
outcome is the probability that r lies in its band. Over the bands these sum to 1, whence the
observation's misreading, which the network mixes in evenly over its outcomes, is exactly the floor
for gross errors: (1 - m) sum(row L) + m/k. A second floor here would count the same slip twice.

A normal that is moved as a whole has a monotone likelihood ratio: a larger number never makes the
smaller of two outcomes relatively likelier.
Source of the transform: it is the variance-stabilising one for u^2 = (s sigma)^2 + (sigma q)^2
(Bartlett, Biometrics 3 (1947) 39, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

_ROOT_HALF = math.sqrt(0.5)


def bands(
    ratio: float, limits: Sequence[float], sigma: float, resolution: float
) -> tuple[float, ...]:
    """P(true ratio in each band): (len(limits) + 1,), not negative, sums to 1.

    `limits` rise; where two have changed places the band between them is empty. `sigma` > 0:
    relative, `resolution` > 0: near nothing, as a ratio; both standard deviations.
    """
    s = resolution / sigma
    at = math.asinh(ratio / s)
    edges = [-math.inf]
    for limit in limits:
        edges.append(max((math.asinh(limit / s) - at) / sigma, edges[-1]))
    edges.append(math.inf)
    return tuple(_normal_between(low, high) for low, high in pairwise(edges))


def _normal_between(low: float, high: float) -> float:
    """P(low < z < high) of a standard normal, exact also far out on either side."""
    if low > 0:
        return (math.erfc(low * _ROOT_HALF) - math.erfc(high * _ROOT_HALF)) / 2
    if high < 0:
        return (math.erfc(-high * _ROOT_HALF) - math.erfc(-low * _ROOT_HALF)) / 2
    return (math.erf(high * _ROOT_HALF) - math.erf(low * _ROOT_HALF)) / 2


def scaled(values: Sequence[float]) -> tuple[float, ...]:
    """The same likelihood with its largest value 1."""
    top = max(values)
    return tuple(value / top for value in values)
