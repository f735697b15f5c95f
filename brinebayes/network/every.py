"""Every joint state of a model that has few of them, each once, with its exact probability.

Rows that differ in noise alone are one row when every mechanism does the same in both, whatever
faults are cleared or brought about by repairs: what stays is all that can matter in a visit.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product
from math import prod

import numpy as np
from numpy.typing import NDArray

from brinebayes.knowledge.schema import Model
from brinebayes.network import graph, odds
from brinebayes.network.chance import odd_factors
from brinebayes.network.worlds import States, Worlds, evaluate, noise_roots, works

Floats = NDArray[np.float64]

#: Joint states of faults, noise and site that are looked at, at most.
MOST_STATES = 1 << 17


def every_world(model: Model, site: Mapping[str, str]) -> Worlds | None:
    """All joint states given a call, at a site of which `site` is known; None if too many."""
    priors = odds.priors(model, site)
    uncertain = [j for j, q in enumerate(priors.values()) if 0.0 < q < 1.0]
    if 1 << len(uncertain) > MOST_STATES // 2:
        return None
    chances = {
        **{name: np.array(odds.site_chances(model, site, name)) for name in _conditions(model)},
        **noise_roots(model),
    }
    possible = {name: np.flatnonzero(of > 0.0) for name, of in chances.items()}
    others = prod(len(states) for states in possible.values())
    if others << len(uncertain) > MOST_STATES:
        return None
    grid = np.array(list(product(*possible.values())), dtype=np.int8).T
    grid = grid.reshape(len(possible), -1)
    rest = dict(zip(possible, grid, strict=True))
    weight = np.ones(grid.shape[1])
    for name, states in rest.items():
        weight *= chances[name][states]
    present = np.array(list(product((False, True), repeat=len(uncertain)))).reshape(
        -1, len(uncertain)
    )
    faults = np.tile(np.array([q >= 1.0 for q in priors.values()]), (len(present), 1))
    faults[:, uncertain] = present
    prior = np.array(list(priors.values()))
    shares = np.where(faults, prior, 1.0 - prior).prod(axis=1)
    shares[~faults.any(axis=1)] *= odds.base(model).call_without_fault
    where = {name: states for name, states in rest.items() if name in model.site}
    noise = {name: states for name, states in rest.items() if name not in model.site}
    found = evaluate(model, where, faults[:, None, :], noise)
    shape = (len(faults), grid.shape[1])
    mechanisms = {name: np.broadcast_to(states, shape) for name, states in found.items()}
    first, kinds, weights = _kinds(model, faults, where, mechanisms, weight)
    kept = shares[kinds] * weights
    rows = np.flatnonzero(kept > 0.0)
    kinds, first, kept = kinds[rows], first[rows], kept[rows]
    now = {name: states[kinds, first] for name, states in mechanisms.items()}
    return Worlds(
        model=model,
        site={name: states[first] for name, states in where.items()},
        faults=faults[kinds],
        noise={name: states[first] for name, states in noise.items()},
        mechanisms=now,
        works=np.broadcast_to(works(model, now), kept.shape),
        weights=kept / kept.sum(),
        effective_draws=np.inf,
        first_faults=faults[kinds],
        first_mechanisms=now,
    )


def _conditions(model: Model) -> tuple[str, ...]:
    """The site conditions that anything in the model depends on."""
    named = {parent for parents in graph.parents_of(model).values() for parent in parents}
    return tuple(name for name in model.site if name in named)


def _kinds(
    model: Model,
    faults: NDArray[np.bool_],
    site: Mapping[str, States],
    mechanisms: Mapping[str, States],
    weight: Floats,
) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    """For every row that is kept the first of its noise, its faults, and the chance of its noise.

    Two are one where the mechanisms agree for the faults that are present, for all that some of
    them can become through repairs, and in the site.
    """
    code = np.zeros((len(faults), len(weight)), dtype=np.int64)
    for states in mechanisms.values():
        code = code * 31 + states
    mixed = code * odd_factors(len(faults))[:, None]
    place = np.zeros(len(weight), dtype=np.int64)
    for states in site.values():
        place = place * 31 + states
    names = list(model.faults)
    cleared = {names.index(f) for repair in model.repairs.values() for f in repair.clears}
    harmed = {names.index(f) for repair in model.repairs.values() for f in repair.harms}
    goes = np.array([j in cleared for j in range(len(names))])
    comes = np.array([j in harmed for j in range(len(names))])
    first, kinds, weights = [], [], []
    for row, now in enumerate(faults):
        stays = now & ~goes
        may = now | comes
        reached = ((faults & stays) == stays).all(axis=1) & ~(faults & ~may).any(axis=1)
        key = mixed[reached].sum(axis=0) * 31 + place
        _, at, kind = np.unique(key, return_index=True, return_inverse=True)
        first.append(at)
        kinds.append(np.full(len(at), row))
        weights.append(np.bincount(kind, weights=weight, minlength=len(at)))
    return np.concatenate(first), np.concatenate(kinds), np.concatenate(weights)
