"""A unit drawn from the model itself: a check of consistency, no evidence about real softeners.

Everything about a visit follows from its seed and number by fixed random numbers: the site, what is
wrong, the noise, every answer and every repair's luck. So two policies that do the same to the same
unit see the same, whatever else they did before. A question that is asked again while no repair
touched what it depends on is answered the same again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.schema import CheckedModel, Model
from brinebayes.network import graph, odds
from brinebayes.network.worlds import States, Worlds, evaluate, noise_roots, outcome_chances, works
from brinebayes.visit.state import PROOF, PROOF_OUTCOMES

#: Calls that are tried before a model is taken to make none.
MOST_CALLS = 100_000


@dataclass
class DrawnUnit:
    """A unit about which somebody has called with one complaint.

    `site`: every condition. `now` and `found`: the unit as it is and as it was found, one row.
    """

    model: Model
    name: str
    site: Mapping[str, str]
    complaints: tuple[str, ...]
    found: Worlds
    now: Worlds
    done: tuple[str, ...] = ()
    _copies: Mapping[str, tuple[int, ...]] = field(default_factory=dict)

    def copy(self) -> DrawnUnit:
        """The same unit as it was when the call came, for another policy."""
        return replace(self, now=self.found, done=(), _copies={})

    @property
    def works(self) -> bool:
        """Whether the unit does its work now."""
        return bool(self.now.works[0])

    @property
    def faults(self) -> frozenset[str]:
        """What is wrong with it now."""
        return frozenset(name for name in self.model.faults if bool(self.now.has(name)[0]))

    def works_with(self, faults: frozenset[str]) -> bool:
        """Whether it would do its work if only these of its faults were left."""
        return bool(self.now.works_after([self.faults - faults])[0, 0])

    def observe(self, check: str) -> dict[str, str]:
        """What a technician would say to have found: observation -> outcome."""
        return {name: self._answer(name) for name in self.model.checks[check].observations}

    def prove(self) -> str:
        """`passed` or `failed`."""
        return self._answer(PROOF)

    def repair(self, repair: str) -> None:
        """Carry a repair out: what it clears may stay, and it may do harm."""
        work, attempt = self.model.repairs[repair], self.done.count(repair)
        faults = set(self.faults)
        for fault, chance in work.clears.items():
            luck = "luck" if work.same_luck else f"luck {attempt}"
            if self._number(luck, repair, fault) < chance.value:
                faults.discard(fault)
        for fault, chance in work.harms.items():
            if self._number(f"harm {attempt}", repair, fault) < chance.value:
                faults.add(fault)
        self.done = (*self.done, repair)
        self._copies = graph.versions(self.model, self.done)
        self.now = _worlds(self.model, self.now.site, faults, self.now.noise, self.found)

    def _answer(self, name: str) -> str:
        world = self.now
        faults, mechanisms = world.faults, world.mechanisms
        if name in graph.history(self.model):
            faults, mechanisms = world.first_faults, world.first_mechanisms
        chances = outcome_chances(self.model, name, world.site, faults, mechanisms)
        copy = graph.newest_copy(self._copies, name, len(self.done)) if self.done else 0
        # The copy is named by how often it was touched, so that other repairs do not matter.
        touched = len(set(self._copies[name][: len(self.done) + 1])) if copy else 0
        outcomes = PROOF_OUTCOMES if name == PROOF else graph.states_of(self.model, name)
        ends = np.cumsum(np.broadcast_to(chances, (1, len(outcomes)))[0])
        place = int(np.searchsorted(ends, self._number("answer", name, str(touched)) * ends[-1]))
        return outcomes[min(place, len(outcomes) - 1)]

    def _number(self, *what: str) -> float:
        """A number in [0, 1) that belongs to this unit and this question alone."""
        return _uniform(self.name, *what)


def draw(checked: CheckedModel, seed: int, visit: int) -> DrawnUnit:
    """The unit of one visit.

    Sites, faults and noise are drawn until a call is made, and one complaint, drawn at random, is
    said: beliefs given that a call with this complaint was made are then exactly right.
    """
    model, base = checked.model, odds.base(checked.model)
    chance = np.random.default_rng([seed, visit])
    complaints = list(model.complaints)
    for _ in range(MOST_CALLS):
        site = {
            name: str(chance.choice(list(condition.values), p=_shares(model, name)))
            for name, condition in model.site.items()
        }
        before = odds.priors(model, site)
        faults = {name for name, p in before.items() if chance.random() < p}
        if not faults and chance.random() >= base.call_without_fault:
            continue
        noise = {
            name: np.array([chance.choice(len(chances), p=chances)], dtype=np.int8)
            for name, chances in noise_roots(model).items()
        }
        places = {
            name: np.array([list(model.site[name].values).index(value)], dtype=np.int8)
            for name, value in site.items()
        }
        found = _worlds(model, places, faults, noise, None)
        said: tuple[str, ...] = ()
        if complaints:
            said = (str(chance.choice(complaints)),)
            likely = outcome_chances(model, said[0], places, found.faults, found.mechanisms)
            if chance.random() >= np.broadcast_to(likely, (1, 2))[0, 0]:
                continue
        name = f"{model.hash} {seed} {visit}"
        return DrawnUnit(model, name, ReadOnly(site), said, found, found)
    raise AssertionError("no call is ever made about a unit of this model")


def _shares(model: Model, condition: str) -> list[float]:
    shares = np.array([value.share.value for value in model.site[condition].values.values()])
    return list(shares / shares.sum())


def _worlds(
    model: Model,
    site: Mapping[str, States],
    faults: set[str],
    noise: Mapping[str, States],
    found: Worlds | None,
) -> Worlds:
    """One row; without `found` it is the unit as it was found itself."""
    present = np.array([[name in faults for name in model.faults]])
    mechanisms = evaluate(model, site, present, noise)
    return Worlds(
        model=model,
        site=site,
        faults=present,
        noise=noise,
        mechanisms=mechanisms,
        works=np.broadcast_to(works(model, mechanisms), (1,)),
        weights=np.ones(1),
        effective_draws=1.0,
        first_faults=present if found is None else found.first_faults,
        first_mechanisms=mechanisms if found is None else found.first_mechanisms,
    )


def _uniform(*what: str) -> float:
    digest = hashlib.sha256("\0".join(what).encode()).digest()
    return int.from_bytes(digest[:7], "big") / 2.0**56
