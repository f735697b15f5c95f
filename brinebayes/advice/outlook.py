"""What it costs to end the visit from here, without any further check.

The bound of DESIGN section 6 item 12: the best of finishing, passing the case on, and a greedy
sequence of repairs, each followed by a proof. It holds for many weighted beliefs at once, so that
the worth of a check is one call over its outcomes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Repairs in a row that the greedy sequence looks at.
STEPS = 4


@dataclass(frozen=True, slots=True)
class Ends:
    """Prices of the ways to end a visit, in the model's currency.

    `mends`: (repairs, rows), the chance that the repair makes the unit of that row work.
    `next_costs`: (repairs,), direct cost of a repair after a proof that failed.
    `proof_cost`, `passes_if_works`, `passes_if_not`: the proof; `second_visit`: price of leaving a
    unit that does not work; `escalation`: price of passing the case on.
    """

    works: NDArray[np.bool_]
    mends: Array
    next_costs: Array
    proof_cost: float
    passes_if_works: float
    passes_if_not: float
    second_visit: float
    escalation: float


def outlook(
    ends: Ends, weights: Array, first_costs: Array, close_costs: Array, forced: int | None = None
) -> Array:
    """Least expected cost to end the visit for each of the beliefs: shape (beliefs,).

    `weights`: (beliefs, rows), not normalised: the result is weighted by each belief's total.
    `first_costs`: (beliefs, repairs), direct cost of each repair from the setup of that belief.
    `close_costs`: (beliefs,), cost of bringing the unit back to service from there.
    `forced`: the repair that must come first; without it stopping at once is allowed too.
    """
    left = weights
    total = left.sum(axis=1)
    paid = np.zeros_like(total)
    if forced is None:
        failing = total - left @ ends.works
        best = total * close_costs + _stop(ends, failing, total)
    else:
        best = np.full_like(total, np.inf)
    used = np.zeros((len(total), len(ends.next_costs)), dtype=bool)
    rows = np.arange(len(total))
    costs = first_costs
    for step in range(min(STEPS, len(ends.next_costs))):
        gain = left @ ends.mends.T
        rate = np.where(used, -np.inf, gain / (costs + ends.proof_cost))
        choice = rate.argmax(axis=1) if forced is None or step else np.full(len(total), forced)
        used[rows, choice] = True
        mended = ends.mends[choice]
        fixed = gain[rows, choice]
        paid = paid + total * costs[rows, choice]
        best = np.minimum(best, paid + (total - fixed) * ends.second_visit)
        missed = (total - fixed) * ends.passes_if_not
        paid = paid + total * ends.proof_cost + missed * ends.second_visit
        left = left * (
            mended * (1.0 - ends.passes_if_works) + (1.0 - mended) * (1.0 - ends.passes_if_not)
        )
        total = left.sum(axis=1)
        best = np.minimum(best, paid + _stop(ends, total, total))
        costs = np.broadcast_to(ends.next_costs, used.shape)
    result: Array = best
    return result


def _stop(ends: Ends, failing: Array, total: Array) -> Array:
    """Price of stopping: a second visit for the units that fail, or passing all cases on."""
    stop: Array = np.minimum(failing * ends.second_visit, total * ends.escalation)
    return stop
