"""`brinebayes prepare`: the sheet, and what bad input meets."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

SMALL = str(Path(__file__).resolve().parent.parent / "models" / "small")
Run = Callable[..., Any]


class TestPrepare:
    """On the small model."""

    def test_in_the_customers_words(self, run: Run) -> None:
        by_id = run("prepare", "--model", SMALL, "--complaint", "hard_water")
        in_words = run("prepare", "--model", SMALL, "--complaint", "the water is hard")
        assert by_id.code == in_words.code == 0
        assert by_id.out == in_words.out
        assert by_id.out.startswith("SHEET FOR THE CALL")

    def test_an_answer_makes_the_sheet_again(self, run: Run) -> None:
        line = ("prepare", "--model", SMALL, "--json", "--complaint", "hard_water")
        before = json.loads(run(*line).out)
        after = json.loads(run(*line, "--saw", "salt_use=stopped").out)
        assert [one["id"] for one in before["questions"]] == ["ask_salt"]
        assert after["questions"] == []
        assert after["works"] < before["works"]

    def test_the_shop_file_counts(self, run: Run, tmp_path: Path) -> None:
        shop = tmp_path / "shop.yaml"
        shop.write_text("van: []\ncarrying: {seal_kit: 30}\n", encoding="utf-8")
        line = ("prepare", "--model", SMALL, "--json", "--complaint", "hard_water")
        (kit,) = json.loads(run(*line, "--shop", str(shop)).out)["parts"]
        assert (kit["in_van"], kit["carrying"], kit["carry"]) == (0.0, 30.0, False)

    @pytest.mark.parametrize(
        ("line", "words"),
        [
            (("--complaint", "my cat is ill"), "there is no complaint 'my cat is ill'"),
            (("--saw", "salt_use"), "write it as --saw OBSERVATION=OUTCOME"),
            (("--site", "age=new"), "there is no site condition or measure 'age'"),
        ],
    )
    def test_bad_input(self, run: Run, line: tuple[str, ...], words: str) -> None:
        ran = run("prepare", "--model", SMALL, *line)
        assert ran.code == 2
        assert words in ran.err

    def test_neither_next_nor_visit_loads_it(self) -> None:
        code = (
            "import sys, brinebayes.cli.next, brinebayes.cli.visit, brinebayes.advice.advise, "
            "brinebayes.dialogue.answer, brinebayes.wording.screen; "
            "print([m for m in sys.modules if 'prepare' in m.split('.')])"
        )
        ran = subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True
        )
        assert ran.stdout.strip() == "[]"
