"""Weighted joint states of the unit, drawn from calibrated trees.

Rare faults would have no rows among plain draws. So draws are taken given each path of each fault
in turn (the strata), a few without any condition, which are all that speak of a unit without
faults, and after a proof that failed some given each state in which the unit does not work. With
n_k rows drawn given stratum k, every row is weighted by what is wanted over what was drawn (the
balance heuristic):

    weight(row) ~ P(call, proofs | row) / (n_0 + sum over strata k that hold the row of n_k / P(k))

Draws that agree in everything are merged before their noise is drawn. Last, the weights are raked:
scaled, fault by fault, until each has its exact probability. On the shipped model that takes away
three fifths of the error of P(outcome, fault).
Sources: Veach & Guibas 1995; Deming & Stephan 1940 (both from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import ceil

import numpy as np
from numpy.typing import NDArray

from brinebayes.network import graph, odds
from brinebayes.network.chance import Chance
from brinebayes.network.evidence import Ground, Mixture, Term
from brinebayes.network.paths import Paths
from brinebayes.network.propagate import Stratum, draw
from brinebayes.network.trees import Chosen
from brinebayes.network.worlds import States, Worlds, evaluate, works
from brinebayes.record import record

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: A path of a fault this probable has rows of its own, and at least so many.
RARE = 1e-4
FEWEST_ROWS = 4
#: Part of the rows that is drawn without a condition.
PLAIN = 0.125
#: Turns of raking; one turn goes through all faults.
RAKES = 4
#: Rows beside the others, as a part of them, that look for a unit that does not work.
FAILING = 0.5


@record(eq=False)
class Rows:
    """Draws with their weights. `paths`: (variables of the tree, n)."""

    columns: Mapping[str, int]
    paths: States
    weights: Floats
    effective_draws: float

    def of(self, name: str, paths: Paths, copy: int) -> States:
        """(n,): the state of a fault, mechanism or site condition in one of its copies."""
        found: States = paths.at(copy)[self.paths[self.columns[name]]]
        return found


@record(eq=False)
class Drawn:
    """Joint states over all epochs: `faults` per epoch (n, faults); `site` and `noise` (n,)."""

    site: Mapping[str, States]
    faults: tuple[Bools, ...]
    noise: Mapping[str, States]
    weights: Floats
    effective_draws: float


def draw_states(known: Ground, mixture: Mixture, n: int, seed: int, merge: bool = True) -> Drawn:
    """About `n` rows, a few more when many faults are possible; the same for the same seed."""
    model, trees = known.model, known.trees
    rows = draw_rows(known, mixture, n, seed, merge)
    chance = Chance(seed, 1)
    completed = trees.noise.complete(rows.paths.T, chance)
    site = _site(known, rows, chance)
    faults = []
    for epoch in range(known.last + 1):
        columns = [rows.of(f, trees.paths[f], trees.copy(f, epoch)) for f in model.faults]
        faults.append(np.array(columns, dtype=bool).T)
    noise = dict(zip(trees.noise.names, completed, strict=True))
    return Drawn(site, tuple(faults), noise, rows.weights, rows.effective_draws)


def _site(known: Ground, rows: Rows, chance: Chance) -> dict[str, States]:
    """Place of its value for every condition; those that no answer depends on are drawn by their
    shares, since a mechanism that nothing shows may depend on them."""
    trees, site = known.trees, {}
    for name in known.model.site:
        if name in trees.paths:
            site[name] = rows.of(name, trees.paths[name], 0)
        else:
            ends = np.cumsum(odds.site_chances(known.model, known.site, name))[:-1]
            drawn = np.searchsorted(ends, chance.random(len(rows.weights)), side="right")
            site[name] = drawn.astype(np.int8)
    return site


def draw_worlds(known: Ground, mixture: Mixture, n: int, seed: int) -> Worlds:
    """The rows of `draw_states`, as the unit is now."""
    model, drawn = known.model, draw_states(known, mixture, n, seed)
    faults, first = drawn.faults[-1], drawn.faults[0]
    none = ~first.any(axis=1)
    exact = [*mixture.faults.tolist(), mixture.no_fault]
    weights = _raked(drawn.weights, np.column_stack([faults, none]), exact)
    mechanisms = evaluate(model, drawn.site, faults, drawn.noise)
    return Worlds(
        model=model,
        site=drawn.site,
        faults=faults,
        noise=drawn.noise,
        mechanisms=mechanisms,
        works=np.broadcast_to(works(model, mechanisms), weights.shape),
        weights=weights,
        effective_draws=drawn.effective_draws,
        first_faults=first,
        first_mechanisms=(
            evaluate(model, drawn.site, first, drawn.noise) if known.last else mechanisms
        ),
    )


def _raked(weights: Floats, holds: Bools, exact: Sequence[float]) -> Floats:
    """(n,): weights scaled until each column of `holds` (n, k) has its exact probability, or as
    nearly as some turns bring it; columns without any row, or with all, are left alone."""
    columns = np.ascontiguousarray(holds.T)
    numbers = columns.astype(np.float64)
    for _ in range(RAKES):
        for column, number, wanted in zip(columns, numbers, exact, strict=True):
            now = float(weights @ number)
            if 0.0 < now < 1.0 and 0.0 < wanted < 1.0:
                scale = np.where(column, wanted / now, (1.0 - wanted) / (1.0 - now))
                weights = weights * scale
    result: Floats = weights / weights.sum()
    return result


def draw_rows(known: Ground, mixture: Mixture, n: int, seed: int, merge: bool = True) -> Rows:
    """The draws of `draw_states`, before their noise is drawn."""
    trees = known.trees
    # The first term knows nothing of the call and of what proofs showed; rows are weighted by it.
    base = mixture.terms[0].beliefs
    columns = {name: i for i, name in enumerate(trees.whole.tree.names)}
    pairs = trees.whole.faults.pairs
    wanted = mixture.sum(lambda term: _spread_over(term, pairs))
    found = trees.whole.faults.probabilities(base)
    drawn = (1.0 - PLAIN) * n * wanted / max(wanted.sum(), RARE)
    strata = [
        (Stratum(name, state, max(FEWEST_ROWS, round(rows))), share)
        for (name, state), p, rows, share in zip(
            pairs, wanted.tolist(), drawn.tolist(), found.tolist(), strict=True
        )
        if p > RARE and share > 0.0
    ]
    strata += _failing(known, mixture, ceil(FAILING * n))
    plain = ceil(PLAIN * n)
    draws = draw(base, plain, seed, [one for one, _ in strata])
    rows, counts = _merged(draws) if merge else (draws, np.ones(len(draws), dtype=np.intp))
    density = np.full(len(rows), float(plain))
    for one, share in strata:
        density += (rows[:, columns[one.variable]] == one.state) * (one.rows / share)
    each = _likelihood(known, rows, columns) / density
    kept = each > 0.0
    weights = counts[kept] * each[kept]
    total = weights.sum()
    effective = float(total**2 / (weights @ each[kept]))
    return Rows(columns, np.ascontiguousarray(rows[kept].T), weights / total, effective)


def _spread_over(term: Term, pairs: Sequence[tuple[str, int]]) -> Floats:
    """(pairs,): P(path of the fault | term); a tree without the fault knows it to be absent."""
    faults = term.side.faults
    found = dict(zip(faults.pairs, faults.probabilities(term.beliefs).tolist(), strict=True))
    return np.array([found.get(pair, 0.0) for pair in pairs])


def _failing(known: Ground, mixture: Mixture, n: int) -> list[tuple[Stratum, float]]:
    """Strata for the states in which the unit does not work at a proof that says so."""
    trees = known.trees
    pairs = []
    for proof in known.findings:
        if proof.observation == graph.PROOF and proof.likelihood[1] > proof.likelihood[0]:
            for name, good in known.working(proof.epoch).items():
                pairs += [(name, int(state)) for state in np.flatnonzero(good == 0.0)]
    pairs = list(dict.fromkeys(pairs))
    shares = Chosen.of(trees.whole.tree, pairs).probabilities(mixture.terms[0].beliefs)
    total = shares.sum()
    return [
        (Stratum(name, state, max(1, round(n * share / total))), share)
        for (name, state), share in zip(pairs, shares.tolist(), strict=True)
        if share > 0.0
    ]


def _likelihood(known: Ground, rows: States, columns: Mapping[str, int]) -> Floats:
    """(rows,): P(call and what proofs showed | row)."""
    trees = known.trees
    any_fault = np.zeros(len(rows), dtype=bool)
    for fault in known.model.faults:
        any_fault |= trees.paths[fault].at(0)[rows[:, columns[fault]]] == 1
    result = np.where(any_fault, 1.0, odds.base(known.model).call_without_fault)
    for proof in known.findings:
        if proof.observation == graph.PROOF:
            working = np.ones(len(rows))
            for name, good in known.working(proof.epoch).items():
                working *= good[rows[:, columns[name]]]
            fails, works_then = known.proof_likelihoods(proof)
            result *= np.where(working > 0.0, works_then, fails)
    return result


def _merged(draws: States) -> tuple[States, NDArray[np.intp]]:
    """The different rows among `draws`, and how often each occurs.

    Rows are told apart by a 64-bit sum of their bytes, in words, with odd multipliers from a fixed
    seed; two of a few thousand rows would share one about once in 10^12 times.
    """
    padded = np.zeros((len(draws), -(-draws.shape[1] // 8) * 8), dtype=np.int8)
    padded[:, : draws.shape[1]] = draws
    words = padded.view(np.uint64)
    factors = Chance(0).bits(words.shape[1]) | np.uint64(1)
    # High bytes of a product never reach its low bits: fold them down before they are added up.
    mixed = words * factors
    mixed ^= mixed >> np.uint64(32)
    _, first, counts = np.unique(
        (mixed * factors[::-1]).sum(axis=1), return_index=True, return_counts=True
    )
    return draws[first], counts
