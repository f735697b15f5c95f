"""What would change in a model, number by number, and which numbers stay as they were judged."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import floor, log10

import numpy as np

from brinebayes.knowledge.schema import Model
from brinebayes.network.local import Floats
from brinebayes.tuning.em import Fit
from brinebayes.tuning.intervals import LEVEL, Known, before, beta_interval, narrower
from brinebayes.tuning.minutes import Spent, mean_minutes
from brinebayes.tuning.numbers import Entry, Path, number_at, value_of
from brinebayes.tuning.sites import site_odds

#: Digits that are written; the cases never know more.
DIGITS = 4


@dataclass(frozen=True)
class Change:
    """One entry as the model has it and as the cases would have it.

    `cases`: how many bear on it; `seen`: in how many of them the first state was the case (a fault
    present, a reading wrong, a repair that worked), None for minutes. `old`, `new`: (1,) or one for
    each state; `known`: interval and weight of each new value. `stays`: the reason why it is left
    as it is, empty if it is changed: `few` (no case bears on it), `wide` (the interval is no
    narrower than what was held before), `same`.
    """

    entry: Entry
    basis: str
    old: tuple[float, ...]
    new: tuple[float, ...]
    known: tuple[Known, ...]
    held: tuple[Known, ...]
    cases: float
    seen: float | None
    stays: str

    @property
    def surprise(self) -> float:
        """How far the old value lies outside the interval, in widths of half of it; below 1: it
        does not."""
        return max(
            _beyond(old, new, known)
            for old, new, known in zip(self.old, self.new, self.known, strict=True)
        )

    @property
    def refuted(self) -> bool:
        """Whether the old value lies outside the interval, and what was counted speaks against it
        without any prior: a rare fault that did not come up in some hundred calls is not."""
        if self.surprise <= 1.0:
            return False
        if self.seen is None or self.known[0].factor or len(self.old) > 1:
            return True
        return not allowed_by_count(self.seen, self.cases, self.old[0])


def allowed_by_count(seen: float, cases: float, chance: float) -> bool:
    """Whether a chance lies in the two-sided 95 % interval of Clopper and Pearson 1934 for so many
    of so many cases; expected counts need not be whole."""
    from scipy.special import betainc

    tail = 0.5 * (1.0 - LEVEL)
    at_most = float(betainc(max(cases - seen, 1e-9), seen + 1.0, 1.0 - chance))
    at_least = float(betainc(seen, cases - seen + 1.0, chance)) if seen > 0.0 else 1.0
    return at_most >= tail and at_least >= tail


def changes(fit: Fit, known: Mapping[Path, tuple[Known, ...]]) -> tuple[Change, ...]:
    """Every entry of a fit with what becomes of it, in the order of the files."""
    found = []
    for entry in fit.plan.entries:
        if entry.group in ("minutes", "eyes"):
            continue
        new = fit.values.get(entry.key, entry.value)
        cases, seen = _behind(fit, entry)
        found.append(_change(fit.start, entry, new, known.get(entry.key), cases, seen))
    return tuple(found)


def change_of_minutes(model: Model, entry: Entry, spent: Spent | None) -> Change:
    """What becomes of the minutes of a check or a repair."""
    if spent is None:
        return _change(model, entry, entry.value, None, 0.0, None)
    mean, low, high = mean_minutes(entry, spent)
    known = (Known(low, high, entry.weight + spent.times, True),)
    return _change(model, entry, (mean,), known, spent.times, None)


def changes_of_mix(
    model: Model, condition: str, entries: Sequence[Entry], counts: Floats
) -> tuple[Change, ...]:
    """What becomes of the shares of sites with each value of a condition: all change, or none.

    `counts`: (values,) calls in which it was told.
    """
    told = float(counts.sum())
    prior = np.array([entry.value[0] for entry in entries])
    weights = np.array([entry.weight for entry in entries])
    weight = float(weights.mean())
    p = (weight * prior + counts) / (weight + told)
    new = rounded(tuple(p.tolist()), True)
    found = []
    for k, entry in enumerate(entries):
        known = (Known(*beta_interval(float(p[k]), weight + told), weight + told),)
        one = _change(model, entry, (float(p[k]),), known, told, float(counts[k]))
        found.append(replace(one, new=(new[k],) if told >= 0.5 else one.new))
    reasons = {one.stays for one in found}
    if reasons == {"same"} or reasons & {"few", "wide"}:
        why = next(reason for reason in ("few", "wide", "same") if reason in reasons)
        return tuple(replace(one, stays=why) for one in found)
    return tuple(replace(one, stays="") for one in found)


def to_write(changes: Iterable[Change]) -> dict[Path, tuple[float, ...]]:
    """Key -> value of everything that changes."""
    return {one.entry.key: one.new for one in changes if not one.stays}


def rounded(values: tuple[float, ...], sums_to_one: bool) -> tuple[float, ...]:
    """Values with a few digits; of a spread they still sum to 1, the largest takes the rest."""
    if not sums_to_one:
        return tuple(_digits(value) for value in values)
    found = [round(value, DIGITS) for value in values]
    largest = max(range(len(found)), key=lambda k: (found[k], -k))
    found[largest] = round(1.0 - sum(v for k, v in enumerate(found) if k != largest), DIGITS)
    return tuple(found)


def _change(
    model: Model,
    entry: Entry,
    new: tuple[float, ...],
    known: tuple[Known, ...] | None,
    cases: float,
    seen: float | None,
) -> Change:
    number = number_at(model, entry.key)
    old = value_of(number)[1]
    held = before(entry)
    if known is None or cases < 0.5:
        return Change(entry, number.basis, old, old, held, held, cases, seen, "few")
    value = rounded(new, bool(entry.states))
    stays = ""
    if not all(narrower(a, b) for a, b in zip(known, held, strict=True) if a.high > 0.0):
        stays = "wide"
    elif value == rounded(old, bool(entry.states)):
        stays = "same"
    return Change(entry, number.basis, old, value, known, held, cases, seen, stays)


def _behind(fit: Fit, entry: Entry) -> tuple[float, float]:
    """How many cases bear on an entry, and in how many its first state was the case."""
    totals = fit.totals
    if entry.key in totals.counts:
        counts = totals.counts[entry.key]
        return float(counts.sum()), float(counts[0])
    if entry.key == ("about", "calls_without_fault"):
        return totals.cases, totals.presence.sound
    faults = list(fit.start.faults)
    if entry.path[0] == "faults":
        return totals.cases, float(totals.presence.present[faults.index(str(entry.path[1]))].sum())
    if entry.path[-2] == "factors":
        return _at_such_sites(fit, entry, faults)
    return 0.0, 0.0


def _at_such_sites(fit: Fit, entry: Entry, faults: list[str]) -> tuple[float, float]:
    """Calls from sites of the kind that a factor speaks of, and those with its fault."""
    _, condition, _, value, _, fault = map(str, entry.path)
    place = faults.index(fault)
    odds = site_odds(fit.start).faults[place]
    at = odds.conditions.index(list(fit.start.site).index(condition))
    digit = list(fit.start.site[condition].values).index(value) + 1
    base = len(fit.start.site[condition].values) + 1
    calls = fit.totals.calls[place]
    here = (np.arange(len(calls)) // odds.strides[at]) % base == digit
    return float(calls[here].sum()), float(fit.totals.presence.present[place][here].sum())


def _beyond(old: float, new: float, known: Known) -> float:
    half = new - known.low if old < new else known.high - new
    return abs(old - new) / half if half > 0.0 else 0.0


def _digits(value: float) -> float:
    if value == 0.0:
        return 0.0
    return round(value, DIGITS - 1 - floor(log10(abs(value))))
