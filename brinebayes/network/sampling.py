"""Weighted joint states of the unit, drawn from calibrated trees.

Rare faults would have no rows among plain draws. So draws are taken given each fault in turn (the
strata), and a few without any condition, which are all that speak of a unit without faults. With
n_k rows drawn given stratum k, every row is weighted by what is wanted over what was drawn (the
balance heuristic):

    weight(row) ~ P(call | row) / (n_0 + sum over strata k that hold the row of n_k / P(k))

Draws that agree in everything are merged. Noise of causes that do not hold is drawn after that.
Source: Veach & Guibas 1995.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

import numpy as np
from numpy.typing import NDArray

from brinebayes.network import odds
from brinebayes.network.evidence import Ground, Pair
from brinebayes.network.propagate import Stratum, draw
from brinebayes.network.worlds import States, Worlds, evaluate, works

Floats = NDArray[np.float64]

#: A fault this probable has rows of its own, and at least so many.
RARE = 1e-4
FEWEST_ROWS = 4
#: Part of the rows that is drawn without a condition.
PLAIN = 0.125


def draw_worlds(known: Ground, pair: Pair, n: int, seed: int) -> Worlds:
    """About `n` rows, a few more when many faults are possible; the same for the same seed."""
    model, trees = known.model, known.trees
    tree = trees.tree
    place = {name: i for i, name in enumerate(tree.names)}
    first_names = tuple(model.faults)
    possible = dict(zip(trees.now, pair.faults.tolist(), strict=True))
    if first_names != trees.now:
        possible = {**dict(zip(first_names, _at_first(pair, first_names), strict=True)), **possible}
    strata = _strata(possible, n)
    plain = ceil(PLAIN * n)
    draws = draw(pair.whole, plain, seed, strata)
    rows, counts = _merged(draws)
    first = rows[:, [place[name] for name in first_names]].astype(bool)
    c = odds.base(model).call_without_fault
    each = _weight(rows, plain, strata, pair, place) * np.where(first.any(axis=1), 1.0, c)
    kept = each > 0.0
    rows, first, counts, each = rows[kept], first[kept], counts[kept], each[kept]
    weights = counts * each
    effective = float(weights.sum() ** 2 / (weights @ each))
    faults = rows[:, [place[name] for name in trees.now]].astype(bool)
    chance = np.random.Generator(np.random.Philox([seed, 1]))
    completed = trees.noise.complete(rows, chance)
    noise = dict(zip(trees.noise.names, completed, strict=True))
    site = _site(known, rows, place)
    mechanisms = evaluate(model, site, faults, noise)
    same = first_names == trees.now
    return Worlds(
        model=model,
        site=site,
        faults=faults,
        noise=noise,
        mechanisms=mechanisms,
        works=np.broadcast_to(works(model, mechanisms), (len(rows),)),
        weights=weights / weights.sum(),
        effective_draws=effective,
        first_faults=first,
        first_mechanisms=mechanisms if same else evaluate(model, site, first, noise),
    )


def _at_first(pair: Pair, names: Sequence[str]) -> list[float]:
    """P(present in the first epoch | e, call) of every fault."""
    found = [float(pair.whole.marginal(name)[0, 1]) for name in names]
    return [p / (1.0 - pair.share) for p in found]


def _strata(possible: dict[str, float], n: int) -> tuple[Stratum, ...]:
    """Rows for each variable of a fault, by its probability, none for the rarest."""
    total = sum(possible.values())
    return tuple(
        Stratum(name, 1, max(FEWEST_ROWS, round((1.0 - PLAIN) * n * p / total)))
        for name, p in possible.items()
        if p > RARE
    )


def _weight(
    rows: States,
    plain: int,
    strata: Sequence[Stratum],
    pair: Pair,
    place: dict[str, int],
) -> Floats:
    """(rows,): P(row | e) over the density it was drawn with, up to a constant."""
    density = np.full(len(rows), float(plain))
    for one in strata:
        share = float(pair.whole.marginal(one.variable)[0, one.state])
        density += (rows[:, place[one.variable]] == one.state) * (one.rows / share)
    return 1.0 / density


def _merged(draws: States) -> tuple[States, NDArray[np.intp]]:
    """The different rows among `draws`, and how often each occurs.

    Rows are told apart by a 64-bit sum of their bytes, in words, with odd multipliers from a fixed
    seed; two of a few thousand rows would share one about once in 10^12 times.
    """
    padded = np.zeros((len(draws), -(-draws.shape[1] // 8) * 8), dtype=np.int8)
    padded[:, : draws.shape[1]] = draws
    words = padded.view(np.uint64)
    chance = np.random.Generator(np.random.Philox(0))
    factors = chance.integers(0, 2**63, words.shape[1], dtype=np.uint64) * np.uint64(2) + np.uint64(
        1
    )
    # High bytes of a product never reach its low bits: fold them down before they are added up.
    mixed = words * factors
    mixed ^= mixed >> np.uint64(32)
    _, first, counts = np.unique(
        (mixed * factors[::-1]).sum(axis=1), return_index=True, return_counts=True
    )
    return draws[first], counts


def _site(known: Ground, rows: States, place: dict[str, int]) -> dict[str, States]:
    """The site conditions that matter, as places of their values in every row."""
    return {
        name: rows[:, place[name]] for name in known.trees.open_roots if name in known.model.site
    }
