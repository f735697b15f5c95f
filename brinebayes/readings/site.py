"""What is known of the site as numbers: told by the technician, or how such sites usually are."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from brinebayes.errors import UsageError
from brinebayes.knowledge.names import listed, lookup, suggest
from brinebayes.knowledge.schema import Measure, Model, Number
from brinebayes.physics import capacity, units
from brinebayes.record import record

#: Resin of tanks of one diameter: two in three within this factor. Judgement.
USUAL_RESIN_FACTOR = 1.2


@record
class Known:
    """A measure of the site: its value is known within / and x e^`sigma`, two times in three."""

    value_si: float
    sigma: float
    told: bool
    says: str


def known(model: Model, names: Iterable[str], told: Mapping[str, str]) -> dict[str, Known]:
    """Each of `names` as it was told, or as sites usually are.

    A measure that says nothing of sites that were not told is left out. Raises `UsageError` for a
    value that cannot be.
    """
    found: dict[str, Known] = {}
    for name in names:
        measure = model.measures.get(name)
        if measure is None:
            continue
        if name in told:
            found[name] = tell(name, measure, told[name])
        elif name == "resin_volume" and "tank_diameter" in told:
            found[name] = _usual_resin(model, told)
        elif measure.words:
            found[name] = _any_word(measure)
        elif measure.middle is not None and measure.factor is not None:
            found[name] = _usual(measure, measure.middle, measure.factor)
    return found


def check(model: Model, name: str, text: str) -> None:
    """Raises `UsageError` if the model has no such measure or `text` cannot be its value."""
    tell(name, lookup("measure", name, model.measures), text)


def tell(name: str, measure: Measure, text: str) -> Known:
    """A measure as it was told. Raises `UsageError` for what cannot be its value."""
    if measure.words:
        word = measure.words.get(text.strip())
        if word is None:
            hint = suggest(text, measure.words) or f" (there are: {listed(measure.words)})"
            raise UsageError(f'{name}: "{text}" is none of its words{hint}')
        says = f"{measure.name.lower()}: {word.name}"
        return Known(word.value.value, math.log(word.factor.value), True, says)
    unit = units.unit(measure.unit)
    least, greatest = _value(measure.least), _value(measure.greatest)
    try:
        quantity = units.parse(text, unit.dimension, signed=least < 0)
    except UsageError as error:
        raise UsageError(f"{name}: {error}") from None
    slack = 1e-9 * max(abs(least), abs(greatest))  # The limits may have been told in another unit.
    if not least - slack <= unit.from_si(quantity.value_si) <= greatest + slack:
        raise UsageError(
            f'{name}: "{text.strip()}" is not between {_bare(least)} and '
            f"{unit.show(unit.to_si(greatest))}; look again"
        )
    says = f"{measure.name.lower()}: {quantity.number:g} {quantity.unit.symbol}"
    return Known(quantity.value_si, math.log(_value(measure.told)), True, says)


def _bare(number: float) -> str:
    """To three digits, without a unit."""
    return f"{float(f'{number:.3g}'):,g}"


def _usual(measure: Measure, middle: Number, factor: Number) -> Known:
    unit = units.unit(measure.unit)
    says = (
        f"{measure.name.lower()} not told: about {unit.show(unit.to_si(middle.value))}, "
        f"two in three within a factor of {factor.value:g}"
    )
    return Known(unit.to_si(middle.value), math.log(factor.value), False, says)


def _any_word(measure: Measure) -> Known:
    """Mean and spread of the logarithm over the words."""
    words = [
        (word.share.value, math.log(word.value.value), math.log(word.factor.value))
        for word in measure.words.values()
    ]
    mean = math.fsum(share * log for share, log, _ in words)
    squares = math.fsum(share * (log**2 + sigma**2) for share, log, sigma in words)
    sigma = math.sqrt(max(squares - mean**2, 0.0))
    names = " or ".join(word.name for word in measure.words.values())
    says = f"{measure.name.lower()} not told: {names}, within a factor of {math.exp(sigma):.2g}"
    return Known(math.exp(mean), sigma, False, says)


def _usual_resin(model: Model, told: Mapping[str, str]) -> Known:
    tank = tell("tank_diameter", model.measures["tank_diameter"], told["tank_diameter"])
    resin = capacity.usual_resin_m3(tank.value_si)
    says = (
        f"resin not told: about {units.FT3.show(resin)} in such a tank, "
        f"two in three within a factor of {USUAL_RESIN_FACTOR:g}"
    )
    return Known(resin, math.log(USUAL_RESIN_FACTOR), False, says)


def _value(number: Number | None) -> float:
    assert number is not None
    return number.value
