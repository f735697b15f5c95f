"""Measures of the site and methods of reading: units that fit, scales without gaps, all there."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from brinebayes.errors import UsageError
from brinebayes.knowledge.measuring import COMPARISONS, INSTRUMENTS
from brinebayes.knowledge.names import a, listed, suggest
from brinebayes.knowledge.schema import Measure, Model, Observation, ReadingMethod
from brinebayes.knowledge.shape import Finding
from brinebayes.knowledge.well_formed.numbers import TOLERANCE
from brinebayes.knowledge.well_formed.spots import CHECKS, MEASURES, Spot
from brinebayes.physics.units import unit as unit_called

_NUMBERS = ("least", "greatest", "told")


def findings(model: Model) -> Iterator[Finding]:
    """Measures that cannot be told, and methods that cannot turn a number into outcomes."""
    for name, measure in model.measures.items():
        yield from _measure(MEASURES / name, measure)
    for check_id, check in model.checks.items():
        for name, observation in check.observations.items():
            if observation.reading is not None:
                spot = CHECKS / check_id / "observations" / name / "reading"
                yield from _method(model, spot, observation, observation.reading)


def _measure(spot: Spot, measure: Measure) -> Iterator[Finding]:
    given = [name for name in ("unit", *_NUMBERS, "middle", "factor") if getattr(measure, name)]
    if measure.words:
        for name in given:
            says = "does nothing in a measure that is told in words; leave it out"
            yield (spot / name).says(says, on_key=True)
        total = math.fsum(word.share.value for word in measure.words.values())
        if abs(total - 1) > TOLERANCE:
            says = f"the shares of the words sum to {total:.10g}, not 1; nothing is renormalised"
            yield (spot / "words").says(says, on_key=True)
        return
    if not given:
        yield spot.lacks("unit", "a measure has a unit and its numbers, or words")
        return
    yield from _unit(spot, measure.unit, (), "a measure that is a number states its unit")
    for name in _NUMBERS:
        if getattr(measure, name) is None:
            yield spot.lacks(name, "a measure that is a number states its least, greatest and told")
    if (measure.middle is None) != (measure.factor is None):
        lacking = "middle" if measure.middle is None else "factor"
        yield spot.lacks(lacking, "middle and factor go together, or neither is there")
    least, greatest, middle = measure.least, measure.greatest, measure.middle
    if least is not None and greatest is not None:
        yield from _ascending(spot, least.value, greatest.value)
        if middle is not None and not least.value <= middle.value <= greatest.value:
            says = f"the middle lies between least and greatest; this is {middle.value:g}"
            yield (spot / "middle" / "value").says(says)


def _method(
    model: Model, spot: Spot, observation: Observation, method: ReadingMethod
) -> Iterator[Finding]:
    written, looks = INSTRUMENTS[method.kind], COMPARISONS[method.compare]
    why = f"{a(method.kind)} reads in {written.gives}"
    yield from _unit(spot, method.unit, (written.gives,), why)
    if written.gives not in looks.of:
        says = f"{method.compare} is {a(' or '.join(looks.of))}, and {why}"
        yield (spot / "compare").says(says)
    yield from _scale(spot, observation, method)
    yield from _limits(spot / "limits", method)
    yield from _ascending(spot, method.least.value, method.greatest.value)
    for name, dimension in {**looks.needs, **looks.may_use}.items():
        if name in model.measures:
            yield from _fits(spot, method.compare, name, dimension, model.measures[name])
        elif name in looks.needs:
            says = f"{method.compare} needs the measure {name} in site.yaml"
            yield (spot / "compare").says(says)


def _unit(spot: Spot, name: str, of: tuple[str, ...], why: str) -> Iterator[Finding]:
    try:
        found = unit_called(name)
    except UsageError as error:
        yield (spot / "unit").says(f"{error}; {why}") if name else spot.lacks("unit", why)
        return
    if of and found.dimension not in of:
        yield (spot / "unit").says(f"{name} is {a(found.dimension)}; {why}")


def _fits(
    spot: Spot, compare: str, name: str, dimension: str, measure: Measure
) -> Iterator[Finding]:
    """A measure of the right dimension; its unit itself is judged where it stands."""
    if bool(measure.words) != (dimension == ""):
        wanted = "numbers" if dimension else "words"
        yield (spot / "compare").says(f"{compare} needs {name} told in {wanted}")
        return
    try:
        found = unit_called(measure.unit).dimension if measure.unit else dimension
    except UsageError:
        return
    if found != dimension:
        says = f"{compare} needs {name} as {a(dimension)}; in site.yaml it is {a(found)}"
        yield (spot / "compare").says(says)


def _scale(spot: Spot, observation: Observation, method: ReadingMethod) -> Iterator[Finding]:
    if len(method.scale) < 2:
        yield (spot / "scale").says("a scale has at least two outcomes", on_key=True)
    for index, outcome in enumerate(method.scale):
        at = spot / "scale" / index
        yield from _outcome(at, outcome, tuple(observation.outcomes), on_key=False)
        if outcome in method.scale[:index]:
            yield at.says(f"{outcome} is named twice")
    for outcome, spread in method.elsewhere.items():
        at = spot / "elsewhere" / outcome
        yield from _outcome(at, outcome, tuple(observation.outcomes), on_key=True)
        if outcome in method.scale:
            yield at.says(f"{outcome} is on the scale already", on_key=True)
        for state in spread.of:
            yield from _outcome(at / "of" / state, state, method.scale, on_key=True)
    for outcome in observation.outcomes:
        if outcome not in method.scale and outcome not in method.elsewhere:
            says = f"{outcome} is neither on the scale nor in elsewhere"
            yield (spot / "scale").says(says, on_key=True)


def _outcome(spot: Spot, word: str, known: tuple[str, ...], on_key: bool) -> Iterator[Finding]:
    if word not in known:
        near = suggest(word, known) or f" (there are: {listed(known)})"
        yield spot.says(f"there is no outcome {word} here{near}", on_key)


def _limits(spot: Spot, method: ReadingMethod) -> Iterator[Finding]:
    if len(method.limits) != len(method.scale) - 1:
        says = f"{len(method.scale)} outcomes have {len(method.scale) - 1} limits between them"
        yield spot.says(f"{says}, not {len(method.limits)}", on_key=True)
    for index, (low, high) in enumerate(pairwise(method.limits)):
        if low.of == high.of and not low.value < high.value:
            says = f"limits rise along the scale; {high.value:g} comes after {low.value:g}"
            yield (spot / (index + 1) / "value").says(says)


def _ascending(spot: Spot, least: float, greatest: float) -> Iterator[Finding]:
    if not least < greatest:
        says = f"must be above the least, {least:g}; this is {greatest:g}"
        yield (spot / "greatest" / "value").says(says)
