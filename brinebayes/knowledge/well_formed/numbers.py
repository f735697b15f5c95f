"""Every number has a basis that holds, a weight, and a value that its field allows."""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from datetime import date

from brinebayes.knowledge.names import suggest
from brinebayes.knowledge.schema import Dispute, Model, Number, SiteCondition, Spread
from brinebayes.knowledge.shape import Finding
from brinebayes.knowledge.well_formed.spots import SITE, Spot, Visited, walk

#: What sums to 1 does so within this.
TOLERANCE = 1e-9

_PROBABILITY = (0.0, 1.0, "a probability lies between 0 and 1")
_MINUTES = (0.0, math.inf, "minutes are not negative")
_MONEY = (0.0, math.inf, "money is not negative")
_BRINE = (0.0, math.inf, "brine draws are not negative")
_MISREADING = (0.0, 0.5, "a misreading lies between 0 and 0.5; beyond that the check misleads")

_ANY = (-math.inf, math.inf, "")
_ABOVE_ZERO = (sys.float_info.min, math.inf, "this number is above 0")
_FACTOR = (1.0, 10.0, "a factor of uncertainty lies between 1 and 10")

#: (class, field) -> least and greatest value, and the reason.
_RANGES = {
    ("About", "calls_without_fault"): _PROBABILITY,
    ("Money", "attention_per_minute"): _MONEY,
    ("Money", "waiting_per_minute"): _MONEY,
    ("Money", "second_visit"): _MONEY,
    ("Money", "escalation"): _MONEY,
    ("Money", "fetch_part"): _MONEY,
    ("Proof", "minutes"): _MINUTES,
    ("Proof", "waiting_minutes"): _MINUTES,
    ("Proof", "passes_if_works"): _PROBABILITY,
    ("Proof", "passes_if_not"): _PROBABILITY,
    ("Proof", "later_days"): (1.0, 365.0, "a call-back comes a day to a year later"),
    ("Brine", "draws"): _BRINE,
    ("Brine", "refill_minutes"): _MINUTES,
    ("Brine", "saturation_minutes"): _MINUTES,
    ("SiteValue", "share"): _PROBABILITY,
    ("Word", "share"): _PROBABILITY,
    ("Word", "value"): _ABOVE_ZERO,
    ("Word", "factor"): _FACTOR,
    ("Measure", "least"): _ANY,
    ("Measure", "greatest"): _ANY,
    ("Measure", "middle"): _ABOVE_ZERO,
    ("Measure", "factor"): _FACTOR,
    ("Measure", "told"): _FACTOR,
    ("Fault", "share"): _PROBABILITY,
    ("FlowChart", "give_up_after"): (1.0, 99.0, "at least one repair is tried"),
    ("ReadingMethod", "limits"): _ANY,
    ("ReadingMethod", "instrument"): (sys.float_info.min, 1.0, "a part of the reading, above 0"),
    ("ReadingMethod", "resolution"): _ABOVE_ZERO,
    ("ReadingMethod", "least"): _ANY,
    ("ReadingMethod", "greatest"): _ANY,
    ("ReadingMethod", "figure"): _FACTOR,
    ("ReadingMethod", "soon"): _MINUTES,
    ("Observation", "misreading"): _MISREADING,
    ("Check", "minutes"): _MINUTES,
    ("Check", "waiting_minutes"): _MINUTES,
    ("Check", "spends_brine"): _BRINE,
    ("Part", "price"): _MONEY,
    ("Part", "in_van"): _PROBABILITY,
    ("Part", "carrying"): _MONEY,
    ("Repair", "minutes"): _MINUTES,
    ("Repair", "clears"): _PROBABILITY,
    ("Repair", "harms"): _PROBABILITY,
    ("Move", "minutes"): _MINUTES,
    ("Move", "waiting_minutes"): _MINUTES,
}


def findings(model: Model) -> Iterator[Finding]:
    """Numbers without a sound basis or out of range, and text that says nothing."""
    for here in walk(model):
        value, spot = here.value, here.spot
        if isinstance(value, Number | Spread):
            yield from _basis(model, spot, value)
        if isinstance(value, Number):
            yield from _range(here, spot / "value", value.value)
            if value.disputed is not None:
                yield from _range(here, spot / "disputed" / "value", value.disputed.value)
        elif isinstance(value, Spread):
            yield from _spread(spot, value)
        elif isinstance(value, Dispute):
            yield from _source(model, spot / "source", value.source)
        elif isinstance(value, float) and (here.owner, here.field) == ("Check", "spends_brine"):
            yield from _range(here, spot, value)
        elif isinstance(value, str) and not value.strip() and here.required:
            yield spot.says("says nothing; give it words")
    for name, condition in model.site.items():
        yield from _shares(SITE / name, condition)


def _basis(model: Model, spot: Spot, number: Number | Spread) -> Iterator[Finding]:
    if not number.weight > 0:
        says = f"a weight is above 0, not {number.weight:g}; it is a number of cases"
        yield (spot / "weight").says(says)
    if number.basis == "published" and number.source is None:
        yield spot.lacks("source", "a published number names its source in sources.yaml")
    if number.source is not None:
        yield from _source(model, spot / "source", number.source)
    if number.basis == "learned" and number.cases is None:
        yield spot.lacks("cases", "a learned number says from how many cases")
    if number.cases is not None and number.cases < 1:
        yield (spot / "cases").says(f"at least 1 case, not {number.cases}")
    if number.learned_on is not None and not _is_date(number.learned_on):
        yield (spot / "learned_on").says(f"a date as 2024-05-31, not {number.learned_on!r}")


def _source(model: Model, spot: Spot, source: str) -> Iterator[Finding]:
    if source not in model.sources:
        near = suggest(source, model.sources)
        yield spot.says(f"there is no source {source} in sources.yaml{near}")


def _is_date(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def _range(here: Visited, spot: Spot, value: float) -> Iterator[Finding]:
    if (here.owner, here.field) == ("SiteValue", "factors"):
        if not value > 0:
            yield spot.says(f"a factor on odds is above 0, not {value:g}")
        return
    least, greatest, why = _RANGES[here.owner, here.field]
    if not least <= value <= greatest:
        yield spot.says(f"{why}; this is {value:g}")


def _spread(spot: Spot, spread: Spread) -> Iterator[Finding]:
    for state, value in spread.of.items():
        if not 0 <= value <= 1:
            yield (spot / "of" / state).says(f"a probability lies between 0 and 1; {value:g}")
    total = math.fsum(spread.of.values())
    if abs(total - 1) > TOLERANCE:
        yield (spot / "of").says(f"sums to {total:.10g}, not 1; nothing is renormalised")


def _shares(spot: Spot, condition: SiteCondition) -> Iterator[Finding]:
    total = math.fsum(value.share.value for value in condition.values.values())
    if abs(total - 1) > TOLERANCE:
        says = f"the shares of the values sum to {total:.10g}, not 1; nothing is renormalised"
        yield (spot / "values").says(says, on_key=True)
