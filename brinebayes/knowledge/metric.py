"""The model with its readings and measures in metric units: what a metric shop is shown and asked.

Only the unit in which a number is shown changes. What may be typed does not: every unit of the
same kind is understood either way.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.schema import Check, Measure, Model, Number, Observation, ReadingMethod
from brinebayes.physics.units import Unit, in_metric, unit


def metric(model: Model) -> Model:
    """The same model, its numbers told in metric units; no likelihood changes."""
    return replace(
        model,
        checks=ReadOnly({name: _check(check) for name, check in model.checks.items()}),
        measures=ReadOnly({name: _measure(item) for name, item in model.measures.items()}),
    )


def _check(check: Check) -> Check:
    found = {name: _observation(item) for name, item in check.observations.items()}
    return replace(check, observations=ReadOnly(found))


def _observation(item: Observation) -> Observation:
    return item if item.reading is None else replace(item, reading=_method(item.reading))


def _method(method: ReadingMethod) -> ReadingMethod:
    old = unit(method.unit)
    new = in_metric(old)
    # Compared with one of its unit, a limit stands in the unit; else it says so, or is a share.
    in_unit = method.compare == "unit"
    limits = tuple(
        replace(limit, value=_moved(limit.value, old, new))
        if in_unit or limit.of == "unit"
        else limit
        for limit in method.limits
    )
    # A resolution is a difference: where a scale begins does not matter.
    resolution = replace(method.resolution, value=method.resolution.value * old.scale / new.scale)
    return replace(
        method,
        unit=new.symbol,
        limits=limits,
        resolution=resolution,
        least=_number(method.least, old, new),
        greatest=_number(method.greatest, old, new),
    )


def _measure(measure: Measure) -> Measure:
    if not measure.unit:
        return measure
    old = unit(measure.unit)
    new = in_metric(old)
    ends: dict[str, Any] = {
        name: None if number is None else _number(number, old, new)
        for name in ("least", "greatest", "middle")
        for number in [getattr(measure, name)]
    }
    return replace(measure, unit=new.symbol, **ends)


def _number(number: Number, old: Unit, new: Unit) -> Number:
    return replace(number, value=_moved(number.value, old, new))


def _moved(value: float, old: Unit, new: Unit) -> float:
    return value if new is old else new.from_si(old.to_si(value))
