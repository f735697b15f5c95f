"""Which numbers matter most."""

from __future__ import annotations

from dataclasses import replace

import pytest

from brinebayes.cases.record import Case, Step
from brinebayes.knowledge.schema import Model
from brinebayes.scoring.ranking import FIGURES
from brinebayes.scoring.score import LAST, score
from brinebayes.sensitivity.matters import matters
from brinebayes.sensitivity.moves import moved, possible
from brinebayes.sensitivity.sample import sample
from brinebayes.visit.events import Saw


class TestMatters:
    """One number at a time."""

    def test_each_is_the_difference_of_two_scores(
        self, small: Model, drawn_cases: tuple[Case, ...]
    ) -> None:
        for one in matters(small, sample(small, drawn_cases), shown=4):
            for by, figure in ((-1.0, one.down), (1.0, one.up)):
                other = possible(small, moved(small, one.entry, by)[0])
                assert (other is None) == (figure is None)
                if other is None:
                    continue
                last = score(small, drawn_cases, other).differences[-1]
                assert last.answers == LAST
                theirs = last.figures[list(FIGURES).index("log_score")]
                assert figure.value == pytest.approx(theirs.value, abs=1e-6)

    def test_the_largest_first(self, small: Model, drawn_cases: tuple[Case, ...]) -> None:
        sizes = [one.size for one in matters(small, sample(small, drawn_cases))]
        assert sizes == sorted(sizes, reverse=True)
        assert sizes[0] > 0.0

    def test_what_nobody_looked_at_does_not_matter(
        self, small: Model, drawn_cases: tuple[Case, ...]
    ) -> None:
        """Only one observation is left in the record: no other's numbers can matter."""
        kept = []
        for case in drawn_cases:
            steps = tuple(
                Step(step.event)
                for step in case.steps
                if not isinstance(step.event, Saw) or step.event.observation == "level"
            )
            kept.append(replace(case, steps=steps))
        found = matters(small, sample(small, kept), shown=100)
        named = {one.entry.path[3] for one in found if one.entry.path[0] == "checks"}
        assert named == {"level"}
        looked = sum(any(isinstance(s.event, Saw) for s in case.steps) for case in kept)
        assert {one.affected for one in found if one.entry.path[0] == "checks"} == {looked}
