"""A number with its unit, read as an observation."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Literal

from brinebayes.errors import UsageError
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.names import listed, suggest
from brinebayes.knowledge.schema import Comparison, Limit, Model, Observation, ReadingMethod
from brinebayes.physics import units
from brinebayes.physics.units import Unit
from brinebayes.readings import likelihood
from brinebayes.readings.expected import Expected, expect, percent, times
from brinebayes.readings.text import Taken, take
from brinebayes.record import record

#: From this share of the likelihood on, an outcome may be named as what was seen.
CLEAR = 0.8


@record
class Challenge:
    """Why a reading is not taken as it stands, in one line; `kind` says what is wrong with it."""

    kind: Literal["implausible", "too_early"]
    says: str


@record
class Reading:
    """What a number says.

    `text` as it was told, `written` as it was understood. `value` and `expected` are in `unit`
    (multiples of a limit if it is None), `ratio` is the first as a multiple of the second and
    `sigma` its relative standard uncertainty, site and instrument together. `likelihood`: over the
    outcomes of the observation in their order, the largest 1. `outcome`: the likeliest; `clear`:
    likely enough to be called what was seen. `not_told`: measures of the site that would make the
    answer sharper. `steps`: the arithmetic, line by line; `says`: all of it in one line. A
    challenged reading is not evidence.
    """

    observation: str
    text: str
    written: str
    value: float
    expected: float
    unit: str | None
    ratio: float
    sigma: float
    likelihood: tuple[float, ...]
    outcome: str
    clear: bool
    not_told: tuple[str, ...]
    steps: tuple[str, ...]
    says: str
    challenge: Challenge | None = None


def method_of(model: Model, observation: str) -> tuple[Observation, ReadingMethod]:
    """The observation and how numbers are read for it.

    Raises `UsageError` if there is no such observation, or it is told in words only.
    """
    found = {
        name: item for check in model.checks.values() for name, item in check.observations.items()
    }
    readable = [name for name, item in found.items() if item.reading is not None]
    if observation not in found:
        raise UsageError(f"there is no observation '{observation}'{suggest(observation, found)}")
    item = found[observation]
    if item.reading is None:
        outcomes = listed(item.outcomes)
        raise UsageError(
            f"{observation} is not read as a number; say one of {outcomes} "
            f"(numbers are read for {listed(readable, 40)})"
        )
    return item, item.reading


def interpret(
    model: Model, observation: str, text: str, told: Mapping[str, str] = ReadOnly({})
) -> Reading:
    """What a number that was read says about an observation.

    `told`: measure of the site -> its value as it was told, for instance `10 in`; what is not told
    makes the answer wider. A number that cannot be, or was taken too early, comes back with a
    challenge. Raises `UsageError` for what is no number of the right kind.
    """
    item, method = method_of(model, observation)
    try:
        taken = take(method.kind, text)
    except UsageError as error:
        raise UsageError(f"{observation}: {error}") from None
    found = expect(model, method, taken, told)
    ratio = found.sum.quantity / found.sum.expected
    sigma = _sigma(method, found)
    unit = units.unit(method.unit)
    on_scale = likelihood.bands(
        ratio,
        [_ratio_of(limit, unit, found) for limit in method.limits],
        sigma,
        _resolution(method, unit, found),
    )
    chances = dict(zip(method.scale, on_scale, strict=True))
    outcome = max(method.scale, key=lambda name: (round(chances[name], 12), chances[name]))
    values = [_chance(name, method, chances) for name in item.outcomes]
    return Reading(
        observation=observation,
        text=text,
        written=taken.written,
        value=_shown_number(found.sum.unit, found.sum.quantity),
        expected=_shown_number(found.sum.unit, found.sum.expected),
        unit=found.sum.unit.symbol if found.sum.unit else None,
        ratio=ratio,
        sigma=sigma,
        likelihood=likelihood.scaled(values),
        outcome=outcome,
        clear=chances[outcome] >= CLEAR,
        not_told=found.not_told,
        steps=_steps(method, taken, found, ratio, sigma, chances),
        says=_says(method, taken, found, ratio, chances, outcome),
        challenge=_challenge(observation, method, unit, taken),
    )


def _chance(name: str, method: ReadingMethod, chances: Mapping[str, float]) -> float:
    """P(the number's band | outcome), also for an outcome that is not on the scale."""
    if name in chances:
        return chances[name]
    return math.fsum(share * chances[band] for band, share in method.elsewhere[name].of.items())


def _sigma(method: ReadingMethod, found: Expected) -> float:
    """Instrument, site, and how far sound units of one size differ, in quadrature."""
    figure = method.figure.value if method.figure and not found.sum.own else 1.0
    return math.hypot(method.instrument.value, found.sigma, math.log(figure))


def _ratio_of(limit: Limit, unit: Unit, found: Expected) -> float:
    return limit.value if limit.of == "expected" else unit.to_si(limit.value) / found.sum.expected


def _resolution(method: ReadingMethod, unit: Unit, found: Expected) -> float:
    """The resolution as a ratio of the reading that would be as expected."""
    return method.resolution.value * unit.scale / found.at_si


def _challenge(
    observation: str, method: ReadingMethod, unit: Unit, taken: Taken
) -> Challenge | None:
    number = unit.from_si(taken.value_si)
    least, greatest = method.least.value, method.greatest.value
    slack = 1e-9 * max(abs(least), abs(greatest))  # A limit may be told in another unit.
    if not least - slack <= number <= greatest + slack:
        side, end, note = (
            ("less", least, method.least.note)
            if number < least
            else ("more", greatest, method.greatest.note)
        )
        says = (
            f"{observation}: {taken.written} is {side} than {unit.show(unit.to_si(end))} ({note}); "
            "look at number and unit again"
        )
        return Challenge("implausible", says)
    if method.soon and taken.seconds is not None and taken.seconds < 60 * method.soon.value:
        minutes = method.soon.value
        says = (
            f"{observation}: {taken.written} was taken too early; wait {minutes:g} minutes "
            f"({method.soon.note})"
        )
        return Challenge("too_early", says)
    return None


# --- in words ----------------------------------------------------------------------------------

#: What the expected amount is called where it is not simply expected.
_NOUNS: Mapping[Comparison, str] = {
    "raw_hardness": "raw hardness",
    "inlet_pressure": "standing pressure",
    "control_voltage": "control's voltage",
    "drawn_water": "water drawn",
    "saturated_brine": "full brine",
    "full_suction": "full suction",
}


def _shown_number(unit: Unit | None, value: float) -> float:
    return unit.from_si(value) if unit else value


def _steps(
    method: ReadingMethod,
    taken: Taken,
    found: Expected,
    ratio: float,
    sigma: float,
    chances: Mapping[str, float],
) -> tuple[str, ...]:
    """From what was read to how likely each outcome is, one step a line."""
    unit = found.sum.unit
    division: tuple[str, ...] = ()
    if unit is not None and method.compare != "unit":
        amounts = f"{unit.show(found.sum.quantity)} / {unit.show(found.sum.expected)}"
        division = (f"{amounts} = {ratio:.2f} of the {_NOUNS.get(method.compare, 'expected')}",)
    parts = [f"reading {percent(method.instrument.value)} ({method.instrument.note})"]
    parts += [f"site {percent(found.sigma)}"] if found.sigma > 0 else []
    if method.figure and not found.sum.own:
        spread = percent(math.log(method.figure.value))
        parts.append(f"figure of sound units {spread} ({method.figure.note})")
    return (
        *taken.steps,
        *(known.says for known in found.looked_at.values()),
        *found.sum.steps,
        *division,
        f"uncertainty: {', '.join(parts)}; together {percent(sigma)}",
        *(
            f"{outcome}, {_range(index, method)}: {percent(chances[outcome])}"
            for index, outcome in enumerate(method.scale)
        ),
    )


def _range(index: int, method: ReadingMethod) -> str:
    low = _limit(method, method.limits[index - 1]) if index > 0 else ""
    high = _limit(method, method.limits[index]) if index < len(method.limits) else ""
    if low and high:
        return f"from {low} to {high}"
    return f"above {low}" if low else f"below {high}"


def _limit(method: ReadingMethod, limit: Limit) -> str:
    if limit.of == "unit" or method.compare == "unit":
        unit = units.unit(method.unit)
        return unit.show(unit.to_si(limit.value))
    return percent(limit.value)


def _says(
    method: ReadingMethod,
    taken: Taken,
    found: Expected,
    ratio: float,
    chances: Mapping[str, float],
    outcome: str,
) -> str:
    """One line: `0.6 gpm is 22 % of the 2.7 gpm expected: low`."""
    likely = [name for name in method.scale if chances[name] >= 1 - CLEAR]
    verdict = outcome if chances[outcome] >= CLEAR else " or ".join(likely)
    unsure = f" (not told: {', '.join(found.not_told)})" if found.not_told else ""
    if method.compare == "unit":
        amount = _range(method.scale.index(outcome), method)
        return f"{taken.written}, {amount}: {verdict}"
    if found.sum.unit is None:
        return f"{taken.written} is {times(ratio)} the limit for such a run{unsure}: {verdict}"
    amount = found.sum.unit.show(found.sum.expected, 2)
    noun = _NOUNS.get(method.compare)
    of = f"the {noun}, {amount}" if noun else f"the {amount} expected"
    return f"{taken.written} is {percent(ratio)} of {of}{unsure}: {verdict}"
