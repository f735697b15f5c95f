"""The spread of the figures under drawn numbers."""

from __future__ import annotations

from dataclasses import replace

import pytest

from brinebayes.cases.record import Case
from brinebayes.knowledge.schema import Model
from brinebayes.scoring.score import score
from brinebayes.sensitivity import holds as room
from brinebayes.sensitivity.holds import Holds, holds
from brinebayes.sensitivity.moves import movable
from brinebayes.sensitivity.sample import sample


def weighing(
    model: Model, cases: tuple[Case, ...], weight: float, patch: pytest.MonkeyPatch
) -> Holds:
    """Ten draws with every number worth so many cases."""
    numbers = tuple(replace(entry, weight=weight) for entry in movable(model))
    patch.setattr(room, "movable", lambda _: numbers)
    return holds(model, sample(model, cases), 10)


class TestHolds:
    """As many cases as a number is worth, as little it moves."""

    def test_numbers_that_are_certain_change_nothing(
        self, small: Model, drawn_cases: tuple[Case, ...], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        for step in weighing(small, drawn_cases, 1e12, monkeypatch).steps:
            assert step.changed.value == 0.0
            assert step.steady == 1.0
            for figure in step.figures:
                assert figure.low == pytest.approx(figure.value, abs=1e-4)
                assert figure.high == pytest.approx(figure.value, abs=1e-4)

    def test_the_less_certain_the_wider(
        self, small: Model, drawn_cases: tuple[Case, ...], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        widths = []
        for weight in (1000.0, 50.0, 5.0):
            step = weighing(small, drawn_cases, weight, monkeypatch).steps[-1]
            widths.append((step.figures[3].high - step.figures[3].low, step.changed.value))
        assert widths[0][0] < widths[1][0] < widths[2][0]
        assert widths[0][1] < widths[2][1]

    def test_the_models_own_figures(self, small: Model, drawn_cases: tuple[Case, ...]) -> None:
        found = holds(small, sample(small, drawn_cases), 2)
        steps = score(small, drawn_cases).rankings[0].steps
        for held, step in zip(found.steps, (steps[0], steps[-1]), strict=True):
            assert held.answers == step.answers
            for mine, theirs in zip(held.figures, step.figures, strict=True):
                assert mine.value == pytest.approx(theirs.value, abs=1e-6)

    def test_the_same_draws_every_time(self, small: Model, drawn_cases: tuple[Case, ...]) -> None:
        chosen = sample(small, drawn_cases)
        assert holds(small, chosen, 3) == holds(small, chosen, 3)
