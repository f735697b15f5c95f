"""Expectation and maximisation: the numbers that make the cases and the prior likeliest together.

Source: Dempster, Laird & Rubin 1977. Each round counts what is expected under the numbers of the
round before (`counts`) and takes (weight x prior + count) / (weight + counts) for every number; the
log probability of cases and prior together never falls.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.schema import Model
from brinebayes.network.local import Floats
from brinebayes.tuning import pooling
from brinebayes.tuning.chunk import Chunk
from brinebayes.tuning.counts import expect
from brinebayes.tuning.engine import Engine, Plan, engine, plan
from brinebayes.tuning.numbers import Entry, Path, entries, eyes, with_values
from brinebayes.tuning.pooling import Presence, Prior
from brinebayes.tuning.sites import SiteOdds

#: Rounds end when one gains less than this much log probability (nat).
GAIN = 1e-3
MOST_ROUNDS = 200

#: Cases, chunk after chunk, as often as they are asked for.
Cases = Callable[[], Iterator[Chunk]]


@dataclass(frozen=True, eq=False)
class Totals:
    """Expected counts over all cases. `cases`: their weights; `left_out`: of those that the model
    holds for impossible. `log_p`: of all others."""

    cases: float
    left_out: float
    log_p: float
    presence: Presence
    counts: Mapping[Path, Floats]
    #: Per fault and pattern of its site conditions: calls.
    calls: tuple[Floats, ...]


@dataclass(frozen=True, eq=False)
class Fit:
    """A model whose numbers fit the cases. `start`: the model before; `values`: key -> value of
    what was learned; `trace`: log probability of cases and prior together, round by round."""

    start: Model
    model: Model
    plan: Plan
    values: Mapping[Path, tuple[float, ...]]
    totals: Totals
    trace: tuple[float, ...]
    settled: bool


def fit(
    model: Model,
    cases: Cases,
    groups: Collection[str],
    names: Collection[str],
    *,
    gain: float = GAIN,
    most_rounds: int = MOST_ROUNDS,
    start: Mapping[Path, tuple[float, ...]] = ReadOnly({}),
) -> Fit:
    """Learn the numbers of some groups from cases that speak of `names`.

    `start`: values to begin with, for instance of a fit to some of the cases; the prior is what
    `model` holds. Memory does not grow with the number of cases. Raises UsageError for a group that
    there is not.
    """
    how = plan(model, names, (*entries(model, groups), *eyes(model)))
    before = pooling.prior(model)
    shares = bool(how.of("shares"))
    now = engine(with_values(model, start), how, start)
    found = total(now, cases())
    trace = [found.log_p + _log_prior(how, before, now, start, shares)]
    best: tuple[Engine, Totals, Mapping[Path, tuple[float, ...]]] = (now, found, start)
    ahead, settled = True, False
    while len(trace) <= most_rounds and not settled:
        values = _maximised(model, how, before, best[0].odds, best[1], shares, ahead)
        now = engine(with_values(model, values), how, values)
        found = total(now, cases())
        value = found.log_p + _log_prior(how, before, now, values, shares)
        if value < trace[-1] - 1e-9 * (1.0 + abs(trace[-1])) and ahead:
            ahead = False  # the short cut of `pooled` overshot; the plain step cannot
            continue
        settled = value - trace[-1] < gain
        trace.append(value)
        best = (now, found, values)
    return Fit(model, best[0].model, how, best[2], best[1], tuple(trace), settled)


def total(engine: Engine, cases: Iterable[Chunk]) -> Totals:
    """Expected counts of all cases, chunk after chunk."""
    faults = engine.odds.faults
    present = [np.zeros(len(one.mixture)) for one in faults]
    units = [np.zeros(len(one.mixture)) for one in faults]
    calls = [np.zeros(len(one.mixture)) for one in faults]
    counts: dict[Path, Floats] = {}
    weight = left_out = log_p = sound = silent = 0.0
    for chunk in cases:
        found = expect(engine, chunk)
        fine = np.isfinite(found.log_p)
        w = np.where(fine, chunk.weights, 0.0)
        weight += float(w.sum())
        left_out += float(chunk.weights.sum() - w.sum())
        log_p += float(w[fine] @ found.log_p[fine])
        sound += float(w @ found.none)
        silent += float(w @ (1.0 / found.called - 1.0))
        for place, one in enumerate(faults):
            at = one.patterns(chunk.site)
            length = len(one.mixture)
            present[place] += np.bincount(at, w * found.faults[place], minlength=length)
            calls[place] += np.bincount(at, w, minlength=length)
            units[place] += np.bincount(at, w / found.called, minlength=length)
        for key, values in found.counts.items():
            summed = values @ w
            counts[key] = counts[key] + summed if key in counts else summed
    presence = Presence(tuple(present), tuple(units), weight, sound, silent)
    return Totals(weight, left_out, log_p, presence, counts, tuple(calls))


def posterior(entry: Entry, counts: Floats) -> tuple[float, ...]:
    """(weight x prior + counts) / (weight + all counts), state by state: the mean of a Dirichlet
    distribution updated by the counts."""
    prior = np.array(entry.value)
    if not entry.states:
        prior = np.array([entry.value[0], 1.0 - entry.value[0]])
    whole = entry.weight + float(counts.sum())
    if whole <= 0.0:
        return entry.value
    found = (entry.weight * prior + counts) / whole
    return tuple(found.tolist()) if entry.states else (float(found[0]),)


def _maximised(
    model: Model,
    plan: Plan,
    before: Prior,
    odds: SiteOdds,
    found: Totals,
    shares: bool,
    ahead: bool,
) -> dict[Path, tuple[float, ...]]:
    values: dict[Path, tuple[float, ...]] = {}
    for entry in plan.entries:
        if entry.key in found.counts:
            values[entry.key] = posterior(entry, found.counts[entry.key])
    if shares:
        fitted = pooling.pooled(model, before, odds, found.presence, ahead)
        values |= {key: (value,) for key, value in fitted.items()}
    return values


def _log_prior(
    plan: Plan,
    before: Prior,
    now: Engine,
    values: Mapping[Path, tuple[float, ...]],
    shares: bool,
) -> float:
    """Natural log of the prior of what is learned, but for a constant."""
    found = before.log_density(now.odds) if shares else 0.0
    for entry in plan.entries:
        if entry.group in ("shares", "sites", "minutes"):
            continue
        prior, value = np.array(entry.value), np.array(values.get(entry.key, entry.value))
        if not entry.states:
            prior, value = np.append(prior, 1.0 - prior), np.append(value, 1.0 - value)
        kept = entry.weight * prior > 0.0
        with np.errstate(divide="ignore"):
            found += float((entry.weight * prior[kept]) @ np.log(value[kept]))
    return found
