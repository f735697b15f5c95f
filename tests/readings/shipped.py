"""The shipped model's methods of reading, and numbers written for them."""

from __future__ import annotations

import math

from hypothesis import strategies as st

from brinebayes.knowledge.measuring import INSTRUMENTS
from brinebayes.knowledge.schema import ReadingMethod
from brinebayes.physics.units import UNITS, Unit, unit
from tests.situations.situations import shipped

METHODS: dict[str, ReadingMethod] = {
    name: observation.reading
    for check in shipped().checks.values()
    for name, observation in check.observations.items()
    if observation.reading is not None
}

#: For instruments that are read in other terms than their method is stated in: a unit, and the
#: least and greatest number of it that can be read.
READ_IN: dict[str, tuple[str, float, float]] = {
    "hydrometer": ("SG", 1.0, 1.199),
    "conductivity": ("mS/cm", 0.1, 220.0),
}


def span(name: str) -> tuple[Unit, float, float]:
    """The unit in which an observation's numbers are written here, the least and the greatest."""
    method = METHODS[name]
    if method.kind in READ_IN:
        symbol, least, greatest = READ_IN[method.kind]
        return unit(symbol), least, greatest
    return unit(method.unit), method.least.value, method.greatest.value


def written(name: str, number: float, in_unit: Unit, *, minutes: float = 10.0) -> str:
    """What a technician writes: the number with its unit, and a time where one is needed."""
    text = f"{number!r} {in_unit.symbol}"
    return f"{text} in {minutes!r} min" if METHODS[name].kind == "level_drop" else text


def numbers(name: str) -> st.SearchStrategy[float]:
    """Numbers that can be read for an observation, crowded towards nothing."""
    _, least, greatest = span(name)
    near = st.floats(-3, 0).map(lambda power: greatest * 10**power)
    return st.one_of(st.floats(least, greatest), near.filter(lambda x: least <= x <= greatest))


def other_units(name: str) -> list[Unit]:
    """The other units of what is written here for an observation."""
    here = span(name)[0]
    return [each for each in UNITS if each.dimension == here.dimension and each is not here]


@st.composite
def told(draw: st.DrawFn) -> dict[str, str]:
    """Some measures of the site, each anywhere between its least and greatest."""
    found = {}
    for name, measure in shipped().measures.items():
        if not draw(st.booleans()):
            continue
        if measure.words:
            found[name] = draw(st.sampled_from(sorted(measure.words)))
            continue
        assert measure.least is not None
        assert measure.greatest is not None
        least, greatest = measure.least.value, measure.greatest.value
        if least > 0:
            value = math.exp(draw(st.floats(math.log(least), math.log(greatest))))
            value = min(max(value, least), greatest)
        else:
            value = draw(st.floats(least, greatest))
        found[name] = f"{value!r} {measure.unit}"
    return found


observations = st.sampled_from(sorted(METHODS))

assert all(method.kind in INSTRUMENTS for method in METHODS.values())
