"""The odds of the faults from expected counts, by kind of site, with partial pooling: the M step.

Odds hold for calls, and a call comes surely if any fault is present: the units about which nobody
called are missing from the record, all of them without a fault. With them put back (1/Z - 1 for
every call from a site with P(call) = Z) faults are independent, and each one's probability before
the call is a share of all units again (truncated data: Dempster, Laird & Rubin 1977, section 4.2).

A fault has one base for all sites and a factor for some kinds of site, each held back by its prior:
few cases from one kind of site leave its factor where it was and count for the base.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from brinebayes.knowledge.schema import Model
from brinebayes.network.local import Floats
from brinebayes.tuning.numbers import Path, number_at
from brinebayes.tuning.sites import FaultOdds, SiteOdds, site_odds

#: Variance of a log odds ratio that rests on n cases in two groups of one size: 4 / n.
RATIO = 4.0
#: A judged share is worth as many calls as bring the fault up this often, at least. A beta of six
#: calls around half a per cent would put nearly all of it at nought, and a hundred calls without
#: the fault would rule it out; who judged it rare did not mean that. A weight below it says that
#: hardly anything is held, and counts as it is. Judged, no source.
LEAST_TIMES = 1.0
ROUNDS = 30
#: Key of the share of calls without any fault.
SOUND: Path = ("about", "calls_without_fault")


@dataclass(frozen=True, eq=False)
class Prior:
    """What the model held before, as units with and without each fault.

    `present`, `absent`: (faults,) such units, calls and others together; `sound`, `silent`: calls
    without a fault, units that nobody called about. `spread`: per fault the variance of the
    logarithm of each factor.
    """

    odds: SiteOdds
    present: Floats
    absent: Floats
    sound: float
    silent: float
    spread: tuple[Floats, ...]

    def log_density(self, odds: SiteOdds) -> float:
        """Natural log of the prior, but for a constant."""
        q = averages(odds)
        found = float(_times_log(self.present, q) + _times_log(self.absent, 1.0 - q))
        found += float(_times_log(np.array([self.sound]), np.array([odds.without])))
        found += float(_times_log(np.array([self.silent]), np.array([1.0 - odds.without])))
        for now, before, spread in zip(odds.faults, self.odds.faults, self.spread, strict=True):
            found -= float((((now.log_factors - before.log_factors) ** 2) / (2.0 * spread)).sum())
        return found


@dataclass(frozen=True, eq=False)
class Presence:
    """Expected counts of the faults. Per fault and pattern of its site conditions: `present`, and
    `units`, those without a call put back; `calls`, and those of them without any fault."""

    present: tuple[Floats, ...]
    units: tuple[Floats, ...]
    calls: float
    sound: float
    silent: float


def prior(model: Model) -> Prior:
    """What a model holds of its faults, each share worth its `calls_behind`."""
    odds = site_odds(model)
    shares = np.array([fault.share.value for fault in model.faults.values()])
    weights = np.array(
        [calls_behind(one.share.value, one.share.weight) for one in model.faults.values()]
    )
    about = model.about.calls_without_fault
    return Prior(
        odds,
        weights * shares,
        weights * (1.0 / odds.call - shares),
        about.weight * about.value,
        about.weight * (1.0 / odds.call - 1.0),
        tuple(
            np.array([RATIO / max(number_at(model, key).weight, 1e-12) for key in one.factors])
            for one in odds.faults
        ),
    )


def calls_behind(share: float, weight: float) -> float:
    """How many calls the share of a fault is worth before any case, given its weight."""
    return max(weight, min(weight, LEAST_TIMES) / share) if share > 0.0 else weight


def pooled(
    model: Model, before: Prior, now: SiteOdds, counts: Presence, ahead: bool
) -> Mapping[Path, float]:
    """Shares, factors and the share of calls without a fault that fit the counts and the prior.

    `ahead`: also take the units without a call to follow the new odds at once, which saves many
    rounds; sure to be no step back only where all sites are alike.
    """
    units = counts.calls + counts.silent
    scale = _settled(before, counts) / units if ahead and units > 0.0 else 1.0
    log_odds, log_factors = [], []
    for place, one in enumerate(now.faults):
        base, factors = _one_fault(before, place, one, counts, scale)
        log_odds.append(base)
        log_factors.append(factors)
    silent = max(scale * units - counts.calls, 0.0)
    without = _share(before.sound + counts.sound, before.silent + silent)
    found = shares(model, now, log_odds, log_factors, without)
    return {key: value[0] for key, value in found.items()}


def shares(
    model: Model,
    odds: SiteOdds,
    log_odds: Sequence[float],
    log_factors: Sequence[Floats],
    without: float,
) -> Mapping[Path, tuple[float, ...]]:
    """Shares and factors as the model states them, from bases, factors and P(call | no fault)."""
    fitted = [
        one.grid(base, factors)
        for one, base, factors in zip(odds.faults, log_odds, log_factors, strict=True)
    ]
    q = np.array([one.mixture[0] @ p for one, p in zip(odds.faults, fitted, strict=True)])
    none = float(np.prod(1.0 - q))
    call = 1.0 - (1.0 - without) * none
    values: dict[Path, tuple[float, ...]] = {SOUND: (without * none / call,)}
    for place, (fault, one) in enumerate(zip(model.faults, odds.faults, strict=True)):
        values["faults", fault, "share"] = (float(q[place]) / call,)
        for key, value in zip(one.factors, log_factors[place], strict=True):
            values[key] = (float(np.exp(value)),)
    return values


def averages(odds: SiteOdds) -> Floats:
    """(faults,): probability before the call, averaged over all sites."""
    return np.array([one.mixture[0] @ one.grid() for one in odds.faults])


def _settled(before: Prior, counts: Presence) -> float:
    """Units, those without a call put back, that agree with the odds they lead to."""
    found = np.array([one.sum() for one in counts.present])
    units = counts.calls + counts.silent
    for _ in range(1000):
        q = (before.present + found) / (before.present + before.absent + units)
        without = _share(before.sound + counts.sound, before.silent + units - counts.calls)
        call = 1.0 - (1.0 - without) * float(np.prod(1.0 - q))
        last, units = units, counts.calls / call
        if abs(units - last) <= 1e-12 * units:
            break
    return units


def _one_fault(
    before: Prior, place: int, now: FaultOdds, counts: Presence, scale: float
) -> tuple[float, Floats]:
    """Base and factors of one fault: a logistic regression on the full kinds of site, by Newton's
    method with steps that never lose."""
    grid = now.grid()
    present = _spread_out(now.mixture, grid, counts.present[place])
    rest = np.maximum(scale * counts.units[place] - counts.present[place], 0.0)
    absent = _spread_out(now.mixture, 1.0 - grid, rest)
    share = now.mixture[:1]
    present = present + _spread_out(share, grid, before.present[place : place + 1])
    absent = absent + _spread_out(share, 1.0 - grid, before.absent[place : place + 1])
    open_ = now.possible
    total = present[open_].sum()
    if total <= 0.0:
        return -np.inf, now.log_factors
    if not now.factors:
        return log(total / absent[open_].sum()), now.log_factors
    aim = before.odds.faults[place].log_factors
    design = np.column_stack([np.ones(len(grid)), now.acts])[open_]
    yes, no = present[open_], absent[open_]
    hold = np.concatenate([[0.0], 1.0 / before.spread[place]])
    at = np.concatenate([[now.log_odds if np.isfinite(now.log_odds) else 0.0], now.log_factors])
    centre = np.concatenate([[0.0], aim])

    def worth(x: Floats) -> float:
        eta = design @ x
        gain = yes @ eta - (yes + no) @ np.logaddexp(0.0, eta)
        return float(gain - 0.5 * (hold * (x - centre) ** 2).sum())

    value = worth(at)
    for _ in range(ROUNDS):
        p = 1.0 / (1.0 + np.exp(-(design @ at)))
        slope = design.T @ (yes - (yes + no) * p) - hold * (at - centre)
        curve = (design.T * ((yes + no) * p * (1.0 - p))) @ design + np.diag(hold)
        step = np.linalg.lstsq(curve, slope, rcond=None)[0]
        size = 1.0
        while (new := worth(at + size * step)) < value and size > 1e-6:
            size *= 0.5
        if new < value:
            break
        at, gained, value = at + size * step, new - value, new
        if gained <= 1e-12 * (1.0 + abs(value)):
            break
    return float(at[0]), at[1:]


def _spread_out(mixture: Floats, grid: Floats, counts: Floats) -> Floats:
    """(grid,): counts of patterns handed to the full kinds of site that may stand behind them."""
    whole = mixture @ grid
    part = np.divide(counts, whole, out=np.zeros_like(whole), where=whole > 0.0)
    found: Floats = grid * (part @ mixture)
    return found


def _share(part: float, rest: float) -> float:
    return part / (part + rest) if part > 0.0 else 0.0


def _times_log(counts: Floats, p: Floats) -> float:
    kept = counts > 0.0
    if (p[kept] <= 0.0).any():
        return -np.inf
    return float(counts[kept] @ np.log(p[kept]))
