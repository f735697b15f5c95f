"""Cases drawn from a model in bulk.

What is looked at is drawn at random, so that a hundred thousand cases take minutes; how a
technician chooses does not matter to time and memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from brinebayes.cases.record import Case, Confirmed, Step
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph, odds, worlds
from brinebayes.visit.events import Complained, Done, Ended, Event, ModelIs, Saw, SiteKnown

#: Cases drawn at once, observations looked at in each, and what part of the sites is told.
AT_ONCE, LOOKED_AT, TOLD = 512, 10, 0.6
#: How often a fault is seen at its repair.
EYES = 0.6
#: The part of repairs after which there is time for a proof.
PROVEN = 0.85
FIRST, DAYS = date(2023, 1, 2), 700


def cases(model: Model, count: int, seed: int) -> Iterator[Case]:
    """Closed visits: a site, complaints, ten observations at random, the repair of a fault that is
    there (of any, if none is) and mostly a proof."""
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
        seen = {
            name: _outcomes(model, draw, name, site, faults, states)
            for name in (*names, *model.complaints)
        }
        repairs = [_repair(model, draw, faults[i]) for i in range(n)]
        left = np.array([_repaired(model, draw, r, faults[i]) for i, r in enumerate(repairs)])
        after = worlds.evaluate(model, site, left, rows)
        seen[graph.PROOF] = _outcomes(model, draw, graph.PROOF, site, left, after)
        for i in range(min(n, count - done)):
            day = FIRST + timedelta(days=(done + i) * DAYS // count)
            yield _case(model, draw, f"drawn-{seed}-{done + i}", day.isoformat(), names,
                        {k: int(v[i]) for k, v in site.items()},
                        {k: int(v[i]) for k, v in seen.items()}, faults[i], repairs[i])  # fmt: skip
        done += n


def _outcomes(
    model: Model,
    draw: np.random.Generator,
    name: str,
    site: dict[str, np.ndarray],
    faults: np.ndarray,
    states: dict[str, np.ndarray],
) -> NDArray[np.intp]:
    chances = worlds.outcome_chances(model, name, site, faults, states)
    ends = np.cumsum(np.broadcast_to(chances, (len(faults), chances.shape[-1])), axis=1)
    reached = (draw.random(len(faults))[:, None] > ends).sum(axis=1)
    return np.minimum(reached, ends.shape[1] - 1).astype(np.intp)


def _repair(model: Model, draw: np.random.Generator, faults: np.ndarray) -> str:
    there = {name for name, present in zip(model.faults, faults, strict=True) if present}
    able = [name for name, repair in model.repairs.items() if there & repair.clears.keys()]
    return min(able, key=lambda name: len(model.repairs[name].clears), default="") or str(
        draw.choice(list(model.repairs))
    )


def _repaired(
    model: Model, draw: np.random.Generator, repair: str, faults: np.ndarray
) -> np.ndarray:
    left, places = faults.copy(), list(model.faults)
    for fault, chance in model.repairs[repair].clears.items():
        left[places.index(fault)] &= draw.random() >= chance.value
    for fault, chance in model.repairs[repair].harms.items():
        left[places.index(fault)] |= draw.random() < chance.value
    return left


def _case(
    model: Model,
    draw: np.random.Generator,
    id: str,
    day: str,
    names: tuple[str, ...],
    site: dict[str, int],
    seen: dict[str, int],
    faults: np.ndarray,
    repair: str,
) -> Case:
    def outcome(name: str) -> str:
        return str(graph.states_of(model, name)[seen[name]])

    known = (name for name in site if draw.random() < TOLD)
    looked = (names[k] for k in draw.choice(len(names), LOOKED_AT, replace=False))
    proof = (Saw(graph.PROOF, outcome(graph.PROOF)),) if draw.random() < PROVEN else ()
    passed = bool(proof) and outcome(graph.PROOF) == "passed"
    events: list[Event] = [
        *(SiteKnown(name, list(model.site[name].values)[site[name]]) for name in known),
        *(Complained(name) for name in model.complaints if outcome(name) == "said"),
        *(Saw(name, outcome(name)) for name in looked),
        Done(repair),
        *proof,
        Ended("proven" if passed else "second_visit_needed", "", "", "", ()),
    ]
    there = dict(zip(model.faults, faults.tolist(), strict=True))
    able = [f for f in model.repairs[repair].clears if there[f] and draw.random() < EYES]
    return Case(
        id, day, day, ModelIs(model.about.id, "0", "0"), tuple(map(Step, events)),
        confirmed=tuple(Confirmed(fault, "seen", 0.97) for fault in able),
        call_back="no", invented=True,
    )  # fmt: skip
