"""Which cases count, since when, and how much."""

from __future__ import annotations

from array import array
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from math import isfinite

from brinebayes.cases.record import Case
from brinebayes.cases.replay import misfit, question
from brinebayes.errors import UsageError
from brinebayes.knowledge.schema import Model, Number, Spread
from brinebayes.network import graph
from brinebayes.network.evidence import Seen
from brinebayes.tuning.numbers import GROUPS, entries, number_at
from brinebayes.tuning.told import Found, Told, told

#: Days within which a customer who is not served calls again: common practice, no source.
WINDOW_DAYS = 14


@dataclass(frozen=True)
class Terms:
    """How cases count. `today`: as 2024-05-31; of a case that was closed less than `window_days`
    before it nobody knows yet whether the customer will call again. `half_life_days`: after so many
    days a case counts half, so that without new ones the numbers go back to where they were; None:
    all count the same."""

    today: str
    window_days: int = WINDOW_DAYS
    half_life_days: float | None = None

    def __post_init__(self) -> None:
        if self.window_days < 0:
            raise UsageError(f"the window has {self.window_days} days; it has 0 or more")
        half = self.half_life_days
        if half is not None and not (half > 0.0 and isfinite(half)):
            raise UsageError(f"cases fade by half in {half:g} days; it takes more than none")


@dataclass
class Sorted:
    """How many cases were sorted how; filled while they are read."""

    counted: int = 0
    held_back: int = 0
    already_learned: int = 0
    called_back: int = 0
    invented: int = 0
    misfits: Counter[str] = field(default_factory=Counter)
    first_day: str = ""
    last_day: str = ""


@dataclass(frozen=True)
class Counting:
    """A case that counts: what it tells, and how much."""

    case: Case
    told: Told
    weight: float


def gather(
    model: Model, cases: Iterable[Case], terms: Terms, sorted_: Sorted
) -> Iterator[Counting]:
    """The cases that count, in the order given."""
    learned = learned_through(model)
    last_known = _day(terms.today) - timedelta(days=terms.window_days)
    for case in cases:
        why = misfit(model, case)
        if why is not None:
            sorted_.misfits[why] += 1
        elif learned and case.closed <= learned:
            sorted_.already_learned += 1
        elif case.call_back == "unknown" and _day(case.closed) > last_known:
            sorted_.held_back += 1
        else:
            sorted_.counted += 1
            sorted_.called_back += case.call_back == "yes"
            sorted_.invented += case.invented
            sorted_.first_day = min(sorted_.first_day or case.closed, case.closed)
            sorted_.last_day = max(sorted_.last_day, case.closed)
            yield Counting(case, told_by(model, case), _weight(case, terms))


def told_by(model: Model, case: Case) -> Told:
    """What a case tells.

    What a customer did not complain of although the complaints were taken was not the trouble.
    After a call-back nothing is left of a passed proof, nor of a fault that nobody saw and that was
    only taken to be there because the repair seemed to help.
    """
    asked = question(model, case)
    if case.call_back == "yes":
        kept = (s for s in asked.seen if s.observation != graph.PROOF or s.likelihood[0] == 0.0)
        asked = replace(asked, seen=tuple(kept))
    if asked.complaints:
        silent = (name for name in model.complaints if name not in asked.complaints)
        unsaid = tuple(Seen(0, name, (0.0, 1.0)) for name in silent)
        asked = replace(asked, seen=(*asked.seen, *unsaid))
    return told(model, asked, (Found(c.fault, c.sure, c.how == "seen") for c in case.undisputed))


def learned_through(model: Model) -> str:
    """The day of the last case that is in a number of the model already; empty if none is."""
    days = []
    for entry in entries(model, tuple(GROUPS)):
        number: Number | Spread = number_at(model, entry.key)
        days.append(number.learned_on or "")
    return max(days, default="")


def split_day(cases: Callable[[], Iterable[Case]], part: float) -> str:
    """The day up to which about this part of all cases was closed."""
    days = array("l", (_day(case.closed).toordinal() for case in cases()))
    if not days:
        return ""
    ordered = sorted(days)
    return date.fromordinal(ordered[min(int(part * len(ordered)), len(ordered) - 1)]).isoformat()


def _weight(case: Case, terms: Terms) -> float:
    if terms.half_life_days is None:
        return 1.0
    age = (_day(terms.today) - _day(case.closed)).days
    return float(0.5 ** (max(age, 0) / terms.half_life_days))


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise UsageError(f"a day is written as 2024-05-31, not {text!r}") from None
