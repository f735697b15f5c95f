"""Ids are lower_snake_case, unique over all kinds, and none of the program's own words."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from brinebayes.knowledge.names import a
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.shape import Finding
from brinebayes.knowledge.well_formed import known as kinds
from brinebayes.knowledge.well_formed.spots import (
    ABOUT,
    CHECKS,
    COMPLAINTS,
    FAULTS,
    MEASURES,
    MECHANISMS,
    PARTS,
    REPAIRS,
    RULES,
    SETUPS,
    SITE,
    SOURCES,
    Spot,
)

RESERVED = ("works", "proof", "call", "present", "absent")

_ID = re.compile(r"[a-z][a-z0-9]*(?:_[a-z0-9]+)*")
_STATE = re.compile(r"[a-z0-9]+(?:_[a-z0-9]+)*")


def findings(model: Model) -> Iterator[Finding]:
    """Ids and names of states that are badly written, reserved or used twice."""
    if not _ID.fullmatch(model.about.id):
        yield (ABOUT / "id").says(_badly_written(model.about.id))
    first: dict[str, str] = {}
    for spot, name, kind in _shared(model):
        if not _ID.fullmatch(name):
            yield spot.says(_badly_written(name), on_key=True)
        elif name in RESERVED:
            says = f"{name} is a word of the program and cannot be an id"
            yield spot.says(f"{says} (nor can {', '.join(RESERVED)})", on_key=True)
        elif name in first:
            says = f"{name} is already the id of {a(first[name])}; an id is unique in a model"
            yield spot.says(says, on_key=True)
        first.setdefault(name, kind)
    for spot, name in _others(model):
        if not _ID.fullmatch(name):
            yield spot.says(_badly_written(name), on_key=True)
    for spot, name in _states(model):
        if not _STATE.fullmatch(name):
            yield spot.says(_badly_written(name), on_key=True)
    for name, mechanism in model.mechanisms.items():
        for index, state in enumerate(mechanism.states):
            if state in mechanism.states[:index]:
                yield (MECHANISMS / name / "states" / index).says(f"{state} is named twice")


def _badly_written(name: str) -> str:
    return f"{name!r} must be written in small letters, digits and single underscores"


def _shared(model: Model) -> Iterator[tuple[Spot, str, str]]:
    """The ids that share one namespace, in file order."""
    yield from _each(SITE, model.site, kinds.CONDITION)
    yield from _each(MEASURES, model.measures, kinds.MEASURE)
    yield from _each(FAULTS, model.faults, kinds.FAULT)
    yield from _each(MECHANISMS, model.mechanisms, kinds.MECHANISM)
    for name, check in model.checks.items():
        yield CHECKS / name, name, kinds.CHECK
        at = CHECKS / name / "observations"
        yield from _each(at, check.observations, kinds.OBSERVATION)
    yield from _each(REPAIRS, model.repairs, kinds.REPAIR)
    yield from _each(SETUPS / "moves", model.setups.moves, kinds.MOVE)
    yield from _each(RULES, model.rules, kinds.RULE)
    yield from _each(COMPLAINTS, model.complaints, kinds.COMPLAINT)


def _each(top: Spot, of: Mapping[str, object], kind: str) -> Iterator[tuple[Spot, str, str]]:
    for name in of:
        yield top / name, name, kind


def _others(model: Model) -> Iterator[tuple[Spot, str]]:
    """Ids that are only looked up among their own kind."""
    for name in model.parts:
        yield PARTS / name, name
    for name in model.setups.variables:
        yield SETUPS / "variables" / name, name
    for name in model.setups.invariants:
        yield SETUPS / "invariants" / name, name
    for name in model.sources:
        yield SOURCES / name, name


def _states(model: Model) -> Iterator[tuple[Spot, str]]:
    """Names of values, states and outcomes."""
    for name, condition in model.site.items():
        for value in condition.values:
            yield SITE / name / "values" / value, value
    for name, measure in model.measures.items():
        for word in measure.words:
            yield MEASURES / name / "words" / word, word
    for name, mechanism in model.mechanisms.items():
        for index, state in enumerate(mechanism.states):
            yield MECHANISMS / name / "states" / index, state
    for check_id, check in model.checks.items():
        for name, observation in check.observations.items():
            for outcome in observation.outcomes:
                yield CHECKS / check_id / "observations" / name / "outcomes" / outcome, outcome
    for name, variable in model.setups.variables.items():
        for value in variable.values:
            yield SETUPS / "variables" / name / "values" / value, value
