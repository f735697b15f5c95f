"""Every case at every step as a row, for a data frame."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from brinebayes.cases.record import Case
from brinebayes.knowledge.schema import Model
from brinebayes.scoring.batches import Sorted, batches
from brinebayes.scoring.ranking import FIGURES, by_case

Row = dict[str, str | int | float | bool]


def rows(model: Model, cases: Iterable[Case]) -> Iterator[Row]:
    """Case, closed, site, technician, invented, found (names with blanks between), answers, last
    (whether it is the last step before the first repair), leader and the figures of
    `ranking.FIGURES`; a row for each step of each case that can be scored."""
    names = tuple(model.faults)
    for batch in batches((model,), cases, Sorted()):
        for answers in range(int(batch.last.max()) + 1):
            faults = batch.at(0, answers)
            figures = by_case(faults, batch.found)
            leaders = faults.argmax(axis=1)
            for place, case in enumerate(batch.cases):
                if answers > batch.last[place]:
                    continue
                yield {
                    "case": case.id,
                    "closed": case.closed,
                    "site": case.unit,
                    "technician": case.technician,
                    "invented": case.invented,
                    "found": " ".join(one.fault for one in case.undisputed),
                    "answers": answers,
                    "last": answers == batch.last[place],
                    "leader": names[leaders[place]],
                    **dict(zip(FIGURES, figures[place].tolist(), strict=True)),
                }
