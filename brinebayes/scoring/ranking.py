"""How well a ranking of the faults met what was found.

The rule for cases with several faults: every case counts once, and each of its k confirmed faults
with 1/k. The place of a confirmed fault is counted among the faults that were not there: another
confirmed fault above it does not push it down. With one fault these are the usual figures. Ties
count against the ranking. A fault that was not confirmed counts as absent.

Sources: reciprocal rank Voorhees 1999; logarithmic score Good 1952; Brier 1950 (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.network.local import Floats

Truth = NDArray[np.bool_]

#: Figure -> whether more of it is better; None: it is only looked at beside another.
FIGURES: Mapping[str, bool | None] = ReadOnly(
    {
        "top_1": True,
        "top_3": True,
        "reciprocal_rank": True,
        "log_score": False,
        "brier": False,
        "leader_chance": None,
        "leader_found": True,
    }
)

#: What a probability counts as at least in a log score, in favour of either side: what is held
#: impossible and was found costs 13.8 nat and not everything.
LEAST = 1e-6


def places(faults: Floats, found: Truth) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    """Case, fault and place (1: first) of every confirmed fault.

    `faults`: (cases, faults) probabilities; `found`: the same shape.
    """
    case, fault = np.nonzero(found)
    mine = faults[case, fault][:, None]
    above = (faults[case] >= mine) & ~found[case]
    return case, fault, 1.0 + above.sum(axis=1)


def by_fault(faults: Floats, found: Truth) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    """Case, fault and (confirmed faults, figures) of each confirmed fault by itself.

    Log score and Brier of that fault alone; the figures of the leader are those of its case.
    """
    case, fault, place = places(faults, found)
    mine = faults[case, fault]
    leader = faults.argmax(axis=1)
    rows = np.arange(len(faults))
    values = np.stack(
        [
            place <= 1.0,
            place <= 3.0,
            1.0 / place,
            -np.log(np.maximum(mine, LEAST)),
            (1.0 - mine) ** 2,
            faults[rows, leader][case],
            found[rows, leader][case],
        ],
        axis=1,
    )
    return case, fault, values


def by_case(faults: Floats, found: Truth) -> Floats:
    """(cases, figures) of cases with at least one confirmed fault each, in the order of `FIGURES`.

    Log score (nat) and Brier are summed over all faults of the model, present and absent ones.
    """
    case, _, values = by_fault(faults, found)
    count = found.sum(axis=1)
    out = np.zeros((len(faults), len(FIGURES)))
    np.add.at(out, case, values / count[case, None])
    right = np.where(found, faults, 1.0 - faults)
    out[:, 3] = -np.log(np.maximum(right, LEAST)).sum(axis=1)
    out[:, 4] = ((1.0 - right) ** 2).sum(axis=1)
    return out
