"""The report is one file, says what the figures are worth, and can be read anywhere."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from brinebayes.knowledge.reading import read_model
from brinebayes.scoring.score import score
from brinebayes.tuning.numbers import with_values
from brinebayes.wording.scoring_page import page
from tests.page.browser import needs_chromium, phone
from tests.scoring.drawn import cases

SMALL = Path(__file__).resolve().parents[1] / "models" / "small"


@pytest.fixture(scope="module")
def text() -> str:
    """A report on two models."""
    model = read_model(SMALL)
    other = with_values(model, {("faults", "seals_worn", "share"): (0.6,)})
    named = replace(model, about=replace(model.about, name="A <small> softener & more"))
    return page(score(named, cases(model, 60, seed=1, looked_at=3), other))


class TestPage:
    """One file."""

    def test_nothing_is_fetched(self, text: str) -> None:
        assert "default-src 'none'" in text
        links = re.findall(r'(?:src|href)="([^"]*)"|url\(([^)]*)\)', text)
        assert all((a or b).startswith("#") for a, b in links)
        assert "<script" not in text

    def test_words_from_a_model_are_text(self, text: str) -> None:
        assert "A &lt;small&gt; softener &amp; more" in text
        assert "<small>" not in text

    def test_a_table_beside_every_picture(self, text: str) -> None:
        sections = re.findall(r"<section>.*?</section>", text, re.S)
        drawn = [one for one in sections if "<svg" in one]
        assert len(drawn) >= 8
        assert all("<table>" in one for one in drawn)
        assert all('role="img" aria-label="' in one for one in drawn)

    def test_ids_are_not_used_twice(self, text: str) -> None:
        assert [k for k, n in Counter(re.findall(r'\bid="([^"]*)"', text)).items() if n > 1] == []

    def test_it_says_that_the_cases_are_invented(self, text: str) -> None:
        assert "All of these cases are invented" in text

    @needs_chromium
    @pytest.mark.parametrize("width", [360, 1280])
    def test_it_fits_a_phone_and_a_desk(self, text: str, width: int, tmp_path: Path) -> None:
        file = tmp_path / "report.html"
        file.write_text(text, encoding="utf-8")
        with phone(file.as_uri(), viewport={"width": width, "height": 800}) as shown:
            assert shown.evaluate("document.documentElement.scrollWidth") <= width
            letters = shown.evaluate(
                "Math.min(...[...document.querySelectorAll('svg text')]"
                ".map(t => t.getBoundingClientRect().height))"
            )
            assert letters >= 9
            axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
            found = axe.run(shown).response["violations"]
            assert [one["id"] for one in found if one["impact"] in ("serious", "critical")] == []
