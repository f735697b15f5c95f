"""Whether stated probabilities come true: reliability without bins, and a table of bins beside it.

The curve is the isotonic regression of what was found on what was stated. It parts the mean Brier
score into miscalibration - discrimination + uncertainty: what is lost by stating wrong numbers,
what is won by telling cases apart, and what there is to be told. Every fault of every case counts
as one statement.
Source: Dimitriadis, Gneiting & Jordan 2021 ("CORP"), from memory.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from brinebayes.network.local import Floats
from brinebayes.record import record
from brinebayes.scoring.ranking import Truth
from brinebayes.scoring.resampling import COVERS, Figure, Singles, intervals

#: Statements that agree to so many digits are added up, so that memory does not grow with the
#: cases; what is below the last decade counts as one cell.
DIGITS, DECADES = 3, 6
#: Resamples that are used of those drawn.
RESAMPLES = 300
#: Seed of the draws of `by_chance`.
SEED = 7
#: Edges of the table of bins.
EDGES = (0.0, 0.01, 0.03, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 1.0)
#: Where the band of the curve is told.
GRID = tuple(round(0.02 * k, 2) for k in range(51))

_PER_DECADE = 9 * 10 ** (DIGITS - 1)
CELLS = 2 + DECADES * _PER_DECADE


@record
class Decomposition:
    """Mean Brier score of a statement = miscalibration - discrimination + uncertainty."""

    brier: float
    miscalibration: float
    discrimination: float
    uncertainty: float


@record
class Bin:
    """Statements between two edges: how many, their mean, and the part that came true."""

    low: float
    high: float
    statements: int
    stated: float
    found: Figure


@record
class Calibration:
    """Reliability of one set of statements. `curve`: (stated, found) at the corners of the isotonic
    curve; `band`: its intervals at `GRID`, None beyond what was stated. `by_chance`: the
    miscalibration that a model whose every statement is right stays below in 19 of 20 such records.
    """

    statements: int
    brier: Figure
    miscalibration: Figure
    by_chance: float
    discrimination: Figure
    uncertainty: Figure
    curve: tuple[tuple[float, float], ...]
    band: tuple[Figure | None, ...]
    bins: tuple[Bin, ...]


def isotonic(found: Floats, weights: Floats) -> Floats:
    """The best rising fit to `found`, which stands in the order of what was stated, each stated
    value once."""
    from scipy.optimize import isotonic_regression

    fitted: Floats = isotonic_regression(found, weights=weights).x
    return fitted


def decomposition(stated: Floats, found: Floats, weights: Floats) -> tuple[Decomposition, Floats]:
    """The parts of the Brier score, and the isotonic curve at each stated value.

    `stated`: (values,) rising, each once; `found`: (values,) the part that came true;
    `weights`: (values,) statements, above 0.
    """
    total = weights.sum()
    fitted = isotonic(found, weights)
    # Of a statement p with found part y the mean of (p - outcome)^2 is p^2 - 2 p y + y.
    brier = float(weights @ (stated**2 - 2.0 * stated * found + found) / total)
    best = float(weights @ (fitted**2 - 2.0 * fitted * found + found) / total)
    base = float(weights @ found / total)
    uncertainty = base * (1.0 - base)
    return Decomposition(brier, brier - best, uncertainty - best, uncertainty), fitted


def by_chance(stated: Floats, count: NDArray[np.int64]) -> float:
    """The miscalibration that statements reach in one of 20 records although every one is right.

    `stated`: (values,), `count`: (values,) statements; each is taken to come true by itself.
    """
    draw = np.random.Generator(np.random.PCG64(SEED))
    weights = count.astype(np.float64)
    drawn = []
    for _ in range(RESAMPLES):
        hits = draw.binomial(count, np.clip(stated, 0.0, 1.0))
        drawn.append(decomposition(stated, hits / weights, weights)[0].miscalibration)
    return float(np.quantile(drawn, COVERS))


def _reflected(figure: Figure) -> Figure:
    """The interval mirrored at the value: a curve fitted to a resample follows it too closely, so
    that both parts come out too large there, and what they are too large by is taken off."""
    low, high = 2.0 * figure.value - figure.high, 2.0 * figure.value - figure.low
    return Figure(figure.value, max(low, 0.0), max(high, 0.0))


class Statements:
    """All statements so far, by what was stated; for the data and for each resample."""

    def __init__(self, resamples: int = RESAMPLES) -> None:
        self._resamples = resamples
        self._stated = np.zeros(CELLS)
        self._count = np.zeros((1 + resamples, CELLS), dtype=np.float32)
        self._found = np.zeros((1 + resamples, CELLS), dtype=np.float32)
        self._exact = np.zeros(CELLS, dtype=np.int64)

    def add(self, faults: Floats, found: Truth, weights: Singles) -> None:
        """`faults`, `found`: (cases, faults); `weights`: (cases, resamples or more)."""
        where = cells(faults)
        flat = where.ravel()
        self._stated += np.bincount(flat, faults.ravel(), CELLS)
        self._exact += np.bincount(flat, minlength=CELLS)
        case, fault = np.nonzero(found)
        hit = where[case, fault]
        for row in range(1 + self._resamples):
            drawn = weights[:, row]
            self._count[row] += np.bincount(flat, drawn.repeat(faults.shape[1]), CELLS)
            self._found[row] += np.bincount(hit, drawn[case], CELLS)

    def calibration(self) -> Calibration:
        """Reliability of all that was added; there must be something."""
        used = np.flatnonzero(self._exact)
        stated = self._stated[used] / self._exact[used]
        parts, curves = [], []
        curve: Floats = np.zeros(0)
        for row in range(1 + self._resamples):
            count, hits = self._count[row, used], self._found[row, used]
            kept = count > 0.0
            if not kept.any():
                continue
            weights = count[kept].astype(np.float64)
            one, fitted = decomposition(stated[kept], hits[kept] / weights, weights)
            parts.append([one.brier, one.miscalibration, one.discrimination, one.uncertainty])
            curves.append(_at(GRID, stated[kept], fitted))
            if row == 0:
                curve = fitted
        brier, miscalibration, discrimination, uncertainty = intervals(np.array(parts))
        return Calibration(
            int(self._exact.sum()),
            brier,
            _reflected(miscalibration),
            by_chance(stated, self._exact[used]),
            _reflected(discrimination),
            uncertainty,
            curve=_corners(stated, curve),
            band=_band(np.array(curves), float(stated[0]), float(stated[-1])),
            bins=self._bins(),
        )

    def _bins(self) -> tuple[Bin, ...]:
        middle = np.divide(
            self._stated, self._exact, out=np.full(CELLS, -1.0), where=self._exact > 0
        )
        found = []
        for low, high in pairwise(EDGES):
            last = high == EDGES[-1]
            inside = (middle >= low) & ((middle < high) | (last & (middle <= high)))
            statements = int(self._exact[inside].sum())
            if not statements:
                continue
            with np.errstate(invalid="ignore"):
                parts = self._found[:, inside].sum(axis=1) / self._count[:, inside].sum(axis=1)
            (part,) = intervals(parts[:, None].astype(np.float64))
            stated = float(self._stated[inside].sum() / statements)
            found.append(Bin(low, high, statements, stated, part))
        return tuple(found)


def cells(stated: Floats) -> NDArray[np.intp]:
    """The cell of each probability, rising with it: its first digits and its decade."""
    small = 10.0**-DECADES
    value = np.maximum(stated, small)
    decade = np.minimum(np.floor(np.log10(value) + 1e-12), -1.0)
    digits = np.floor(value / 10.0**decade * 10.0 ** (DIGITS - 1) + 1e-9)
    place = (decade + DECADES) * _PER_DECADE + digits - 10.0 ** (DIGITS - 1) + 1.0
    place = np.where(stated >= 1.0, CELLS - 1.0, place)
    found: NDArray[np.intp] = np.where(stated < small, 0.0, place).astype(np.intp)
    return found


def _at(grid: tuple[float, ...], stated: Floats, fitted: Floats) -> Floats:
    """The curve between its values, straight from one to the next."""
    at: Floats = np.interp(grid, stated, fitted)
    return at


def _corners(stated: Floats, fitted: Floats) -> tuple[tuple[float, float], ...]:
    """The curve by the first and the last point of every level."""
    new = np.flatnonzero(np.diff(fitted) > 0.0)
    ends = np.unique(np.concatenate([[0], new, new + 1, [len(fitted) - 1]]))
    return tuple((float(stated[k]), float(fitted[k])) for k in ends)


def _band(curves: Floats, low: float, high: float) -> tuple[Figure | None, ...]:
    found = intervals(curves)
    step = GRID[1] - GRID[0]
    return tuple(
        one if low - step <= at <= high + step else None
        for at, one in zip(GRID, found, strict=True)
    )
