"""What was known at each step of a case until its first repair, in a form that can be merged.

From the first repair on the record speaks of a unit that was changed, and the confirmation of a
fault mostly leans on that repair. So the ranking is scored up to there: it is what the technician
had when he reached for his tools.
"""

from __future__ import annotations

from collections.abc import Iterator

from brinebayes.cases.record import Case
from brinebayes.cases.replay import walk
from brinebayes.knowledge.schema import Model
from brinebayes.network.belief import Question
from brinebayes.record import record


@record
class Known:
    """One set of evidence about a unit as it was found; equal where the same was told and seen.

    `site`: (condition, value) by name. `findings`: (observation, complaint or `proof`, likelihood
    of its outcomes) by name; of several answers to the same the last.
    """

    site: tuple[tuple[str, str], ...] = ()
    findings: tuple[tuple[str, tuple[float, ...]], ...] = ()


def steps(model: Model, case: Case) -> tuple[Known, ...]:
    """What was known: when all was told, then after each answer, up to the first repair.

    Never empty. Raises DataError naming the case if the model does not know something in it.
    """
    return tuple(known(question) for question in _before_repairs(model, case))


def known(question: Question) -> Known:
    """The evidence of a question to which no repair belongs."""
    found: dict[str, tuple[float, ...]] = dict.fromkeys(question.complaints, (1.0, 0.0))
    for seen in question.seen:
        found[seen.observation] = seen.likelihood
    return Known(tuple(sorted(question.site.items())), tuple(sorted(found.items())))


def last_question(model: Model, case: Case) -> Question:
    """The last question before the first repair."""
    return list(_before_repairs(model, case))[-1]


def _before_repairs(model: Model, case: Case) -> Iterator[Question]:
    for question in walk(model, case):
        if question.done:
            return
        yield question
