"""Trade units at the edge, SI inside: `flow_m3_s = GPM.to_si(2.0)`, `GPM.from_si(flow_m3_s)`.

Sources: inch, foot, pound and the gallon of 231 cubic inches are exact (NIST Special Publication
811); 1 grain = 1/7000 lb, standard gravity 9.80665 m/s2. Hardness is carried as CaCO3: 1 °dH is
10 mg CaO per litre, 1 °fH is 10 mg CaCO3 per litre. ppm is read as mg per litre, which is how the
trade uses it for water.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from typing import Literal, NamedTuple

from brinebayes.errors import UsageError
from brinebayes.record import record

Dimension = Literal[
    "flow",
    "pressure",
    "length",
    "volume",
    "mass",
    "concentration",
    "temperature",
    "conductivity",
    "brine strength",
    "density",
    "time",
    "voltage",
    "salt efficiency",
]

GRAVITY_M_S2 = 9.80665
INCH_M = 0.0254
FOOT_M = 0.3048
GALLON_M3 = 231 * INCH_M**3
POUND_KG = 0.45359237
GRAIN_KG = POUND_KG / 7000
PSI_PA = POUND_KG * GRAVITY_M_S2 / INCH_M**2

#: kg per mol. Source: IUPAC standard atomic weights.
CACO3_KG_MOL = 0.1000869
CAO_KG_MOL = 0.0560774

#: Water at 60 °F, to which the trade's specific gravity refers. From memory of the API tables.
WATER_60F_KG_M3 = 999.016

#: Saturated brine at 60 °F as mass fraction: 100 degrees on the salometer (salometer table).
SALOMETER_100 = 0.26395


@record
class Unit:
    """One unit: SI value = (number + `offset`) * `scale`. `spellings` are also understood."""

    symbol: str
    dimension: Dimension
    scale: float
    spellings: tuple[str, ...] = ()
    offset: float = 0.0

    def to_si(self, number: float) -> float:
        """The SI value of `number` of this unit."""
        return (number + self.offset) * self.scale

    def from_si(self, value_si: float) -> float:
        """How many of this unit `value_si` is."""
        return value_si / self.scale - self.offset

    def show(self, value_si: float, digits: int = 3) -> str:
        """`value_si` as a reader writes it: `2.7 gpm`, to `digits` significant digits."""
        return f"{float(f'{self.from_si(value_si):.{digits}g}'):,g} {self.symbol}"


# flow, SI m3/s
GPM = Unit("gpm", "flow", GALLON_M3 / 60, ("gal/min", "gallons per minute"))
L_PER_MIN = Unit("L/min", "flow", 1e-3 / 60, ("lpm", "litre/min", "liter/min"))
GAL_PER_DAY = Unit("gal/day", "flow", GALLON_M3 / 86400, ("gpd", "gal/d"))

# pressure, SI Pa
PSI = Unit("psi", "pressure", PSI_PA, ("psig", "lb/in2", "pounds per square inch"))
BAR = Unit("bar", "pressure", 1e5)
KPA = Unit("kPa", "pressure", 1e3)
# 0 °C mercury of 13595.1 kg/m3 (the conventional value); vacuum gauges read in it.
IN_HG = Unit("inHg", "pressure", 13595.1 * GRAVITY_M_S2 * INCH_M, ("in Hg",))

# length, SI m
IN = Unit("in", "length", INCH_M, ("in.", '"', "inch", "inches"))
FT = Unit("ft", "length", FOOT_M, ("ft.", "'", "foot", "feet"))
MM = Unit("mm", "length", 1e-3)
CM = Unit("cm", "length", 1e-2)
M = Unit("m", "length", 1.0, ("metre", "meter", "metres", "meters"))

# volume, SI m3
GAL = Unit("gal", "volume", GALLON_M3, ("gal.", "gallon", "gallons"))
LITRE = Unit("L", "volume", 1e-3, ("litre", "liter", "litres", "liters"))
FT3 = Unit("ft³", "volume", FOOT_M**3, ("ft3", "cu ft", "cubic feet"))

# mass, SI kg
LB = Unit("lb", "mass", POUND_KG, ("lbs", "lb.", "pound", "pounds"))
KG = Unit("kg", "mass", 1.0)
G = Unit("g", "mass", 1e-3, ("gram", "grams"))
GR = Unit("gr", "mass", GRAIN_KG, ("grain", "grains"))

# concentration, SI kg/m3; hardness as CaCO3
GPG = Unit("gpg", "concentration", GRAIN_KG / GALLON_M3, ("gr/gal", "grains per gallon"))
MG_PER_L = Unit("mg/L", "concentration", 1e-3)
PPM = Unit("ppm", "concentration", 1e-3)
MMOL_PER_L = Unit("mmol/L", "concentration", CACO3_KG_MOL)
DEG_DH = Unit("°dH", "concentration", 1e-2 * CACO3_KG_MOL / CAO_KG_MOL, ("dH",))
DEG_FH = Unit("°fH", "concentration", 1e-2, ("fH",))
GR_PER_FT3 = Unit("gr/ft³", "concentration", GRAIN_KG / FOOT_M**3, ("gr/ft3",))
LB_PER_FT3 = Unit("lb/ft³", "concentration", POUND_KG / FOOT_M**3, ("lb/ft3",))
LB_PER_GAL = Unit("lb/gal", "concentration", POUND_KG / GALLON_M3)

# temperature, SI K
DEG_F = Unit("°F", "temperature", 5 / 9, ("F", "deg F"), offset=459.67)
DEG_C = Unit("°C", "temperature", 1.0, ("C", "deg C"), offset=273.15)

# conductivity, SI S/m
MS_PER_CM = Unit("mS/cm", "conductivity", 0.1)
US_PER_CM = Unit("µS/cm", "conductivity", 1e-4, ("uS/cm", "umho/cm"))

# brine strength, SI mass fraction of NaCl
WT_PERCENT = Unit("wt%", "brine strength", 1e-2, ("%", "wt %", "percent"))
SALOMETER = Unit("°salometer", "brine strength", SALOMETER_100 / 100, ("salometer", "°SAL", "SAL"))

# density, SI kg/m3; specific gravity at 60 °F over water at 60 °F
SG = Unit("SG", "density", WATER_60F_KG_M3, ("sp gr", "specific gravity"))

# time, SI s
SECOND = Unit("s", "time", 1.0, ("sec", "second", "seconds"))
MINUTE = Unit("min", "time", 60.0, ("minute", "minutes"))
HOUR = Unit("h", "time", 3600.0, ("hr", "hour", "hours"))
DAY = Unit("d", "time", 86400.0, ("day", "days"))

VOLT = Unit("V", "voltage", 1.0, ("volt", "volts"))

# hardness removed per salt used, SI kg CaCO3 per kg NaCl
GR_PER_LB = Unit("gr/lb", "salt efficiency", GRAIN_KG / POUND_KG)


class System(NamedTuple):
    """Which unit each kind of number is shown in. Hardness as calcium carbonate."""

    flow: Unit
    pressure: Unit
    suction: Unit
    length: Unit
    run: Unit
    volume: Unit
    bed: Unit
    mass: Unit
    hardness: Unit
    temperature: Unit


US = System(GPM, PSI, IN_HG, IN, FT, GAL, FT3, LB, GPG, DEG_F)
METRIC = System(L_PER_MIN, BAR, KPA, CM, M, LITRE, LITRE, KG, MG_PER_L, DEG_C)

UNITS: tuple[Unit, ...] = tuple(value for value in list(globals().values()) if type(value) is Unit)

_EXACT = {word: unit for unit in UNITS for word in (unit.symbol, *unit.spellings)}
# Ignoring case leaves every spelling with one meaning; a test holds that.
_ANY_CASE = {word.casefold(): unit for word, unit in _EXACT.items()}

_NUMBER = re.compile(
    r"""(?P<sign>[+-]?)
        (?:(?:(?P<whole>\d+)[ -])?(?P<top>\d+)/(?P<bottom>\d+)   # 3/8, 3 1/4: read off a tape
         |(?P<decimal>(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?))
        (?P<unit>(?!\s*[-\d.,/]).*)""",
    re.VERBOSE,
)
_COMMA = re.compile(r"(\d+),(\d+)")
_RANGE = re.compile(r"[\d.]+\s*(?:-|–|to|or)\s*[\d.]+(?![\d./])")
_LOOK_ALIKES = {ord("−"): "-", ord("μ"): "µ", ord("º"): "°", ord("″"): '"', ord("′"): "'"}


@record
class Quantity:
    """A number with its unit as given, and the SI value it stands for."""

    value_si: float
    unit: Unit
    number: float

    @property
    def dimension(self) -> Dimension:
        """What kind of quantity this is."""
        return self.unit.dimension


def symbols(dimension: Dimension) -> str:
    """The units of `dimension`, as a list for a message."""
    return ", ".join(unit.symbol for unit in UNITS if unit.dimension == dimension)


def system_of(shown: Unit) -> System:
    """The units that go with one that is shown; US where it belongs to neither system."""
    return METRIC if shown in METRIC else US


def in_metric(shown: Unit) -> Unit:
    """The metric counterpart of a US unit; any other as it is."""
    return METRIC[US.index(shown)] if shown in US else shown


def unit(name: str) -> Unit:
    """The unit called `name`; case is ignored. Raises `UsageError` for a name not known."""
    word = re.sub(r"\s*/\s*", "/", " ".join(_plain(name).split()))
    found = _EXACT.get(word) or _ANY_CASE.get(word.casefold())
    if found is None:
        raise UsageError(f'unknown unit "{name}"{_suggestion(word, _EXACT)}')
    return found


def parse(text: str, dimension: Dimension | None = None, signed: bool = False) -> Quantity:
    """Reads one number with its unit: "0.6 gpm", "35psi", "3 1/4 in".

    `dimension`: what the reading must be, if the caller knows. `signed`: a negative number is
    allowed (temperatures may always be negative). A decimal comma is refused, since "1,200" could
    be either of two numbers; nothing is guessed, so "about 2" and ranges are refused too.
    Raises `UsageError` with one line that says what would be right.
    """
    given = text.strip()
    try:
        return _parse(_plain(given), dimension, signed)
    except UsageError as problem:
        raise UsageError(f'"{given}": {problem}') from None


def _parse(text: str, dimension: Dimension | None, signed: bool) -> Quantity:
    if comma := _COMMA.search(text):
        before, after = comma.groups()
        thousands = f" (or {before}{after}, if that is meant)" if len(after) == 3 else ""
        raise UsageError(f"write a decimal point and no comma: {before}.{after}{thousands}")
    if _RANGE.match(text):
        raise UsageError("write the one number that was read, not a range")
    match = _NUMBER.fullmatch(text)
    if match is None:
        raise UsageError(f"write a plain number and its unit, such as {_example(dimension)}")
    found = _unit_of_reading(match["unit"].strip(), dimension)
    number = _number(match)
    if not math.isfinite(found.to_si(number)):
        raise UsageError("the number is too large to be a reading")
    if number < 0 and not signed and found.dimension != "temperature":
        raise UsageError(f"a {found.dimension} cannot be negative here; write it without the minus")
    if found.dimension == "temperature" and found.to_si(number) < 0:
        raise UsageError("colder than absolute zero")
    return Quantity(found.to_si(number), found, number)


def _unit_of_reading(name: str, dimension: Dimension | None) -> Unit:
    if not name:
        wanted = (
            f"one of {symbols(dimension)}" if dimension else "it behind the number, as in 2 gpm"
        )
        raise UsageError(f"the unit is missing: write {wanted}")
    found = unit(name)
    if dimension is not None and found.dimension != dimension:
        raise UsageError(
            f"{found.symbol} is a {found.dimension}, and this is a {dimension}: "
            f"write one of {symbols(dimension)}"
        )
    return found


def _number(match: re.Match[str]) -> float:
    sign = -1.0 if match["sign"] == "-" else 1.0
    if match["decimal"] is not None:
        return sign * float(match["decimal"])
    if int(match["bottom"]) == 0:
        raise UsageError("a fraction over zero is no number")
    return sign * (int(match["whole"] or 0) + int(match["top"]) / int(match["bottom"]))


def _plain(text: str) -> str:
    """`text` with the look-alikes of minus, micro and degree that keyboards put in."""
    return text.translate(_LOOK_ALIKES)


def _example(dimension: Dimension | None) -> str:
    first = next((u.symbol for u in UNITS if u.dimension == dimension), "gpm")
    return f"2 {first}"


def _suggestion(word: str, known: Iterable[str]) -> str:
    # Only needed when something is wrong; every recommendation imports this module.
    from difflib import get_close_matches

    close = get_close_matches(word, known, n=1, cutoff=0.5)
    return f' (did you mean "{close[0]}"?)' if close else ""
