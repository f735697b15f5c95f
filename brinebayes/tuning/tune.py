"""Everything that tuning finds out about a model from cases; nothing is written here."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import chain

import numpy as np

from brinebayes.cases.record import Case
from brinebayes.errors import DataError, ModelError, UsageError
from brinebayes.knowledge.schema import Model
from brinebayes.network import odds
from brinebayes.network.local import Floats
from brinebayes.network.ordering import chain_orders
from brinebayes.tuning.acceptance import Verdict, compare
from brinebayes.tuning.changes import (
    Change,
    change_of_minutes,
    changes,
    changes_of_mix,
    to_write,
)
from brinebayes.tuning.em import Cases, Fit, fit
from brinebayes.tuning.gather import Sorted, Terms, gather, split_day
from brinebayes.tuning.intervals import intervals
from brinebayes.tuning.minutes import Clock
from brinebayes.tuning.numbers import SAFE, entries, with_values
from brinebayes.tuning.spool import Spool
from brinebayes.tuning.watch import Misleading, Watch, normal_results

#: The part of the cases, the newest, on which the new model must prove itself.
KEPT_BACK = 0.25

#: Groups that no score of beliefs can judge: they are plain means.
PLAIN = ("minutes", "sites")


@dataclass(frozen=True, eq=False)
class Tuning:
    """What cases say about a model. `model`: with everything changed that changes; `verdict`: of
    numbers learned from the cases up to `split`, on the later ones."""

    start: Model
    model: Model
    groups: tuple[str, ...]
    terms: Terms
    sorted: Sorted
    split: str
    verdict: Verdict
    changes: tuple[Change, ...]
    misleading: Misleading
    rounds: int
    settled: bool
    different: int

    @property
    def accepted(self) -> bool:
        """Whether the new model may take the place of the old one."""
        return self.verdict.better or set(self.groups) <= set(PLAIN)


def tune(
    model: Model,
    cases: Callable[[], Iterable[Case]],
    terms: Terms,
    groups: Collection[str] = SAFE,
    kept_back: float = KEPT_BACK,
) -> Tuning:
    """Learn some groups of numbers from cases, which are gone through twice.

    Raises DataError when no case counts, UsageError for an unknown group or a part outside of
    0 to 1.
    """
    if not 0.0 < kept_back < 1.0:
        raise UsageError(f"a part between 0 and 1 is kept back, not {kept_back:g}")
    wanted = tuple(dict.fromkeys(groups))
    entries(model, wanted)  # names what there is if a group is unknown
    split = split_day(cases, 1.0 - kept_back)
    record = Sorted()
    watch, clock = Watch(model), Clock(model)
    mix: dict[str, Counter[str]] = {name: Counter() for name in model.site}
    with Spool(model) as older, Spool(model) as newer, Spool(model) as judging:
        for one in gather(model, cases(), terms, record):
            late = one.case.closed > split
            (newer if late else older).add(one.told, one.weight)
            if late:
                judging.add(one.told, 1.0)
            watch.see(one.case)
            clock.see(one.case, one.weight)
            for condition, value in one.told.site:
                mix[condition][value] += 1
        if not record.counted:
            raise DataError(_nothing(record))
        plain = _plain(model, wanted, clock, mix)
        based = with_values(model, to_write(one for one in plain if one.entry.group == "sites"))
        learned = tuple(group for group in wanted if group not in PLAIN)
        both: Cases = lambda: chain(older(), newer())  # noqa: E731
        names = older.names | newer.names
        orders = chain_orders(model)
        early = fit(based, older, learned, names, orders=orders)
        candidate = with_values(based, to_write(_learned(early)))
        verdict = compare(model, candidate, judging(), names)
        whole = fit(based, both, learned, names, after=(early, newer), orders=orders)
        found = (*_learned(whole), *plain)
        new = with_values(model, to_write(found))
        normal = normal_results(new, newer if newer.cases else older, orders=orders)
        return Tuning(
            model,
            new,
            wanted,
            terms,
            record,
            split,
            verdict,
            _in_order(model, wanted, found),
            watch.summary(normal),
            len(whole.trace) - 1,
            whole.settled,
            older.different + newer.different,
        )


def _learned(fit: Fit) -> tuple[Change, ...]:
    """What changes; all shares do if some alone would not fit together."""
    found = changes(fit, intervals(fit))
    shares = [one for one in found if one.entry.group == "shares"]
    if any(not one.stays for one in shares):
        # The share of calls without a fault is what the others leave.
        found = tuple(
            replace(one, stays="")
            if one.entry.key == ("about", "calls_without_fault") and one.stays == "wide"
            else one
            for one in found
        )
    try:
        odds.base(with_values(fit.start, to_write(found)))
    except ModelError:
        return tuple(
            replace(one, stays="") if one in shares and one.stays == "wide" else one
            for one in found
        )
    return found


def _plain(
    model: Model, groups: Collection[str], clock: Clock, mix: Mapping[str, Counter[str]]
) -> tuple[Change, ...]:
    found: list[Change] = []
    if "minutes" in groups:
        for entry in entries(model, ("minutes",)):
            found.append(change_of_minutes(model, entry, clock.spent.get(str(entry.path[1]))))
    if "sites" in groups:
        for condition, about in model.site.items():
            mine = [e for e in entries(model, ("sites",)) if e.path[1] == condition]
            counts: Floats = np.array([float(mix[condition][value]) for value in about.values])
            found.extend(changes_of_mix(model, condition, mine, counts))
    return tuple(found)


def _in_order(model: Model, groups: Collection[str], found: Iterable[Change]) -> tuple[Change, ...]:
    place = {entry.key: at for at, entry in enumerate(entries(model, groups))}
    return tuple(sorted(found, key=lambda one: place[one.entry.key]))


def _nothing(record: Sorted) -> str:
    parts = [
        f"{record.held_back} wait for their call-back window" if record.held_back else "",
        f"{record.already_learned} are in the numbers already" if record.already_learned else "",
        f"{sum(record.misfits.values())} do not fit the model" if record.misfits else "",
    ]
    said = ", ".join(part for part in parts if part)
    return f"no case counts{': ' + said if said else '; there are none'}"
