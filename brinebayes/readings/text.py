"""What a technician writes for a reading: one number with its unit, and its time where it has one.

0.6 gpm   1 gal in 95 s      a bucket, as a flow or as it was timed
0.5 in in 10 min             a fall of the level; a rise has a minus
1.12 SG after 20 min         where the method needs its time, that may be told
3 gal of 5 gal               what a meter counted of what was drawn
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from brinebayes.errors import UsageError
from brinebayes.knowledge.measuring import INSTRUMENTS
from brinebayes.knowledge.schema import Instrument
from brinebayes.physics import brine, units
from brinebayes.physics.units import GPM, L_PER_MIN, LITRE, MINUTE, WT_PERCENT, Quantity, Unit
from brinebayes.record import record

#: Numbers below zero mean something: a level that rises, a port that pushes.
SIGNED = ("level_drop", "vacuum_gauge")

_PARTS = re.compile(r"(?P<head>.*\S)\s+(?P<link>in|after|of)\s+(?P<tail>[-+]?[\d.].*)", re.DOTALL)

#: Instrument -> the word that may follow the number, and whether it must.
_LINKS: Mapping[Instrument, tuple[str, bool]] = {
    "level_drop": ("in", True),
    "level": ("after", False),
    "hydrometer": ("after", False),
    "conductivity": ("after", False),
    "meter_count": ("of", False),
}


@record
class Taken:
    """A reading in SI. `written`: the number as given; `steps`: how it was turned into `value_si`.

    `unit`: in which `value_si` is shown. `seconds` and `drawn_m3`: as told, else None.
    """

    value_si: float
    unit: Unit
    written: str
    seconds: float | None = None
    drawn_m3: float | None = None
    steps: tuple[str, ...] = ()


def take(kind: Instrument, text: str) -> Taken:
    """Reads what was written for an instrument of this kind.

    Raises `UsageError` with one line that says what would be right.
    """
    head, link, tail = _parts(text)
    allowed, demanded = _LINKS.get(kind, ("", False))
    value = _number(kind, head, signed=kind in SIGNED)
    if value.dimension == "volume" and kind == "timed_bucket":
        allowed, demanded = "in", True
    if demanded and link != allowed:
        raise UsageError(f'"{text.strip()}": say in what time, as in {head} in 10 min')
    if link and link != allowed:
        raise UsageError(f'"{text.strip()}": write only the number and its unit, {head}')
    if link == "of":
        written = f"{_shown(value)} of {tail}"
        return Taken(value.value_si, value.unit, written, drawn_m3=_drawn(tail))
    seconds = _seconds(text, tail) if link else None
    return _TURNED.get(kind, _plain)(value, seconds)


def _parts(text: str) -> tuple[str, str, str]:
    """Number, linking word and what follows it; the last two are empty if there is no more."""
    match = _PARTS.fullmatch(text.strip())
    return (match["head"], match["link"], match["tail"]) if match else (text.strip(), "", "")


def _number(kind: Instrument, text: str, signed: bool) -> Quantity:
    """The number; of several dimensions that an instrument may read, the one that was written."""
    accepted = INSTRUMENTS[kind].units
    if len(accepted) > 1:
        found = units.parse(text, signed=signed) if _names_a_unit(text) else None
        if found is not None and found.dimension in accepted:
            return found
        listed = "; ".join(units.symbols(each) for each in accepted)
        raise UsageError(f'"{text}": write a number with one of these units: {listed}')
    return units.parse(text, accepted[0], signed=signed)


def _names_a_unit(text: str) -> bool:
    return re.search(r"[^\d\s.,+-]", text) is not None


def _seconds(text: str, tail: str) -> float:
    seconds = units.parse(tail, "time").value_si
    if not seconds > 0:
        raise UsageError(f'"{text.strip()}": the time must be above zero')
    return seconds


def _drawn(tail: str) -> float:
    drawn = units.parse(tail, "volume").value_si
    if not drawn > 0:
        raise UsageError(f'"{tail}": what was drawn must be above zero')
    return drawn


def _shown(value: Quantity) -> str:
    return f"{value.number:g} {value.unit.symbol}"


def _after(value: Quantity, seconds: float | None) -> str:
    shown = _shown(value)
    return shown if seconds is None else f"{shown} after {MINUTE.from_si(seconds):g} min"


def _plain(value: Quantity, seconds: float | None) -> Taken:
    return Taken(value.value_si, value.unit, _after(value, seconds), seconds)


def _flow(value: Quantity, seconds: float | None) -> Taken:
    """A flow as it is, or the volume of a bucket over the time it took to fill."""
    if seconds is None:
        return _plain(value, None)
    metric = value.unit in (LITRE, units.CM, units.M)
    unit = L_PER_MIN if metric else GPM
    flow = value.value_si / seconds
    step = f"{_shown(value)} in {seconds:g} s is {unit.show(flow)}"
    return Taken(flow, unit, f"{_shown(value)} in {seconds:g} s", None, None, (step,))


def _strength(value: Quantity, seconds: float | None) -> Taken:
    """Salt by weight, from a hydrometer in any of its scales."""
    found = brine.strength(value)
    return _salt(value, seconds, found)


def _conducted(value: Quantity, seconds: float | None) -> Taken:
    """Salt by weight, from what the water conducts at 20 °C."""
    return _salt(value, seconds, brine.mass_fraction_from_conductivity(value.value_si))


def _salt(value: Quantity, seconds: float | None, fraction: float) -> Taken:
    step = f"{_shown(value)} is {WT_PERCENT.show(fraction)} of salt"
    steps = () if value.unit is WT_PERCENT else (step,)
    return Taken(fraction, WT_PERCENT, _after(value, seconds), seconds, None, steps)


def _fall(value: Quantity, seconds: float | None) -> Taken:
    assert seconds is not None
    written = f"{_shown(value)} in {MINUTE.from_si(seconds):g} min"
    return Taken(value.value_si, value.unit, written, seconds)


_TURNED: Mapping[Instrument, Callable[[Quantity, float | None], Taken]] = {
    "timed_bucket": _flow,
    "hydrometer": _strength,
    "conductivity": _conducted,
    "level_drop": _fall,
}
