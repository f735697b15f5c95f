"""What it costs to end the visit from here: a bound from above, one from below, and a guess.

`outlook` asks for no further check: the best of finishing, passing the case on, and a greedy
sequence of repairs, each followed by a proof; an upper bound. `if_known` is what ending would cost
if the cause were known; a lower bound. `estimate` lies between: the cost with the cause known, and
the information that is missing at the price per bit of the best check at hand and the way to it,
never above the upper bound. All hold for many weighted beliefs at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Repairs in a row that the greedy sequence looks at.
STEPS = 4


@dataclass(frozen=True, slots=True)
class Legs:
    """(beliefs, repairs) each: cost of a repair from a setup, then of a proof, or of closing up."""

    repair: Array
    proof: Array
    close: Array


@dataclass(frozen=True, slots=True)
class Ends:
    """Prices of the ways to end a visit, in the model's currency.

    `mends`: (repairs, rows), the chance that the repair makes the unit of that row work.
    `next`: the legs of repairs after a proof that failed, one row. `passes_if_works`,
    `passes_if_not`: how the proof errs; `second_visit`: price of leaving a unit that does not work;
    `escalation`: price of passing the case on.
    """

    works: NDArray[np.bool_]
    mends: Array
    next: Legs
    passes_if_works: float
    passes_if_not: float
    second_visit: float
    escalation: float


def outlook(ends: Ends, weights: Array, first: Legs, close: Array) -> Array:
    """Least expected cost to end the visit for each of the beliefs: shape (beliefs,).

    `weights`: (beliefs, rows), not normalised: the result is weighted by each belief's total.
    `first`: legs from the setup of each belief. `close`: (beliefs,), cost of bringing the unit back
    to service from there.
    """
    left = weights
    total = left.sum(axis=1)
    paid = np.zeros_like(total)
    failing = total - left @ ends.works
    best = total * close + _stop(ends, failing, total)
    used = np.zeros((len(total), len(ends.mends)), dtype=bool)
    rows = np.arange(len(total))
    legs = first
    for _ in range(min(STEPS, len(ends.mends))):
        gain = left @ ends.mends.T
        rate = np.where(used, -np.inf, gain / (legs.repair + legs.proof))
        choice = (rows, rate.argmax(axis=1))
        used[choice] = True
        mended = ends.mends[choice[1]]
        fixed = gain[choice]
        paid = paid + total * legs.repair[choice]
        best = np.minimum(
            best, paid + total * legs.close[choice] + (total - fixed) * ends.second_visit
        )
        missed = (total - fixed) * ends.passes_if_not
        paid = paid + total * legs.proof[choice] + missed * ends.second_visit
        left = left * (
            mended * (1.0 - ends.passes_if_works) + (1.0 - mended) * (1.0 - ends.passes_if_not)
        )
        total = left.sum(axis=1)
        best = np.minimum(best, paid + _stop(ends, total, total))
        legs = Legs(*(np.broadcast_to(item, used.shape) for item in _parts(ends.next)))
    result: Array = best
    return result


def _parts(legs: Legs) -> tuple[Array, Array, Array]:
    return legs.repair, legs.proof, legs.close


def _stop(ends: Ends, failing: Array, total: Array) -> Array:
    """Price of stopping: a second visit for the units that fail, or passing all cases on."""
    stop: Array = np.minimum(failing * ends.second_visit, total * ends.escalation)
    return stop


def if_known(ends: Ends) -> Array:
    """(rows,): the cost to end the visit in a row whose cause is known.

    The cheapest of one repair with its proof, finishing, and passing the case on; a repair that
    fails ends in the cheaper way to stop.
    """
    stop = min(ends.second_visit, ends.escalation)
    tried = (ends.next.repair + ends.next.proof)[0][:, None] + (1.0 - ends.mends) * stop
    best: Array = np.minimum(tried.min(axis=0, initial=np.inf), stop)
    return np.where(ends.works, 0.0, best)


def missing_bits(weights: Array, classes: NDArray[np.intp]) -> Array:
    """(beliefs,): entropy in bits of the class of a row, times the belief's total weight.

    `weights`: (beliefs, rows); `classes`: (rows,), from 0. Source: Shannon 1948.
    """
    member = np.zeros((weights.shape[1], int(classes.max()) + 1))
    member[np.arange(len(classes)), classes] = 1.0
    table = weights @ member
    total = table.sum(axis=1, keepdims=True)
    parts = np.zeros_like(table)
    here = table > 0.0
    parts[here] = (table * (np.log2(np.where(total > 0, total, 1.0)) - _log2(table)))[here]
    bits: Array = parts.sum(axis=1)
    return bits


def estimate(
    ends: Ends,
    upper: Array,
    weights: Array,
    close: Array,
    reach: Array,
    missing: Array,
    bit_price: float,
) -> Array:
    """(beliefs,): expected cost to end the visit when more checks may be made.

    `upper`: of `outlook`; `close`: cost of bringing a unit that works back to service; `reach`:
    cost of the way to where bits are cheapest; `missing`: of `missing_bits`, all (beliefs,).
    `bit_price`: money per bit.
    """
    lower = weights @ if_known(ends) + (weights @ ends.works) * close + weights.sum(axis=1) * reach
    guess: Array = np.minimum(upper, lower + bit_price * missing)
    return guess


def _log2(table: Array) -> Array:
    logs: Array = np.log2(np.where(table > 0.0, table, 1.0))
    return logs
