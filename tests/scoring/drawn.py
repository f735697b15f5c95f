"""Closed cases drawn from a model itself, all of whose faults were found: what is confirmed is
what was there, and what was looked at was chosen at random."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from brinebayes.cases.record import Case, Confirmed, Step
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph, odds, worlds
from brinebayes.visit.events import Ended, Event, ModelIs, Saw, SiteKnown


def cases(
    model: Model, count: int, seed: int, looked_at: int = 6, always: Sequence[str] = ()
) -> Iterator[Case]:
    """Cases with the whole site, `looked_at` observations at random and those of `always`, and
    every fault. There are no complaints, since a record does not say of which nobody thought, and
    no calls without a fault, since they cannot be scored."""
    draw = np.random.default_rng(seed)
    noise = worlds.noise_roots(model)
    names, faults = tuple(graph.observations(model)), tuple(model.faults)
    number = 0
    while number < count:
        site = {
            name: str(draw.choice(list(c.values), p=[v.share.value for v in c.values.values()]))
            for name, c in model.site.items()
        }
        chances = np.array(list(odds.priors(model, site).values()))
        there = draw.random((256, len(faults))) < chances
        there = there[there.any(axis=1)]
        if not len(there):
            continue
        present = there[0]
        rows = {
            name: np.int8(np.searchsorted(np.cumsum(p), draw.random())) for name, p in noise.items()
        }
        states = worlds.evaluate(model, site, present, rows)
        events: list[Event] = [SiteKnown(name, value) for name, value in site.items()]
        chosen = draw.choice(len(names), min(looked_at, len(names)), replace=False)
        for name in dict.fromkeys((*always, *(names[k] for k in chosen))):
            outcome = worlds.outcome_chances(model, name, site, present, states)
            seen = draw.choice(graph.states_of(model, name), p=outcome / outcome.sum())
            events.append(Saw(name, str(seen)))
        events.append(Ended("escalated", "", "", "", ()))
        found = [Confirmed(f, "seen", 1.0) for f, p in zip(faults, present, strict=True) if p]
        number += 1
        yield Case(
            f"drawn-{seed}-{number}",
            "2024-01-02",
            "2024-01-02",
            ModelIs(model.about.id, model.about.version, model.hash),
            tuple(Step(event) for event in events),
            confirmed=tuple(found),
            call_back="no",
            unit=f"unit-{number % 40}",
            technician=f"t{number % 3}",
            invented=True,
        )
