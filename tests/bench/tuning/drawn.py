"""Evidence drawn from a model in bulk.

What is looked at is drawn at random, so that a hundred thousand cases take a minute; how a
technician chooses does not matter to time and memory.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from brinebayes.knowledge.schema import Model
from brinebayes.network import graph, odds, worlds
from brinebayes.tuning.told import Told, confirmation

#: Cases drawn at once, observations looked at in each, and what part of the sites is told.
AT_ONCE, LOOKED_AT, TOLD = 512, 10, 0.6


def told_cases(model: Model, count: int, seed: int) -> Iterator[Told]:
    """Cases with a site, complaints, ten observations at random and one fault that was seen."""
    draw = np.random.default_rng(seed)
    noise = worlds.noise_roots(model)
    priors = np.array(list(odds.priors(model, {}).values()))
    without = odds.base(model).call_without_fault
    names = tuple(graph.observations(model))
    done = 0
    while done < count:
        faults = draw.random((AT_ONCE * 8, len(priors))) < priors
        calls = faults.any(axis=1) | (draw.random(len(faults)) < without)
        faults = faults[calls][:AT_ONCE]
        n = len(faults)
        site = {
            name: draw.choice(
                len(c.values), n, p=[v.share.value for v in c.values.values()]
            ).astype(np.int8)
            for name, c in model.site.items()
        }
        rows = {
            name: np.searchsorted(np.cumsum(p), draw.random(n)).astype(np.int8)
            for name, p in noise.items()
        }
        states = worlds.evaluate(model, site, faults, rows)
        seen = {}
        for name in (*names, *model.complaints):
            chances = worlds.outcome_chances(model, name, site, faults, states)
            ends = np.cumsum(np.broadcast_to(chances, (n, chances.shape[-1])), axis=1)
            seen[name] = np.minimum((draw.random(n)[:, None] > ends).sum(axis=1), ends.shape[1] - 1)
        for i in range(min(n, count - done)):
            yield _case(model, draw, names, {k: int(v[i]) for k, v in site.items()},
                        {k: int(v[i]) for k, v in seen.items()}, faults[i])  # fmt: skip
        done += n


def _case(
    model: Model,
    draw: np.random.Generator,
    names: tuple[str, ...],
    site: dict[str, int],
    seen: dict[str, int],
    faults: np.ndarray,
) -> Told:
    looked = [names[k] for k in draw.choice(len(names), LOOKED_AT, replace=False)]
    findings = []
    for name in sorted((*looked, *model.complaints)):
        outcomes = len(graph.states_of(model, name))
        findings.append((name, tuple(float(k == seen[name]) for k in range(outcomes))))
    there = np.flatnonzero(faults)
    if len(there) and draw.random() < 0.7:
        fault = list(model.faults)[int(draw.choice(there))]
        findings.append((fault, confirmation(model, fault, 0.97)))
    known = {
        name: list(model.site[name].values)[k] for name, k in site.items() if draw.random() < TOLD
    }
    return Told(tuple(sorted(known.items())), tuple(sorted(findings)))
