"""Random visits as events: what a technician might tell, do and take back on a unit of a model."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

from brinebayes.errors import UnsafeRoute, UsageError
from brinebayes.knowledge.schema import Model
from brinebayes.setups.routes import tabulate
from brinebayes.setups.states import named
from brinebayes.visit.events import (
    Complained,
    CouldNot,
    Done,
    Event,
    Found,
    Measured,
    Note,
    PartHere,
    PartMissing,
    Read,
    Refilled,
    Saw,
    SetupIs,
    SiteKnown,
    Skipped,
    Undo,
    Waiting,
    arrived,
)
from brinebayes.visit.state import PROOF, fold

#: What may be written for a unit of a reading, and for measures of the site.
WRITTEN = {
    "gpm": ("0.2 gpm", "0.6 gpm", "1 gal in 95 s", "2.4 gpm", "7.5 L/min"),
    "in": ("0.1 in in 10 min", "0.5 in in 10 min", "-0.2 in in 5 min", "9 in", "22 in after 5 min"),
    "psi": ("20 psi", "55 psi", "3.4 bar"),
    "inHg": ("2 inHg", "19 inHg", "-1 inHg"),
    "gpg": ("0 gpg", "3 gpg", "18 gpg", "120 mg/L"),
    "wt%": ("1.12 SG after 20 min", "1.19 SG", "24 %", "60 mS/cm", "8 wt%"),
    "gal": ("3 gal of 5 gal", "5 gal of 5 gal", "40 gal"),
    "V": ("0.4 V", "23.5 V"),
    "ft": ("12 ft", "45 ft", "7 m"),
}
#: What may be told of the site as a number; what does not fit its measure is refused.
FIGURES = ["10 in", "40 psi", "20 gpg", "2 gpm", "1.5 ft3", "8 lb/ft3", "24 V", "4 ft"]


def walks(model: Model, count: int, seed: int, repairs: tuple[str, ...]) -> Iterator[list[Event]]:
    """`count` lists of events that fold; repairs only from `repairs`, at most one a visit."""
    chance = Random(seed)
    for _ in range(count):
        events: list[Event] = [Complained(chance.choice(list(model.complaints)))]
        for _ in range(chance.randint(0, 14)):
            more = [*events, *_step(model, chance, repairs)]
            try:
                fold(model, more)
            except (UsageError, UnsafeRoute):
                continue
            events = more
        if sum(isinstance(event, Done) for event in events) <= 1:
            yield events


def small_walks(model: Model, count: int, seed: int) -> Iterator[list[Event]]:
    """`count` lists of answers, repairs and failed proofs on a model without a site."""
    chance = Random(seed)
    looks = [
        (name, list(one.outcomes))
        for check in model.checks.values()
        for name, one in check.observations.items()
    ]
    for _ in range(count):
        events: list[Event] = []
        for _ in range(chance.randint(1, 4)):
            if chance.random() < 0.4:
                events += [Done(chance.choice(list(model.repairs))), Saw(PROOF, "failed")]
            name, outcomes = chance.choice(looks)
            events.append(Saw(name, chance.choice(outcomes)))
        yield events


def _step(model: Model, chance: Random, repairs: tuple[str, ...]) -> list[Event]:
    checks = model.checks
    check = chance.choice(list(checks))
    name = chance.choice(list(checks[check].observations))
    observation = checks[check].observations[name]
    part = chance.choice(list(model.parts))
    kind = chance.randrange(14)
    if kind == 0:
        condition = chance.choice(list(model.site))
        return [SiteKnown(condition, chance.choice(list(model.site[condition].values)))]
    if kind == 1:
        measure = chance.choice(list(model.measures))
        words = list(model.measures[measure].words)
        texts = words or [
            "10 in",
            "40 psi",
            "20 gpg",
            "2 gpm",
            "1.5 ft3",
            "8 lb/ft3",
            "24 V",
            "4 ft",
        ]
        return [Measured(measure, chance.choice(texts))]
    if kind == 2 and repairs:
        done: list[Event] = [Done(chance.choice(repairs))]
        return [*done, Saw(PROOF, "failed")] if chance.random() < 0.5 else done
    if kind == 3:
        return [chance.choice([PartMissing(part), PartHere(part)])]
    if kind == 4:
        told: list[Event] = [Note("words"), Found(chance.choice(list(model.faults)), "seen")]
        return [chance.choice([Skipped(name), CouldNot(check), Refilled(), Undo(), *told])]
    if kind == 5:
        return [_setup(model, chance)]
    if kind == 6:
        routes = tabulate(model)
        end = routes.way(routes.service_state, checks[check].needs).end
        setup = named(model.setups, routes.after(end, checks[check].leaves))
        way: list[Event] = [arrived(check, setup)]
        return [*way, Waiting(check)] if chance.random() < 0.3 else way
    if observation.reading is not None and chance.random() < 0.7:
        written = WRITTEN.get(observation.reading.unit, ("1",))
        return [Read(name, chance.choice(written))]
    return [Saw(name, chance.choice(list(observation.outcomes)))]


def _setup(model: Model, chance: Random) -> Event:
    variable = chance.choice(list(model.setups.variables))
    values = list(model.setups.variables[variable].values)
    return SetupIs(variable, chance.choice(values))
