"""The odds of every fault at every kind of site, as tables over what is known of the site.

A site is known in part: of each condition that matters to a fault its value or nothing, and what is
not known is averaged over, exactly as `network.odds` does it for one site.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product
from math import log

import numpy as np
from numpy.typing import NDArray

from brinebayes.knowledge.schema import Model
from brinebayes.network import odds
from brinebayes.network.local import Floats
from brinebayes.tuning.numbers import Path

Indices = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class FaultOdds:
    """One fault at every kind of site.

    `conditions`: places of the site conditions that matter; `strides`: of a pattern's number, a
    digit per condition, 0 if it is not known. `mixture`: (patterns, grid) share of each full
    combination of values; `possible`: (grid,) whether the fault can exist there; `factors`: keys of
    its factors, `acts`: (grid, factors) 1 where one multiplies the odds. `log_odds`: of the base,
    `log_factors`: (factors,).
    """

    conditions: tuple[int, ...]
    strides: tuple[int, ...]
    mixture: Floats
    possible: NDArray[np.bool_]
    factors: tuple[Path, ...]
    acts: Floats
    log_odds: float
    log_factors: Floats

    def grid(self, log_odds: float | None = None, log_factors: Floats | None = None) -> Floats:
        """(grid,): probability before the call is known at each full combination of values."""
        base = self.log_odds if log_odds is None else log_odds
        factors = self.log_factors if log_factors is None else log_factors
        with np.errstate(over="ignore"):
            found: Floats = self.possible / (1.0 + np.exp(-(base + self.acts @ factors)))
        return found

    def patterns(self, site: NDArray[np.int16]) -> Indices:
        """(cases,): the number of the pattern at each site."""
        found = np.zeros(len(site), dtype=np.intp)
        for condition, stride in zip(self.conditions, self.strides, strict=True):
            found += (site[:, condition] + 1).astype(np.intp) * stride
        return found


@dataclass(frozen=True, eq=False)
class SiteOdds:
    """All faults at every kind of site. `without`: P(call | no fault), `call`: P(call)."""

    faults: tuple[FaultOdds, ...]
    without: float
    call: float

    def before(self, site: NDArray[np.int16]) -> Floats:
        """(faults, cases): probability of each fault before the call is known."""
        found = np.empty((len(self.faults), len(site)))
        for row, one in enumerate(self.faults):
            found[row] = (one.mixture @ one.grid())[one.patterns(site)]
        return found

    def called(self, before: Floats) -> Floats:
        """(cases,): P(call) at each site."""
        calls: Floats = 1.0 - (1.0 - self.without) * np.prod(1.0 - before, axis=0)
        return calls


def site_odds(model: Model) -> SiteOdds:
    """The tables of a model."""
    solved = odds.base(model)
    places = {name: place for place, name in enumerate(model.site)}
    found = []
    for fault in model.faults:
        matters = solved.factors[fault]
        names = [name for name, _ in matters]
        values = [list(table.items()) for _, table in matters]
        widths = [len(options) for options in values]
        combinations = list(product(*(range(width) for width in widths)))
        possible = [
            all(options[k][1][1] > 0.0 for options, k in zip(values, combination, strict=True))
            for combination in combinations
        ]
        keys = {
            ("site", name, "values", value, "factors", fault): (at, k)
            for at, (name, options) in enumerate(zip(names, values, strict=True))
            for k, (value, _) in enumerate(options)
            if fault in model.site[name].values[value].factors
        }
        acts = np.array(
            [[float(c[at] == k) for at, k in keys.values()] for c in combinations]
        ).reshape(len(combinations), len(keys))
        base = solved.base[fault]
        found.append(
            FaultOdds(
                tuple(places[name] for name in names),
                tuple(int(np.prod([w + 1 for w in widths[at + 1 :]])) for at in range(len(widths))),
                _mixture([[share for _, (share, _) in options] for options in values]),
                np.array(possible, dtype=bool),
                tuple(keys),
                acts,
                log(base) if base > 0.0 else -np.inf,
                np.log([_factor(model, key) for key in keys]),
            )
        )
    return SiteOdds(tuple(found), solved.call_without_fault, solved.call)


def _mixture(shares: list[list[float]]) -> Floats:
    """(patterns, grid): unknown and then each value, the last condition's running fastest."""
    whole = np.ones((1, 1))
    for options in shares:
        one = np.vstack([options, np.eye(len(options))])
        whole = np.kron(whole, one)
    return whole


def _factor(model: Model, key: Path) -> float:
    _, name, _, value, _, fault = key
    return float(model.site[str(name)].values[str(value)].factors[str(fault)].value)


def known_mix(model: Model, site: NDArray[np.int16], weights: Floats) -> Mapping[str, Floats]:
    """Condition -> (values,) how often each value is known among some cases."""
    found = {}
    for place, (name, condition) in enumerate(model.site.items()):
        known = site[:, place] >= 0
        counts = np.bincount(site[known, place], weights[known], minlength=len(condition.values))
        found[name] = counts.astype(np.float64)
    return found
