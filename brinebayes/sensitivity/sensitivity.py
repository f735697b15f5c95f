"""Everything about how the figures of a ranking hang on the numbers of its model."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from brinebayes.cases.record import Case
from brinebayes.errors import UsageError
from brinebayes.knowledge.schema import Model
from brinebayes.record import record
from brinebayes.sensitivity.holds import Holds, holds
from brinebayes.sensitivity.matters import Matter, matters
from brinebayes.sensitivity.moves import movable
from brinebayes.sensitivity.sample import sample


@record
class Sensitivity:
    """`cases` of `of` were looked at; `numbers` can move; `matters`: those that move the score
    most."""

    model: Model
    cases: int
    of: int
    numbers: int
    holds: Holds
    matters: tuple[Matter, ...]


def sensitivity(
    model: Model,
    cases: Iterable[Case],
    draws: int,
    progress: Callable[[str, int, int], None] = lambda *_: None,
) -> Sensitivity:
    """Draw all numbers so often, and move each by itself. `progress`: what is under way, how much
    of it is done, and of how much. Raises DataError without a case, UsageError for too few draws.
    """
    if draws < 2:
        raise UsageError(f"{draws} draws say nothing about a spread; it takes 2 or more")
    chosen = sample(model, cases)
    held = holds(model, chosen, draws, lambda done, all_: progress("draws", done, all_))
    most = matters(model, chosen, progress=lambda done, all_: progress("numbers", done, all_))
    return Sensitivity(model, len(chosen.names), chosen.of, len(movable(model)), held, most)
