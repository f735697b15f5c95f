"""Slopes of log probabilities in the numbers that are learned, and steps along them.

The slope of a case is that of its complete record, as expected given what it tells (Fisher's
identity; Louis 1982). Numbers are taken on scales without ends: the log odds of a fault's base, the
logarithm of a factor, and of every spread the log odds of its states against its commonest.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

import numpy as np

from brinebayes.network.local import Floats
from brinebayes.tuning import pooling
from brinebayes.tuning.chunk import Chunk
from brinebayes.tuning.counts import Expected
from brinebayes.tuning.engine import Engine
from brinebayes.tuning.numbers import Path

#: One number of which slopes are taken: its entry's key and the place of its state.
Slot = tuple[Path, int]
Values = Mapping[Path, tuple[float, ...]]

#: The share of calls without any fault.
SOUND: Slot = (pooling.SOUND, 0)
#: No number moves further in one step than this, on its scale.
LONGEST = 2.0


def current(now: Engine, values: Values) -> dict[Path, tuple[float, ...]]:
    """Key -> value as it is now, of all that is learned from counts."""
    plain = (e for e in now.plan.entries if e.group not in ("shares", "sites", "minutes"))
    return {entry.key: values.get(entry.key, entry.value) for entry in plain}


def slots(now: Engine, values: Values, counted: Collection[Path]) -> tuple[Slot, ...]:
    """What slopes are taken of; `counted`: keys of which there are counts."""
    found: list[Slot] = []
    if now.plan.of("shares"):
        for fault, one in zip(now.model.faults, now.odds.faults, strict=True):
            if np.isfinite(one.log_odds):
                found.append((("faults", fault, "share"), 0))
                found.extend((key, 0) for key in one.factors)
        if 0.0 < now.odds.without < 1.0:
            found.append(SOUND)
    for key, value in current(now, values).items():
        if key in counted:
            p = whole(value)
            common = int(np.argmax(p))
            found.extend((key, k) for k in range(len(p)) if k != common and p[k] > 0.0)
    return tuple(found)


def slopes(
    now: Engine, values: Values, wanted: Sequence[Slot], chunk: Chunk, found: Expected
) -> Floats:
    """(slots, cases): slopes of the log probability of each case."""
    result = np.zeros((len(wanted), len(chunk)))
    rows = {slot: row for row, slot in enumerate(wanted)}
    for place, (fault, one) in enumerate(zip(now.model.faults, now.odds.faults, strict=True)):
        if (("faults", fault, "share"), 0) not in rows:
            continue
        grid = one.grid()
        q = one.mixture @ grid
        at = one.patterns(chunk.site)
        p = q[at]
        present, units = found.faults[place], 1.0 / found.called
        with np.errstate(divide="ignore", invalid="ignore"):
            slope = np.where(p > 0.0, present / p - (units - present) / (1.0 - p), 0.0)
        curve = grid * (1.0 - grid)
        result[rows[("faults", fault, "share"), 0]] = slope * (one.mixture @ curve)[at]
        for k, key in enumerate(one.factors):
            result[rows[key, 0]] = slope * (one.mixture @ (curve * one.acts[:, k]))[at]
    if SOUND in rows:
        c, silent = now.odds.without, 1.0 / found.called - 1.0
        result[rows[SOUND]] = found.none - c * (found.none + silent)
    held = current(now, values)
    for key, counts in found.counts.items():
        p = whole(held[key])
        total = counts.sum(axis=0)
        for k in range(len(p)):
            if (key, k) in rows:
                result[rows[key, k]] = counts[k] - p[k] * total
    return result


def of_prior(
    now: Engine, values: Values, before: pooling.Prior, wanted: Sequence[Slot]
) -> tuple[Floats, Floats]:
    """(slots,) slope of the log of the prior, and (slots, slots) the information it is worth."""
    slope = np.zeros(len(wanted))
    worth = np.zeros((len(wanted), len(wanted)))
    rows = {slot: row for row, slot in enumerate(wanted)}
    for place, (fault, one) in enumerate(zip(now.model.faults, now.odds.faults, strict=True)):
        row = rows.get((("faults", fault, "share"), 0))
        if row is None:
            continue
        grid = one.grid()
        curve = grid * (1.0 - grid)
        q, steep = float(one.mixture[0] @ grid), float(one.mixture[0] @ curve)
        there, not_there = before.present[place], before.absent[place]
        pull = there / q - not_there / (1.0 - q)
        slope[row] = pull * steep
        worth[row, row] = (there + not_there) * steep**2 / (q * (1.0 - q))
        held, spreads = before.odds.faults[place].log_factors, before.spread[place]
        for k, (key, spread) in enumerate(zip(one.factors, spreads, strict=True)):
            at = rows[key, 0]
            slope[at] = pull * float(one.mixture[0] @ (curve * one.acts[:, k]))
            slope[at] -= (one.log_factors[k] - held[k]) / spread
            worth[at, at] = 1.0 / spread
    if SOUND in rows:
        c = now.odds.without
        slope[rows[SOUND]] = before.sound * (1.0 - c) - before.silent * c
        worth[rows[SOUND], rows[SOUND]] = (before.sound + before.silent) * c * (1.0 - c)
    held_now = current(now, values)
    for entry in now.plan.entries:
        mine = [
            (k, rows[entry.key, k]) for k in range(len(entry.value) + 1) if (entry.key, k) in rows
        ]
        if entry.key not in held_now or not mine:
            continue
        p, prior = whole(held_now[entry.key]), whole(entry.value)
        for k, at in mine:
            slope[at] = entry.weight * (prior[k] - p[k])
            for j, to in mine:
                worth[at, to] = entry.weight * (p[k] * (k == j) - p[k] * p[j])
    return slope, worth


def bend(before: Floats, present: Floats, called: Floats) -> Floats:
    """(cases,): by how much the information of a complete record on the log odds of a fault exceeds
    the square that is expected of its slope, with the units that nobody called about put back."""
    units = 1.0 / called
    squares = units * (2.0 * units - 1.0)  # of a geometric number of units
    square = present - 2.0 * before * present * units + before**2 * squares
    found: Floats = units * before * (1.0 - before) - square
    return found


def bend_of_sound(without: float, none: Floats, called: Floats) -> Floats:
    """(cases,): the same for the log odds of a call without any fault."""
    silent = 1.0 / called - 1.0
    squares = silent * (1.0 + 2.0 * silent)
    square = none * (1.0 - without) ** 2 - 2.0 * none * (1.0 - without) * without * silent
    found: Floats = (none + silent) * without * (1.0 - without) - square - without**2 * squares
    return found


def lacking(
    now: Engine,
    values: Values,
    wanted: Sequence[Slot],
    counts: Mapping[Path, Floats],
    curved: Sequence[Floats],
    sound_curved: float,
) -> Floats:
    """(slots, slots): what the squared slopes of the cases lack as information.

    The information is that of the complete records less the variance of their slopes (Louis 1982);
    that is the squared slopes of the cases plus information less expected squares of complete
    records. The latter is nothing on average; where something came about less often than expected
    it is more, and without it what never came about would tell nothing. Taken within each fault and
    each spread, and only what is positive. `curved`: per fault and pattern of its site conditions
    sums of `bend`.
    """
    found = np.zeros((len(wanted), len(wanted)))
    rows = {slot: row for row, slot in enumerate(wanted)}

    def put(at: Sequence[int], block: Floats) -> None:
        sizes, axes = np.linalg.eigh(block)
        found[np.ix_(at, at)] += (axes * np.maximum(sizes, 0.0)) @ axes.T

    for (fault, one), bent in zip(
        zip(now.model.faults, now.odds.faults, strict=True), curved, strict=True
    ):
        if (("faults", fault, "share"), 0) in rows:
            grid = one.grid()
            curve = grid * (1.0 - grid)
            p = one.mixture @ grid
            ways = np.column_stack([np.ones(len(grid)), one.acts])
            spread = p * (1.0 - p)
            chain = np.divide(
                one.mixture @ (ways * curve[:, None]),
                spread[:, None],
                out=np.zeros((len(p), ways.shape[1])),
                where=spread[:, None] > 0.0,
            )
            at = [rows[("faults", fault, "share"), 0], *(rows[key, 0] for key in one.factors)]
            put(at, (chain.T * bent) @ chain)
    if SOUND in rows:
        put([rows[SOUND]], np.array([[sound_curved]]))
    for key, value in current(now, values).items():
        p = whole(value)
        kept = [k for k in range(len(p)) if (key, k) in rows]
        if key in counts and kept:
            apart = np.eye(len(p)) - p
            square = (apart.T * counts[key]) @ apart
            block = counts[key].sum() * (np.diag(p) - np.outer(p, p)) - square
            put([rows[key, k] for k in kept], block[np.ix_(kept, kept)])
    return found


def moved(now: Engine, values: Values, wanted: Sequence[Slot], step: Floats) -> Values:
    """All values after a step; a longer one than `LONGEST` is cut."""
    longest = float(np.abs(step).max(initial=0.0))
    if longest > LONGEST:
        step = step * (LONGEST / longest)
    by = dict(zip(wanted, step.tolist(), strict=True))
    found: dict[Path, tuple[float, ...]] = dict(values)
    if now.plan.of("shares"):
        bases, factors = [], []
        for fault, one in zip(now.model.faults, now.odds.faults, strict=True):
            bases.append(one.log_odds + by.get((("faults", fault, "share"), 0), 0.0))
            more = [by.get((key, 0), 0.0) for key in one.factors]
            factors.append(one.log_factors + np.array(more))
        without = now.odds.without
        if SOUND in by:
            odds = without / (1.0 - without) * float(np.exp(by[SOUND]))
            without = odds / (1.0 + odds)
        found |= pooling.shares(now.model, now.odds, bases, factors, without)
    for key, value in current(now, values).items():
        p = whole(value)
        scaled = p * np.exp([by.get((key, k), 0.0) for k in range(len(p))])
        if any((key, k) in by for k in range(len(p))):
            scaled = scaled / scaled.sum()
            found[key] = tuple(scaled.tolist()) if len(value) > 1 else (float(scaled[0]),)
    return found


def whole(value: tuple[float, ...]) -> Floats:
    """A probability with its opposite, a spread as it is."""
    return np.array([value[0], 1.0 - value[0]]) if len(value) == 1 else np.array(value)
