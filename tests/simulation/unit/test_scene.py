"""A look, and what goes wrong with it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.scene import Answer, Question, answer
from tests.simulation.unit.houses import scene

THREE = Question(lambda _: Answer("a", "1 gpm"), ("a", "b", "c"), 0.2)


class TestAnswer:
    """Slips included."""

    def test_as_often_wrong_as_said_and_evenly(self) -> None:
        at = scene()
        said = [
            answer(THREE, replace(at, luck=Chance(f"slip {number}"))).outcome
            for number in range(2000)
        ]
        assert said.count("a") / 2000 == pytest.approx(0.8, abs=0.03)
        assert said.count("b") == pytest.approx(said.count("c"), rel=0.3)

    def test_a_slip_is_told_in_words(self) -> None:
        at = scene()
        for number in range(60):
            found = answer(THREE, replace(at, luck=Chance(f"slip {number}")))
            assert bool(found.number) == (found.outcome == "a")


class TestGauge:
    """An instrument's error."""

    def test_centred_on_the_value(self) -> None:
        at = scene()
        read = [replace(at, luck=Chance(f"g {n}")).gauge(10.0, 0.05) for n in range(2000)]
        assert sum(read) / 2000 == pytest.approx(10.0, rel=0.01)
