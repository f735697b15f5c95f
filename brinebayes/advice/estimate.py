"""What doubt about the unit costs: the missing bits, at the price of the best check at hand.

An estimate of what follows a belief is the cost when the cause is known, and the price of the bits
that are missing about what to repair. The price is one for the whole search. So what is gained by
looking further, or by a check that tells nothing, is never more than what is learnt is worth, and
acts that were followed to different depths can be compared.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice.compared import compared
from brinebayes.record import record

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

#: A bit costs so much more than the best check at hand asks for it: the best one is used up first,
#: and much of what it tells the others tell too. Judged; on simulated visits 1 to 2 ask on and on.
BIT_MARKUP = 3.5
#: A check at less than this part of the best one's bits per money is not worth it. Judged.
WORTH = 0.5
#: A check that tells less than this does not set the price. Judged.
LEAST_BITS = 1e-3
#: What a check tells of this share of the belief and less is rounding.
ROUNDING = 1e-12
#: Keeps a free check from telling endlessly much for its price.
TINY = 1e-6


@record
class Rate:
    """Where bits are cheapest at the start: the check, or -1, and money per bit without its way."""

    check: int
    price: float


def rate(checks: Sequence[int], tells: Floats, own: Floats) -> Rate:
    """The rate of the best check at hand, without its way, which several checks there share.

    `tells`: (checks, 2), see the function; `own`: price of every check of the model.
    """
    rates = [
        (float(own[check] / bits), check)
        for check, bits in zip(checks, tells[:, 0].tolist(), strict=True)
        if bits > LEAST_BITS
    ]
    if not rates:
        return Rate(-1, 0.0)
    price, check = min(rates, key=lambda one: (compared(one[0]), one[1]))
    return Rate(check, price)


def best(tells: Floats, prices: Floats, width: int) -> list[int]:
    """Places of the checks that tell most for their price: by bits, half as many by sureness."""
    rates = compared(tells / (prices + TINY)[:, None])
    by_bits = (-rates[:, 0]).argsort(kind="stable")[:width]
    by_sureness = (-rates[:, 1]).argsort(kind="stable")[: width // 2]
    return sorted({*by_bits.tolist(), *by_sureness.tolist()})


def tells(turns: Indices, told: Floats, parts: Sequence[slice]) -> Floats:
    """(checks, 2): the bits that each tells about what to repair, and by how much it makes the
    likeliest such answer likelier.

    `told`: (outcomes, futures), P(outcome and future), `parts` the rows of each check; `turns`:
    where the futures begin that call for something else.
    """
    if not parts:
        return np.zeros((0, 2))
    calls = np.add.reduceat(told, turns, axis=1)
    left, surest = missing(calls), calls.max(axis=1)
    # Every check speaks of the same belief before it.
    before = calls[parts[0]].sum(axis=0, keepdims=True)
    bits, sure = float(missing(before)[0]), float(before.max())
    told_of = np.array([(bits - left[part].sum(), surest[part].sum() - sure) for part in parts])
    return np.where(told_of > ROUNDING * before.sum(), told_of, 0.0)


def missing(table: Floats) -> Floats:
    """(n,): entropy in bits of each row of weights, times its total. Source: Shannon 1948."""
    total = table.sum(axis=1)
    bits: Floats = weighed_log(total) - weighed_log(table).sum(axis=1)
    return np.maximum(bits, 0.0)


def weighed_log(x: Floats) -> Floats:
    """x log2 x, 0 at 0."""
    result: Floats = x * np.log2(np.where(x > 0.0, x, 1.0))
    return result
