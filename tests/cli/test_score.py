"""`brinebayes score`, as a researcher would use it."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from typing import Any

import pytest

from brinebayes.cases.lines import to_line
from brinebayes.cases.log import add_to
from brinebayes.knowledge.reading import read_model
from tests.scoring.drawn import cases

SMALL = str(Path(__file__).resolve().parents[1] / "models" / "small")
Run = Callable[..., Any]


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Cases of the small model."""
    path = tmp_path_factory.mktemp("cases") / "cases.jsonl"
    drawn = cases(read_model(Path(SMALL)), 60, seed=3, looked_at=3)
    path.write_text("".join(map(to_line, drawn)), encoding="utf-8")
    return path


class TestScore:
    """One model, two models, and the same as data."""

    def test_the_page(self, run: Run, file: Path) -> None:
        ran = run("score", str(file), "--model", SMALL)
        assert ran.code == 0, ran.err
        assert "How well A small softener 1 ranks the faults: 60 cases" in ran.out
        assert "All of these cases are invented" in ran.out
        assert "counts each of them in equal parts" in " ".join(ran.out.split())
        assert max(map(len, ran.out.splitlines())) <= 80

    def test_json_and_table_hold_the_same_figures(self, run: Run, file: Path) -> None:
        told = json.loads(run("score", str(file), "--model", SMALL, "--json").out)
        assert told["schema"] == "brinebayes.score.1"
        assert told["cases"]["scored"] == told["cases"]["invented"] == 60
        printed = run("score", str(file), "--model", SMALL, "--csv").out
        table = list(csv.DictReader(StringIO(printed)))
        for step in told["models"][0]["steps"]:
            for figure, values in step["figures"].items():
                (row,) = [
                    r
                    for r in table
                    if r["part"] == "step"
                    and r["answers"] == str(step["answers"])
                    and r["figure"] == figure
                ]
                assert float(row["value"]) == values["value"]
                assert values["low"] <= values["value"] <= values["high"]

    def test_two_models(self, run: Run, file: Path, tmp_path: Path) -> None:
        text = Path(SMALL, "checks.yaml").read_text(encoding="utf-8")
        assert text.count("{of: {soft: 0.97, hard: 0.03}") == 1
        text = text.replace("{of: {soft: 0.97, hard: 0.03}", "{of: {soft: 0.04, hard: 0.96}")
        text = text.replace("{of: {soft: 0.04, hard: 0.96}, basis: judgement, weight: 25, note: "
                            "invented d}", "{of: {soft: 0.97, hard: 0.03}, basis: judgement, "
                            "weight: 25, note: invented d}")  # fmt: skip
        for path in Path(SMALL).iterdir():
            (tmp_path / path.name).write_bytes(path.read_bytes())
        (tmp_path / "checks.yaml").write_text(text, encoding="utf-8")
        other = ("--against", str(tmp_path), "--resample", "site")
        ran = run("score", str(file), "--model", SMALL, *other)
        assert ran.code == 0, ran.err
        assert "DIFFERENCE: small" in ran.out
        assert "resampled by site (40)" in ran.out

    def test_the_report_goes_into_a_file(self, run: Run, file: Path, tmp_path: Path) -> None:
        report = tmp_path / "report.html"
        ran = run("score", str(file), "--model", SMALL, "--json", "--html", str(report))
        assert json.loads(ran.out)["cases"]["scored"] == 60
        assert str(report) in ran.err
        assert "<svg" in report.read_text(encoding="utf-8")

    def test_with_numbers_that_move(self, run: Run, file: Path) -> None:
        ran = run("score", str(file), "--model", SMALL, "--sensitivity", "3")
        assert ran.code == 0, ran.err
        assert "NUMBERS THAT MATTER MOST" in ran.out
        told = json.loads(
            run("score", str(file), "--model", SMALL, "--sensitivity", "3", "--json").out
        )
        assert told["sensitivity"]["draws"] == 3

    def test_from_the_log(self, run: Run, tmp_path: Path) -> None:
        log = tmp_path / "cases.db"
        add_to(log, cases(read_model(Path(SMALL)), 12, seed=4), "2024-05-31T08:00:00Z")
        told = json.loads(run("score", "--model", SMALL, "--log", str(log), "--json").out)
        assert told["cases"]["scored"] == 12

    def test_nothing_to_score(self, run: Run, tmp_path: Path) -> None:
        empty = tmp_path / "none.jsonl"
        empty.write_text("", encoding="utf-8")
        ran = run("score", str(empty), "--model", SMALL)
        assert ran.code == 4
        assert "no case can be scored" in ran.err

    def test_an_unknown_way_to_resample(self, run: Run, file: Path) -> None:
        ran = run("score", str(file), "--model", SMALL, "--resample", "shop")
        assert ran.code == 2
        assert "case, site or technician" in ran.err or "site" in ran.err
