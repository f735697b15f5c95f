"""Which parts to carry: the chance that one is needed, against what it costs to take it along.

A part that is needed and not in the van costs a trip to the counter, or a second visit where that
is cheaper. It is taken along where this, times the chance that it is needed, is more than its
carrying costs. Whether it is in the van already does not change that, only what there is to do.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice.prepare.remedies import Remedy, uses
from brinebayes.knowledge.schema import Model

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Part:
    """One part: chance that a repair of this visit needs it, chance that it is in the van.

    `without`: price of not having it when it is needed; `carrying`: price of taking it along.
    """

    part: str
    needed: float
    in_van: float
    without: float
    carrying: float

    @property
    def carry(self) -> bool:
        """Whether it is worth taking along."""
        return self.needed * self.without > self.carrying

    @property
    def saves(self) -> float:
        """Money that taking it along is worth, if it is not in the van anyway."""
        return self.needed * self.without - self.carrying


def parts(model: Model, plans: Mapping[str, Remedy], present: Bools, weights: Floats) -> list[Part]:
    """Every part, the one that is most worth carrying first.

    `present`: (rows, faults), of `remedies.needed`; `weights`: (rows,), sum to 1.
    """
    spared = np.ones((len(present), len(model.parts)))
    for column, share in enumerate(uses(model, plans)):
        spared[present[:, column]] *= 1.0 - share
    needed = weights @ (1.0 - spared)
    money = model.about.money
    without = min(money.fetch_part.value, money.second_visit.value)
    found = [
        Part(
            name,
            float(chance),
            part.in_van.value,
            without,
            part.carrying.value if part.carrying is not None else 0.0,
        )
        for (name, part), chance in zip(model.parts.items(), needed, strict=True)
    ]
    return sorted(found, key=lambda part: (-round(part.saves, 9), part.part))
