"""What is said of a score holds."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.shipped import model_folder
from brinebayes.scoring.score import Group, Score, score
from brinebayes.wording import scoring as say
from tests.scoring.drawn import cases

SMALL = Path(__file__).resolve().parents[1] / "models" / "small"


@pytest.fixture(scope="module")
def model() -> Model:
    """The small model."""
    return read_model(SMALL)


@pytest.fixture(scope="module")
def found(model: Model) -> Score:
    """Its score on cases of its own."""
    return score(model, cases(model, 80, seed=1, looked_at=3), resampled="technician")


class TestNotes:
    """Invented cases are called invented."""

    def test_all(self, found: Score) -> None:
        assert "All of these cases are invented" in say.notes(found)[0]

    def test_some(self, model: Model) -> None:
        drawn = [replace(c, invented=k < 3) for k, c in enumerate(cases(model, 10, seed=2))]
        assert "3 of the cases are invented" in " ".join(say.notes(score(model, drawn)))

    def test_none(self, model: Model) -> None:
        drawn = [replace(c, invented=False) for c in cases(model, 10, seed=2)]
        assert "invented" not in say.to_text(score(model, drawn))


class TestRules:
    """How was counted stands on the page."""

    def test_several_faults_and_few_units(self, found: Score) -> None:
        text = " ".join(say.rules(found))
        assert "counts each of them in equal parts" in text
        assert "among the faults that were not there" in text
        assert "resampled by technician (3)" in text
        assert "not to be relied on" in text


class TestReasons:
    """Why a case was got wrong."""

    def test_a_fault_that_the_site_rules_out(self, model: Model, found: Score) -> None:
        worst = replace(found.rankings[0].missed[0], before=float("inf"), pushes=())
        text = " ".join(say.reasons(model, worst))
        assert f"the model rules {model.faults[worst.found].name} out" in text
        assert "inf" not in text
        assert "odds at the start" not in text

    def test_in_the_words_of_the_model(self, model: Model, found: Score) -> None:
        (worst, *_) = found.rankings[0].missed
        text = " ".join(say.reasons(model, worst))
        assert worst.case in text
        assert model.faults[worst.found].name in text
        assert model.faults[worst.leader].name in text


class TestDifference:
    """Which of two models is better is said only beyond chance."""

    def test_the_same_twice(self, model: Model) -> None:
        twice = score(model, cases(model, 20, seed=3), model)
        assert "may be chance" in say.verdict(twice)


class TestShortName:
    """Names of groups that fit into a column, no two alike."""

    def test_kinds_of_site(self) -> None:
        model = read_model(model_folder("softener"))
        groups = [
            Group(kind, value, cases=20, few=False, figures=())
            for kind, condition in model.site.items()
            for value in condition.values
        ]
        names = [say.short_name(model, group, 28) for group in groups]
        assert len(set(names)) == len(names)
        assert max(map(len, names)) <= 28
