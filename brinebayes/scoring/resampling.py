"""Intervals by resampling, in memory that does not grow with the number of cases.

A resample gives every unit of resampling (a case, a site or a technician) the number of times that
it was drawn, a Poisson number with mean one. It comes from the unit's own name, so that cases can
be scored one after the other, the order of a file changes nothing, and two models are compared on
the same resamples. For more than a few units it is the usual bootstrap.
Sources: Efron 1979; Poisson frequencies Hanley & MacGibbon 2006 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from hashlib import blake2b

import numpy as np
from numpy.typing import NDArray

from brinebayes.network.local import Floats
from brinebayes.record import record

#: Weights are small whole numbers.
Singles = NDArray[np.float32]

#: Resamples, and what an interval covers.
RESAMPLES = 1000
COVERS = 0.95
#: With fewer units of resampling an interval is not to be relied on.
FEW = 10


@record
class Figure:
    """A figure with the interval that holds 95 %."""

    value: float
    low: float
    high: float


def weights(units: Sequence[str], resamples: int = RESAMPLES) -> Singles:
    """(units, 1 + resamples): how often each counts, first in the data as they are: once."""
    found = np.ones((len(units), 1 + resamples), dtype=np.float32)
    for row, unit in enumerate(units):
        found[row, 1:] = _drawn(unit, resamples)
    return found


@lru_cache(maxsize=2048)
def _drawn(unit: str, resamples: int) -> Singles:
    seed = int.from_bytes(blake2b(unit.encode(), digest_size=8).digest(), "big")
    drawn = np.random.Generator(np.random.PCG64(seed)).poisson(1.0, resamples)
    return drawn.astype(np.float32)


class Sums:
    """Weighted sums of some figures over cases, one for the data and one for each resample.

    `cases`: how many were added; `units`: how many different units among them, counted up to `FEW`.
    """

    def __init__(self, figures: int, resamples: int = RESAMPLES) -> None:
        self.cases = 0
        self._units: set[str] = set()
        self._sums = np.zeros((1 + resamples, figures))
        self._weights = np.zeros(1 + resamples)

    def add(self, values: Floats, weights: Singles, units: Sequence[str]) -> None:
        """`values`: (cases, figures), `weights`: (cases, 1 + resamples)."""
        self.cases += len(values)
        self._sums += weights.T @ values
        self._weights += weights.sum(axis=0)
        if self.few:
            self._units.update(units)

    @property
    def few(self) -> bool:
        """Whether there are too few units for an interval to be relied on."""
        return len(self._units) < FEW

    @property
    def means(self) -> Floats:
        """(1 + resamples, figures): the data first; nan where a resample drew no case."""
        with np.errstate(invalid="ignore"):
            means: Floats = self._sums / self._weights[:, None]
        return means

    def figures(self) -> tuple[Figure, ...]:
        """The means with their intervals."""
        return intervals(self.means)


def intervals(means: Floats) -> tuple[Figure, ...]:
    """Percentile intervals from (1 + resamples, figures); the first row is the value itself."""
    tails = ((1.0 - COVERS) / 2.0, (1.0 + COVERS) / 2.0)
    whole = ~np.isnan(means[1:]).any(axis=1)
    drawn = means[1:][whole]
    if not len(drawn):
        return tuple(Figure(float(v), float("nan"), float("nan")) for v in means[0])
    low, high = np.quantile(drawn, tails, axis=0)
    rows = zip(means[0].tolist(), low.tolist(), high.tolist(), strict=True)
    return tuple(Figure(*row) for row in rows)
