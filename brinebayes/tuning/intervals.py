"""How sure a learned number is, and how many complete cases that is worth.

The information in the cases is the sum of the squared slopes of their log probabilities, and the
slope of a case is that of its complete record, as expected given what it tells (Fisher's identity;
Louis 1982). What was not seen therefore does not count, and numbers that the record cannot tell
apart share what it says. The prior adds its own information. For a probability the result is put
as a beta distribution, whose weight is a number of complete cases.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from brinebayes.network.local import Floats
from brinebayes.tuning import pooling
from brinebayes.tuning.along import quantiles
from brinebayes.tuning.em import Fit
from brinebayes.tuning.engine import Engine, engine
from brinebayes.tuning.numbers import Entry, Path
from brinebayes.tuning.slopes import Slot, whole

#: The part of an interval that is meant to hold the number.
LEVEL = 0.95

#: Spread of the minutes of one job, as a part of their mean, where no case says: judged.
UNEVEN = 0.5

#: An interval of this part of another's width is narrower than it.
NARROWER = 0.9


@dataclass(frozen=True)
class Known:
    """What is known of one value: where it lies with `LEVEL` probability, and the weight of it as
    an equivalent sample size (of a factor: in calls with the fault, in two groups of one size).
    `factor`: it multiplies odds and is no probability."""

    low: float
    high: float
    weight: float
    factor: bool = False


def intervals(fit: Fit) -> Mapping[Path, tuple[Known, ...]]:
    """What is known of each value of every entry that the cases bear on."""
    now = engine(fit.model, fit.plan, fit.values)
    covariance = np.asarray(np.linalg.pinv(fit.information, hermitian=True), float)
    return _read_off(now, fit, fit.slots, covariance)


def beta_interval(mean: float, weight: float) -> tuple[float, float]:
    """Quantiles of the beta distribution with this mean and weight that hold `LEVEL` between."""
    from scipy.special import betaincinv

    if not 0.0 < mean < 1.0:
        return mean, mean
    a, b = weight * mean, weight * (1.0 - mean)
    tail = 0.5 * (1.0 - LEVEL)
    return float(betaincinv(a, b, tail)), float(betaincinv(a, b, 1.0 - tail))


def before(entry: Entry) -> tuple[Known, ...]:
    """What the model held of each value of an entry before any case."""
    if entry.group == "minutes":
        reach = 1.96 * UNEVEN * entry.value[0] / entry.weight**0.5
        low, high = max(entry.value[0] - reach, 0.0), entry.value[0] + reach
        return (Known(low, high, entry.weight, True),)
    if entry.path[-2:-1] == ("factors",):
        spread = pooling.RATIO / entry.weight
        return (_of_factor(entry.value[0], spread, entry.weight),)
    weight = entry.weight
    if entry.path[0] == "faults":
        weight = pooling.calls_behind(entry.value[0], weight)
    return tuple(Known(*beta_interval(p, weight), weight) for p in entry.value)


def narrower(now: Known, then: Known) -> bool:
    """Whether an interval is narrower than another by a tenth at least, both put around the same
    value: widths go with the root of the weight, and a value that has moved must not decide."""
    return NARROWER**2 * now.weight > then.weight


# --- what follows ------------------------------------------------------------------------------


def _read_off(
    now: Engine, fit: Fit, slots: Sequence[Slot], covariance: Floats
) -> dict[Path, tuple[Known, ...]]:
    rows = {slot: row for row, slot in enumerate(slots)}
    found: dict[Path, tuple[Known, ...]] = {}
    if fit.plan.of("shares"):
        found.update(_of_shares(now, rows, covariance))
    for entry in fit.plan.entries:
        if entry.key not in fit.totals.counts or not fit.totals.counts[entry.key].any():
            continue
        p = whole(fit.values[entry.key])
        mine = [(k, rows[entry.key, k]) for k in range(len(p)) if (entry.key, k) in rows]
        known = []
        for k in range(len(p) if entry.states else 1):
            slope = np.zeros(len(rows))
            for j, row in mine:
                slope[row] = p[k] * ((k == j) - p[j])
            variance = float(slope @ covariance @ slope)
            # The log odds of the commonest state move against those of all others.
            way = np.zeros(len(rows))
            way[[row for j, row in mine if j == k] or [row for _, row in mine]] = 1.0
            alone = float(way @ fit.information @ way)
            spread = variance / max(p[k] * (1.0 - p[k]), 1e-300) ** 2
            known.append(_along(fit, entry, k, _known(p[k], variance), (spread * alone) ** 0.5))
        found[entry.key] = tuple(known)
    return found


def _of_shares(
    now: Engine, rows: Mapping[Slot, int], covariance: Floats
) -> dict[Path, tuple[Known, ...]]:
    """Shares of calls follow from the odds of all faults: share = q / P(call)."""
    q = pooling.averages(now.odds)
    none = float(np.prod(1.0 - q))
    without = now.odds.without
    call = 1.0 - (1.0 - without) * none
    of_q: list[Floats] = []
    for fault, one in zip(now.model.faults, now.odds.faults, strict=True):
        slope = np.zeros(len(rows))
        row = rows.get((("faults", fault, "share"), 0))
        if row is not None:
            grid = one.grid()
            curve = grid * (1.0 - grid)
            slope[row] = one.mixture[0] @ curve
            for k, key in enumerate(one.factors):
                slope[rows[key, 0]] = one.mixture[0] @ (curve * one.acts[:, k])
        of_q.append(slope)
    of_without = np.zeros(len(rows))
    sound = rows.get((("about", "calls_without_fault"), 0))
    if sound is not None:
        of_without[sound] = without * (1.0 - without)
    log_none = -sum(slope / (1.0 - p) for slope, p in zip(of_q, q, strict=True))
    of_call = none * of_without - (1.0 - without) * none * log_none
    found: dict[Path, tuple[Known, ...]] = {}
    for place, fault in enumerate(now.model.faults):
        share = float(q[place] / call)
        slope = of_q[place] / call - share * of_call / call
        found["faults", fault, "share"] = (_known(share, float(slope @ covariance @ slope)),)
    share = without * none / call
    slope = (none * of_without + without * none * log_none) / call - share * of_call / call
    found["about", "calls_without_fault"] = (_known(share, float(slope @ covariance @ slope)),)
    for one in now.odds.faults:
        for key, value in zip(one.factors, one.log_factors, strict=True):
            if (key, 0) in rows:
                spread = float(covariance[rows[key, 0], rows[key, 0]])
                weight = pooling.RATIO / spread if spread > 0.0 else np.inf
                found[key] = (_of_factor(float(np.exp(value)), spread, weight),)
    return found


def _along(fit: Fit, entry: Entry, k: int, known: Known, stretch: float) -> Known:
    """The same with the ends that the cases give along this number; `stretch`: how much wider it
    is spread with all other numbers unknown than with all of them known."""
    if not np.isfinite(known.weight):
        return known
    p, prior = whole(fit.values[entry.key])[k], float(whole(entry.value)[k])
    weights = entry.weight * prior, entry.weight * (1.0 - prior)
    low, high = quantiles(p, fit.totals.along[entry.key][k], weights, stretch, LEVEL)
    return replace(known, low=low, high=high)


def _known(mean: float, variance: float) -> Known:
    if variance <= 0.0 or not 0.0 < mean < 1.0:
        return Known(mean, mean, np.inf)
    weight = mean * (1.0 - mean) / variance
    return Known(*beta_interval(mean, weight), weight)


def _of_factor(value: float, spread: float, weight: float) -> Known:
    from scipy.special import ndtri

    reach = float(ndtri(0.5 * (1.0 + LEVEL))) * spread**0.5
    return Known(value * float(np.exp(-reach)), value * float(np.exp(reach)), weight, True)
