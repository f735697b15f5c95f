"""How far a number of a model may move: by as much as its weight leaves open.

A number of weight w is as well known as from w cases. A misreading, a link and a row of outcomes
move as the beta and Dirichlet distributions of that weight. Shares of faults move by their log
odds, and site factors by their logarithm, with variance 4 / w, which is that of a beta around a
half: a beta of six cases around half a per cent would put most draws at nought, and whoever judged
the share did not mean that. Judged, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import exp, log, sqrt

import numpy as np

from brinebayes.errors import ModelError
from brinebayes.knowledge.schema import Model
from brinebayes.network import odds
from brinebayes.tuning.numbers import Entry, Path, entries, with_values

#: Numbers that the ranking hangs on; minutes and repairs it does not see.
GROUPS = ("shares", "sites", "misreadings", "links", "observations")

Values = dict[Path, tuple[float, ...]]


def movable(model: Model) -> tuple[Entry, ...]:
    """Every number that can move, in the order of the files."""
    return tuple(one for one in entries(model, GROUPS) if max(one.value) > 0.0 and not _sure(one))


def moved(model: Model, entry: Entry, by: float) -> tuple[Values, float]:
    """Values with one number moved by so many standard deviations, and what it was moved to.

    Of a spread the likeliest state moves; the others, and the other values of a site condition,
    give way in proportion.
    """
    place = leading(entry)
    value = entry.value[place]
    if entry.group == "shares":
        to = _on_its_scale(entry, by * 2.0 / sqrt(entry.weight))
        return {entry.key: (to,)}, to
    step = sqrt(value * (1.0 - value) / (entry.weight + 1.0))
    to = min(max(value + by * step, 0.001 * value), 1.0 - 0.001 * (1.0 - value))
    rest = (1.0 - to) / (1.0 - value)
    if entry.group == "sites":
        return _others_give_way(model, entry, to, rest), to
    if len(entry.value) == 1:
        return {entry.key: (to,)}, to
    found = tuple(to if k == place else v * rest for k, v in enumerate(entry.value))
    return {entry.key: found}, to


def drawn(model: Model, numbers: Iterable[Entry], draw: np.random.Generator) -> Values:
    """All numbers drawn once."""
    found: Values = {}
    mix: dict[str, list[Entry]] = {}
    for one in numbers:
        if one.group == "shares":
            by = float(draw.normal()) * 2.0 / sqrt(one.weight)
            found[one.key] = (_on_its_scale(one, by),)
        elif one.group == "sites":
            mix.setdefault(str(one.path[1]), []).append(one)
        elif len(one.value) == 1:
            (value,) = one.value
            share = float(draw.beta(one.weight * value, one.weight * (1.0 - value)))
            found[one.key] = (min(max(share, 1e-9), 1.0 - 1e-9),)
        else:
            shares = np.maximum(draw.dirichlet(one.weight * np.array(one.value)), 1e-9)
            found[one.key] = tuple((shares / shares.sum()).tolist())
    for values in mix.values():
        weight = np.array([one.weight * one.value[0] for one in values])
        shares = np.maximum(draw.dirichlet(weight), 1e-9)
        for one, share in zip(values, (shares / shares.sum()).tolist(), strict=True):
            found[one.key] = (share,)
    return found


def possible(model: Model, values: Mapping[Path, tuple[float, ...]]) -> Model | None:
    """The model with these values; None where its shares would not fit together."""
    other = with_values(model, values)
    try:
        odds.base(other)
    except ModelError:
        return None
    return other


def leading(entry: Entry) -> int:
    """The place of the likeliest state of a spread; 0 for a number."""
    return max(range(len(entry.value)), key=lambda k: entry.value[k])


def is_factor(entry: Entry) -> bool:
    """Whether a number is a factor on odds and no probability."""
    return entry.group == "shares" and "factors" in entry.path


def _on_its_scale(entry: Entry, by: float) -> float:
    (value,) = entry.value
    if is_factor(entry):
        return value * exp(by)
    return 1.0 / (1.0 + exp(-(log(value / (1.0 - value)) + by)))


def _others_give_way(model: Model, entry: Entry, to: float, rest: float) -> Values:
    condition = str(entry.path[1])
    found: Values = {}
    for name, value in model.site[condition].values.items():
        key: Path = ("site", condition, "values", name, "share")
        found[key] = (to if key == entry.key else value.share.value * rest,)
    return found


def _sure(entry: Entry) -> bool:
    """What is certain or impossible by definition does not move."""
    return not is_factor(entry) and max(entry.value) >= 1.0
