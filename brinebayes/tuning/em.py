"""Expectation and maximisation: the numbers that make the cases and the prior likeliest together.

Source: Dempster, Laird & Rubin 1977. Each round counts what is expected under the numbers of the
round before (`counts`) and takes (weight x prior + count) / (weight + counts) for every number; the
log probability of cases and prior together never falls. The slopes that come with the counts allow
longer steps (Berndt, Hall, Hall & Hausman 1974); one that loses is not taken.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import islice

import numpy as np

from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.schema import Model
from brinebayes.network.local import Floats
from brinebayes.network.ordering import Orders
from brinebayes.tuning import pooling
from brinebayes.tuning.along import along
from brinebayes.tuning.chunk import Chunk
from brinebayes.tuning.counts import expect
from brinebayes.tuning.engine import Engine, Plan, engine, plan
from brinebayes.tuning.numbers import Entry, Path, entries, eyes, with_values
from brinebayes.tuning.pooling import Presence, Prior
from brinebayes.tuning.slopes import (
    Slot,
    Values,
    bend,
    bend_of_sound,
    current,
    lacking,
    moved,
    of_prior,
    slopes,
    slots,
    whole,
)

#: Rounds end when no number has more than this much log probability (nat) to gain by itself: half
#: the square of what it is to move by, in its own standard errors. None is then to move by more
#: than a tenth of its standard error, a twentieth of half of its interval.
GAIN = 5e-3
MOST_ROUNDS = 200
#: Plain rounds after a longer step has lost.
PLAIN_ROUNDS = 2
#: Chunks that a first fit is made to where there are more than twice as many.
FIRST = 16

NOTHING: Values = ReadOnly({})

#: Cases, chunk after chunk, as often as they are asked for.
Cases = Callable[[], Iterator[Chunk]]


@dataclass(frozen=True, eq=False)
class Totals:
    """Expected counts over all cases. `cases`: their weights; `left_out`: of those that the model
    holds for impossible. `log_p`: of all others, `slope` and `information` (sum of the squares of
    each case's slope) by the slots asked for."""

    cases: float
    left_out: float
    log_p: float
    presence: Presence
    counts: Mapping[Path, Floats]
    #: Per fault and pattern of its site conditions: calls.
    calls: tuple[Floats, ...]
    slope: Floats
    information: Floats
    #: What `information` lacks where less came about than expected (`slopes.lacking`), and of what
    #: it was worked out beside the counts.
    lacking: Floats
    curved: tuple[Floats, ...]
    sound_curved: float
    #: Key -> (states, nodes) log probability of the cases along each probability (`along`).
    along: Mapping[Path, Floats]


@dataclass(frozen=True, eq=False)
class Fit:
    """A model whose numbers fit the cases. `start`: the model before; `values`: key -> value of
    what was learned; `trace`: log probability of cases and prior together, round by round;
    `slots`: of which `totals` has slopes, `information`: cases and prior together."""

    start: Model
    model: Model
    plan: Plan
    values: Values
    totals: Totals
    trace: tuple[float, ...]
    settled: bool
    slots: tuple[Slot, ...]
    information: Floats


@dataclass(frozen=True, eq=False)
class _Standing:
    """Where the rounds stand."""

    now: Engine
    values: Values
    totals: Totals
    worth: float


def fit(
    model: Model,
    cases: Cases,
    groups: Collection[str],
    names: Collection[str],
    *,
    gain: float = GAIN,
    most_rounds: int = MOST_ROUNDS,
    after: tuple[Fit, Cases] | None = None,
    plain: bool = False,
    orders: Orders | None = None,
) -> Fit:
    """Learn the numbers of some groups from cases that speak of `names`.

    `after`: a fit in the same way to some of the cases, and the rest of them, to begin with; the
    prior is what `model` holds. `plain`: no steps but those of expectation and maximisation;
    `orders`: as in `plan`. Memory does not grow with the number of cases. Raises UsageError for a
    group that there is not.
    """
    how = plan(model, names, (*entries(model, groups), *eyes(model)), orders)
    before = pooling.prior(model)
    counted, number = _counted(how, cases())
    learned = counted | {entry.key for entry in how.of("shares")}
    start: Values = {e.key: e.value for e in how.entries if e.key in learned}
    wanted = slots(engine(with_values(model, start), how, start), start, counted)
    rounds = partial(_rounds, model, how, before, wanted, most_rounds, plain)
    known = None
    if after is not None:
        start = {**start, **after[0].values}
        if after[0].slots == wanted:
            # The first round has been counted in the cases of that fit already.
            known = after[0].totals, after[1]
    if after is None and number > 2 * FIRST:
        # Odd, since chunks that are alike come again after an even number of others (`spool`).
        other = number // FIRST | 1
        # As near as a fit to these alone needs to be: they are counted `other` times.
        start = rounds(_every(cases, other), start, gain * other)[0].values
    best, trace, settled = rounds(cases, start, gain, known)
    worth = of_prior(best.now, best.values, before, wanted)[1]
    information = best.totals.information + best.totals.lacking + worth
    return Fit(
        model,
        best.now.model,
        how,
        best.values,
        best.totals,
        tuple(trace),
        settled,
        wanted,
        information,
    )


def _rounds(
    model: Model,
    how: Plan,
    before: Prior,
    wanted: Sequence[Slot],
    most_rounds: int,
    plainly: bool,
    cases: Cases,
    start: Values,
    gain: float,
    counted: tuple[Totals, Cases] | None = None,
) -> tuple[_Standing, list[float], bool]:
    shares = bool(how.of("shares"))

    def at(values: Values, counted: tuple[Totals, Cases] | None = None) -> _Standing:
        now = engine(with_values(model, values), how, values)
        some, rest = counted or (None, cases)
        found = total(now, rest(), values, wanted, some)
        return _Standing(
            now, values, found, found.log_p + _log_prior(how, before, now, values, shares)
        )

    best = at(start, counted)
    trace = [best.worth]
    ahead, plain = True, 0 if wanted and not plainly else most_rounds
    while len(trace) <= most_rounds:
        if plain > 0:
            values: Values = _maximised(model, how, before, best, shares, ahead)
        else:
            slope, worth = of_prior(best.now, best.values, before, wanted)
            slope = slope + best.totals.slope
            known = best.totals.information + best.totals.lacking + worth
            variances = np.asarray(np.linalg.pinv(known, hermitian=True), float)
            step = variances @ slope
            if 0.5 * float(np.max(step**2 / np.diag(variances), initial=0.0)) < gain:
                return best, trace, True
            values = moved(best.now, best.values, wanted, step)
        new = at(values)
        lost = new.worth < trace[-1] - 1e-9 * (1.0 + abs(trace[-1])) or not np.isfinite(new.worth)
        if lost and plain == 0:
            plain = PLAIN_ROUNDS
            continue
        if lost and ahead:
            ahead = False  # the short cut of `pooled` overshot; the plain step cannot
            continue
        gained = new.worth - trace[-1]
        trace.append(new.worth)
        best = new
        if gained < gain:
            return best, trace, True
        plain = max(plain - 1, 0) if wanted and not plainly else plain
    return best, trace, False


def _counted(how: Plan, chunks: Iterable[Chunk]) -> tuple[set[Path], int]:
    """Keys of the entries that some cases bear on, and how many chunks there are."""
    names: set[str] = set()
    done: set[str] = set()
    looked: set[tuple[str, str]] = set()
    number = 0
    for chunk in chunks:
        number += 1
        names |= chunk.found.keys()
        done.update(repair for one in chunk.done for repair in one)
        looked.update((repair, fault) for _, repair, fault, _ in chunk.looked)

    def bears(entry: Entry) -> bool:
        path = entry.path
        match entry.group:
            case "links":
                return True
            case "misreadings" | "observations":
                return path[3] in names
            case "repairs":
                return path[1] in done
            case "eyes":
                return (path[1], path[2]) in looked
        return False

    return {entry.key for entry in how.entries if bears(entry)}, number


def _every(cases: Cases, other: int) -> Cases:
    """A part of the cases that weighs as much as all."""
    return lambda: (
        replace(chunk, weights=chunk.weights * other) for chunk in islice(cases(), 0, None, other)
    )


def total(
    engine: Engine,
    cases: Iterable[Chunk],
    values: Values = NOTHING,
    wanted: Sequence[Slot] = (),
    known: Totals | None = None,
) -> Totals:
    """Expected counts of all cases, chunk after chunk, and slopes of what is wanted. `known`: those
    of other cases with the same numbers, which are added."""
    faults = engine.odds.faults
    present = [np.zeros(len(one.mixture)) for one in faults]
    units = [np.zeros(len(one.mixture)) for one in faults]
    calls = [np.zeros(len(one.mixture)) for one in faults]
    counts: dict[Path, Floats] = {}
    slope, information = np.zeros(len(wanted)), np.zeros((len(wanted), len(wanted)))
    curved = [np.zeros(len(one.mixture)) for one in faults]
    beside: dict[Path, Floats] = {}
    held = current(engine, values) if wanted else {}
    sound_curved = 0.0
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
            if wanted:
                bent = bend(found.before[place], found.faults[place], found.called)
                curved[place] += np.bincount(at, w * bent, minlength=length)
        for key, states in found.counts.items():
            summed = states @ w
            counts[key] = counts[key] + summed if key in counts else summed
            if key in held:
                more = along(whole(held[key]), states, w)
                beside[key] = beside[key] + more if key in beside else more
        if wanted:
            each = slopes(engine, values, wanted, chunk, found)
            slope += each @ w
            information += (each * w) @ each.T
            sound_curved += float(w @ bend_of_sound(engine.odds.without, found.none, found.called))
    if known is not None:
        weight += known.cases
        left_out += known.left_out
        log_p += known.log_p
        sound += known.presence.sound
        silent += known.presence.silent
        sound_curved += known.sound_curved
        slope += known.slope
        information += known.information
        for place in range(len(faults)):
            present[place] += known.presence.present[place]
            units[place] += known.presence.units[place]
            calls[place] += known.calls[place]
            curved[place] += known.curved[place]
        for key, sums in known.counts.items():
            counts[key] = counts.get(key, 0.0) + sums
        for key, sums in known.along.items():
            beside[key] = beside.get(key, 0.0) + sums
    lacks = lacking(engine, values, wanted, counts, curved, sound_curved)
    presence = Presence(tuple(present), tuple(units), weight, sound, silent)
    return Totals(
        weight,
        left_out,
        log_p,
        presence,
        counts,
        tuple(calls),
        slope,
        information,
        lacks,
        tuple(curved),
        sound_curved,
        beside,
    )


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
    best: _Standing,
    shares: bool,
    ahead: bool,
) -> dict[Path, tuple[float, ...]]:
    values: dict[Path, tuple[float, ...]] = {}
    for entry in plan.entries:
        if entry.key in best.totals.counts:
            values[entry.key] = posterior(entry, best.totals.counts[entry.key])
    if shares:
        fitted = pooling.pooled(model, before, best.now.odds, best.totals.presence, ahead)
        values |= {key: (value,) for key, value in fitted.items()}
    return values


def _log_prior(
    plan: Plan,
    before: Prior,
    now: Engine,
    values: Values,
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
