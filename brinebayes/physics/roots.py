"""One bracketing root finder for everything that has to be solved for.

A library solver would do as well, but importing one takes half a second, and these sums stand on
the way to every recommendation.
"""

from __future__ import annotations

from collections.abc import Callable


def crossing(f: Callable[[float], float], low: float, high: float, rel: float = 1e-12) -> float:
    """The x between `low` and `high` where the continuous `f` changes sign.

    Hybrid of bisection and inverse quadratic interpolation; the bracket is never left, so it
    works on stiff functions and those with a kink. `rel`: width of the last bracket as a part of
    the first. Raises `ValueError` if `f` has the same sign at both ends.
    Source: Chandrupatla, Advances in Engineering Software 28 (1997) 145.
    """
    a, b, fa, fb = high, low, f(high), f(low)
    if fa == 0 or fb == 0:
        return a if fa == 0 else b
    if (fa > 0) == (fb > 0):
        raise ValueError(f"no sign change between {low} and {high}: {fb} and {fa}")
    tolerance = rel * abs(high - low)
    step = 0.5
    while True:
        x = a + step * (b - a)
        fx = f(x)
        # Keep the root between a and b; c is the end that was dropped.
        c, fc = (a, fa) if (fx > 0) == (fa > 0) else (b, fb)
        if c == b:
            b, fb = a, fa
        a, fa = x, fx
        best = a if abs(fa) < abs(fb) else b
        edge = tolerance / abs(b - a)
        if edge > 0.5 or fa == 0:
            return best
        xi, phi = (a - b) / (c - b), (fa - fb) / (fc - fb)
        if phi**2 < xi and (1 - phi) ** 2 < 1 - xi:
            step = fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (
                fc - fb
            )
            step = min(max(step, edge), 1 - edge)
        else:
            step = 0.5
