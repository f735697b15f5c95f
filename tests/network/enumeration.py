"""Every world of a small model, one a row: what the network must agree with.

Written from the words in DEVELOPERS.md and `worlds.evaluate`; knows nothing of networks or trees.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from brinebayes.knowledge.schema import Model
from brinebayes.network import graph, odds, worlds
from brinebayes.network.evidence import Question

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Enumerated:
    """All worlds of a visit. `weights`: P(world and call | site). `faults`: per epoch (n, faults).

    `site` and `noise` hold for all epochs.
    """

    model: Model
    done: tuple[str, ...]
    site: Mapping[str, NDArray[np.int8]]
    noise: Mapping[str, NDArray[np.int8]]
    faults: tuple[NDArray[np.bool_], ...]
    weights: Floats

    def chances(self, name: str, epoch: int) -> Floats:
        """(n, states): P(state | world) of anything that can be observed, in one epoch."""
        model = self.model
        if name in graph.history(model):
            epoch = 0
        present = self.faults[epoch]
        if name in model.faults:
            here = present[:, list(model.faults).index(name)]
            return np.stack([~here, here], axis=1).astype(float)
        states = worlds.evaluate(model, self.site, present, self.noise)
        if name in model.mechanisms:
            count = len(model.mechanisms[name].states)
            at = np.broadcast_to(states[name], (len(self.weights),))
            return (at[:, None] == np.arange(count)).astype(float)
        found = worlds.outcome_chances(model, name, self.site, present, states)
        return np.broadcast_to(found, (len(self.weights), found.shape[-1]))

    def works(self) -> NDArray[np.bool_]:
        """(n,): whether the unit works in the last epoch."""
        states = worlds.evaluate(self.model, self.site, self.faults[-1], self.noise)
        return np.broadcast_to(worlds.works(self.model, states), (len(self.weights),))

    def copy_of(self, name: str, epoch: int) -> int:
        """The epoch whose state of the unit an observation in `epoch` speaks of: it is the same
        question again as long as no repair touches anything upstream of it."""
        if name in graph.history(self.model):
            return 0
        parents = graph.parents_of(self.model)
        upstream, waiting = {name}, [name]
        while waiting:
            for parent in parents.get(waiting.pop(), ()):
                if parent not in upstream:
                    upstream.add(parent)
                    waiting.append(parent)
        for at in range(epoch, 0, -1):
            repair = self.model.repairs[self.done[at - 1]]
            if upstream & {*repair.clears, *repair.harms}:
                return at
        return 0

    def given(self, question: Question) -> Floats:
        """(n,): P(world, call and everything in the question)."""
        latest: dict[tuple[str, int], tuple[int, Floats]] = {}
        for complaint in question.complaints:
            latest[complaint, 0] = (0, np.array([1.0, 0.0]))
        for seen in question.seen:
            key = (seen.observation, self.copy_of(seen.observation, seen.epoch))
            latest[key] = (seen.epoch, np.array(seen.likelihood))
        weights = self.weights.copy()
        for (name, _), (epoch, likelihood) in latest.items():
            weights *= self.chances(name, epoch) @ likelihood
        return weights


def enumerate_worlds(model: Model, site: Mapping[str, str], done: Iterable[str] = ()) -> Enumerated:
    """Every combination of site, faults, luck, harm and noise that has any chance."""
    done = tuple(done)
    columns: list[NDArray[np.int64]] = []
    weights = np.ones(1)

    def add(chances: Floats) -> int:
        """One more independent choice; returns its column."""
        nonlocal weights
        places = np.flatnonzero(chances)
        columns[:] = [np.repeat(column, len(places)) for column in columns]
        columns.append(np.tile(places, len(weights)))
        weights = (weights[:, None] * chances[places]).ravel()
        return len(columns) - 1

    needed = {p for parents in graph.parents_of(model).values() for p in parents}
    site_at = {
        name: add(np.array(odds.site_chances(model, site, name)))
        for name in model.site
        if name in needed
    }
    first = [add(np.array([1.0 - p, p])) for p in odds.priors(model, site).values()]
    noise_at = {name: add(chances) for name, chances in worlds.noise_roots(model).items()}
    luck_at: dict[tuple[str, str, int], int] = {}
    harm_at: dict[tuple[str, int], int] = {}
    for epoch, repair_id in enumerate(done, start=1):
        repair = model.repairs[repair_id]
        for fault, chance in repair.clears.items():
            once = (repair_id, fault, 0 if repair.same_luck else epoch)
            if once not in luck_at:
                luck_at[once] = add(np.array([1.0 - chance.value, chance.value]))
        for fault, chance in repair.harms.items():
            harm_at[fault, epoch] = add(np.array([1.0 - chance.value, chance.value]))
    faults = [np.stack([columns[at] for at in first], axis=1).astype(bool)]
    for epoch, repair_id in enumerate(done, start=1):
        repair = model.repairs[repair_id]
        after = faults[-1].copy()
        for j, fault in enumerate(model.faults):
            if fault in repair.clears:
                once = (repair_id, fault, 0 if repair.same_luck else epoch)
                after[:, j] &= columns[luck_at[once]] == 0
            if fault in repair.harms:
                after[:, j] |= columns[harm_at[fault, epoch]] == 1
        faults.append(after)
    without = odds.base(model).call_without_fault
    calls = np.where(faults[0].any(axis=1), 1.0, without)
    return Enumerated(
        model=model,
        done=done,
        site={name: columns[at].astype(np.int8) for name, at in site_at.items()},
        noise={name: columns[at].astype(np.int8) for name, at in noise_at.items()},
        faults=tuple(faults),
        weights=weights * calls,
    )


def count_worlds(model: Model, done: Iterable[str] = ()) -> int:
    """How many rows `enumerate_worlds` would make when nothing is known of the site."""
    count = 2 ** len(model.faults)
    for condition in model.site.values():
        count *= len(condition.values)
    for chances in worlds.noise_roots(model).values():
        count *= int((chances > 0.0).sum())
    for repair in (model.repairs[name] for name in done):
        count *= 2 ** (len(repair.clears) + len(repair.harms))
    return count


def every_site(model: Model) -> list[dict[str, str]]:
    """Every fully known site."""
    names = list(model.site)
    return [
        dict(zip(names, values, strict=True))
        for values in product(*(model.site[name].values for name in names))
    ]
