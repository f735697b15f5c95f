"""Which cases of many are meant, and which of them something is wrong with."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from brinebayes.cases.log import Log
from brinebayes.cases.record import Case, is_date
from brinebayes.cases.replay import misfit
from brinebayes.errors import DataError, UsageError
from brinebayes.knowledge.schema import Model
from brinebayes.record import record


@record
class Checked:
    """How many cases were looked at, and what is wrong, a line for each."""

    count: int
    problems: tuple[str, ...]


def matching(cases: Iterable[Case], since: str = "", fault: str = "") -> Iterator[Case]:
    """The cases closed on a day or later, and with a fault confirmed; empty: any."""
    if since and not is_date(since):
        raise UsageError(f"--since {since}: must be a date as 2024-05-31")
    for case in cases:
        if case.closed >= since and (not fault or any(o.fault == fault for o in case.confirmed)):
            yield case


def known_to(model: Model, cases: Iterable[Case]) -> Iterator[Case]:
    """The cases as they are. Raises DataError at the first of which the model does not know all."""
    for case in cases:
        why = misfit(model, case)
        if why is not None:
            raise DataError(f"case {case.id}: {why}")
        yield case


def checked(model: Model, cases: Iterable[Case]) -> Checked:
    """Whether ids stand once and the model knows every name; a case that cannot be read ends it."""
    found: list[str] = []
    seen: set[str] = set()
    try:
        for case in cases:
            if case.id in seen:
                found.append(f"case {case.id}: stands twice")
            seen.add(case.id)
            why = misfit(model, case)
            if why is not None:
                found.append(f"case {case.id}: {why}")
    except DataError as error:
        found.append(str(error))
    return Checked(len(seen), tuple(found))


def checked_log(model: Model, log: Log) -> Checked:
    """A log whose file and records are whole, and then its cases as `checked`."""
    damage = log.damage()
    return Checked(len(log.ids()), damage) if damage else checked(model, log.cases())
