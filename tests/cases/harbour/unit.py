"""A unit with something wrong with it, drawn from a model: what is seen on it, what repairs do."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from brinebayes.knowledge.schema import Condition, Model
from brinebayes.network import worlds
from brinebayes.network.odds import base, priors
from brinebayes.visit.state import PROOF, observations_of

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Site = Mapping[str, str]


def draw_site(model: Model, chance: np.random.Generator) -> dict[str, str]:
    """Every condition of a site, by the shares of calls."""
    found = {}
    for name, condition in model.site.items():
        shares = [value.share.value for value in condition.values.values()]
        found[name] = tuple(condition.values)[_pick(shares, chance)]
    return found


def fits(when: Condition, site: Site) -> bool:
    """Whether something applies on a site."""
    return all(
        site[name] in ((states,) if isinstance(states, str) else states)
        for name, states in when.items()
    )


class Unit:
    """One unit, or many at once: `faults` is (units, faults). What is said first stays said."""

    def __init__(self, model: Model, site: Site, faults: Bools, chance: np.random.Generator):
        self.model, self.site, self.chance = model, site, chance
        self.faults = faults
        count = len(faults)
        self.noise = {
            root: np.searchsorted(
                np.cumsum(chances)[:-1], chance.random(count), side="right"
            ).astype(np.int8)
            for root, chances in worlds.noise_roots(model).items()
        }
        self.mechanisms = worlds.evaluate(model, site, faults, self.noise)
        self.first = (faults, self.mechanisms)
        self._answers: dict[tuple[str, int], int] = {}
        self._epoch = 0

    @property
    def works(self) -> Bools:
        """Whether each unit does its work now."""
        return np.broadcast_to(worlds.works(self.model, self.mechanisms), len(self.faults))

    def chances(self, observation: str) -> Floats:
        """(units, outcomes): how likely each outcome is on each unit now."""
        history = observation != PROOF and observation not in self.model.complaints
        history = history and self.model.observation(observation).history
        past = history or observation in self.model.complaints
        faults, mechanisms = self.first if past else (self.faults, self.mechanisms)
        found = worlds.outcome_chances(self.model, observation, self.site, faults, mechanisms)
        return np.broadcast_to(found, (len(self.faults), found.shape[-1]))

    def look(self, observation: str) -> str:
        """What is seen on the first unit; the same again until something is repaired."""
        key = (observation, self._epoch)
        if key not in self._answers:
            self._answers[key] = _pick(self.chances(observation)[0], self.chance)
        return observations_of(self.model)[observation][1][self._answers[key]]

    def says(self, complaint: str) -> bool:
        """Whether the customer of the first unit complains of this."""
        return _pick(self.chances(complaint)[0], self.chance) == 0

    def repair(self, name: str) -> None:
        """Carry out a repair on every unit, with its own luck on each."""
        repair = self.model.repairs[name]
        faults = self.faults.copy()
        names = list(self.model.faults)
        for fault, number in repair.clears.items():
            place = names.index(fault)
            faults[:, place] &= self.chance.random(len(faults)) >= number.value
        for fault, number in repair.harms.items():
            place = names.index(fault)
            faults[:, place] |= self.chance.random(len(faults)) < number.value
        self.faults = faults
        self.mechanisms = worlds.evaluate(self.model, self.site, faults, self.noise)
        self._epoch += 1


def draw_called(model: Model, site: Site, count: int, chance: np.random.Generator) -> Unit:
    """Units on this site for which a call was made."""
    odds = base(model)
    rates = np.array(list(priors(model, site).values()))
    rows: list[Bools] = []
    while sum(map(len, rows)) < count:
        faults = chance.random((4 * count, len(rates))) < rates
        called = faults.any(axis=1) | (chance.random(4 * count) < odds.call_without_fault)
        rows.append(faults[called])
    return Unit(model, site, np.concatenate(rows)[:count], chance)


def _pick(chances: object, chance: np.random.Generator) -> int:
    heap = np.cumsum(np.asarray(chances, dtype=float))
    return int(min(np.searchsorted(heap, chance.random() * heap[-1], side="right"), len(heap) - 1))
