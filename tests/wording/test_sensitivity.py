"""What is said of a sensitivity."""

from __future__ import annotations

from pathlib import Path

import pytest

from brinebayes.knowledge.reading import read_model
from brinebayes.scoring.score import score
from brinebayes.sensitivity.sensitivity import Sensitivity, sensitivity
from brinebayes.wording import sensitivity as say
from brinebayes.wording.scoring_page import page
from tests.scoring.drawn import cases

SMALL = Path(__file__).resolve().parents[1] / "models" / "small"


@pytest.fixture(scope="module")
def found() -> Sensitivity:
    """On cases of the small model."""
    model = read_model(SMALL)
    return sensitivity(model, cases(model, 40, seed=1, looked_at=3), 4)


class TestToText:
    """For a terminal."""

    def test_every_number_is_named_with_what_it_is(self, found: Sensitivity) -> None:
        text = say.to_text(found)
        flat = " ".join(text.split())
        assert max(map(len, text.splitlines())) <= 80
        assert "drawn 4 times" in flat
        for one in found.matters:
            assert say.name(found, one) in flat


class TestToObject:
    """As data."""

    def test_a_row_for_each(self, found: Sensitivity) -> None:
        told = say.to_object(found)
        assert len(told["matters"]) == len(found.matters)
        assert [one["answers"] for one in told["holds"]] == [0, "last"]


class TestPage:
    """In the report."""

    def test_two_more_pictures_with_tables(self, found: Sensitivity) -> None:
        rated = score(found.model, cases(found.model, 40, seed=1, looked_at=3))
        without, text = page(rated), page(rated, found)
        for part in ("<svg", "<table>"):
            assert text.count(part) == without.count(part) + 2
