"""`brinebayes simulate`, on the small model and on physical units."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

SMALL = str(Path(__file__).resolve().parents[1] / "models" / "small")
Run = Callable[..., Any]


class TestSimulate:
    """A table, or one object, of policies on the same visits."""

    def test_says_what_kind_of_units_these_are(self, run: Run) -> None:
        line = ("simulate", "--model", SMALL, "--units", "model", "--visits", "5")
        ran = run(*line)
        assert ran.code == 0, ran.err
        assert "DRAWN FROM THE MODEL" in ran.out
        for policy in ("search", "repairs alone", "bits then repair", "fixed order", "cause known"):
            assert f"  {policy} " in ran.out
        assert max(map(len, ran.out.splitlines())) <= 80

    def test_physical_units_are_served_and_a_run_goes_on(self, run: Run, tmp_path: Path) -> None:
        file = str(tmp_path / "visits.jsonl")
        line = ("simulate", "--policy", "fixed order", "--file", file, "--json")
        first = json.loads(run(*line, "--visits", "1").out)
        assert first["units"] == "A"
        assert first["policies"]["fixed order"]["minutes"]["mean"] > 0.0
        assert first["gap_closed"] is None
        second = json.loads(run(*line, "--visits", "2").out)
        assert second["visits"] == 2
        lines = Path(file).read_text(encoding="utf-8").splitlines()
        assert [json.loads(line).get("visit") for line in lines] == [None, 0, 1]

    def test_a_wrong_name_is_refused_in_words(self, run: Run) -> None:
        for wrong, words in (
            (("--units", "C"), "there are: model, A, B"),
            (("--policy", "serch"), "did you mean search?"),
        ):
            ran = run("simulate", "--model", SMALL, *wrong)
            assert ran.code == 2
            assert words in ran.err
            assert ran.out == ""
