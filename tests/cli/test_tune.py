"""`brinebayes tune`, `model compare` and `model restore`, as a shop would use them."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from brinebayes.cases.lines import to_line
from brinebayes.cases.log import add_to
from brinebayes.knowledge.reading import read_model
from brinebayes.tuning.numbers import with_values
from tests.tuning.conftest import OTHERWISE
from tests.tuning.simulated import cases

SMALL = str(Path(__file__).resolve().parents[1] / "models" / "small")
Run = Callable[..., Any]


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Cases of units that are otherwise than the model says."""
    model = read_model(Path(SMALL))
    path = tmp_path_factory.mktemp("cases") / "cases.jsonl"
    made = cases(with_values(model, OTHERWISE), model, 200, seed=3)
    path.write_text("".join(map(to_line, made)), encoding="utf-8")
    return path


class TestTune:
    """Dry, then written, compared, and taken back."""

    def test_dry_by_default(self, run: Run, file: Path) -> None:
        ran = run("tune", str(file), "--model", SMALL, "--group", "shares")
        assert ran.code == 0, ran.err
        assert "What 200 cases say about A small softener 1" in ran.out
        assert "Piston seals worn: 20.0 % ->" in ran.out
        assert "200 of the cases are invented" in ran.out
        assert "--write" in ran.err
        assert max(map(len, ran.out.splitlines())) <= 80
        assert len(ran.out.splitlines()) <= 60

    def test_written_compared_and_taken_back(self, run: Run, file: Path, tmp_path: Path) -> None:
        ours = str(tmp_path / "ours")
        line = ("tune", str(file), "--model", SMALL, "--group", "shares", "--write", ours)
        assert run(*line).code == 0
        compared = run("model", "compare", SMALL, ours)
        assert compared.code == 0
        assert "faults.seals_worn.share: 0.2 ->" in compared.out
        assert "judgement -> learned, 200 cases" in compared.out
        again = run("tune", str(file), "--model", ours, "--group", "shares")
        assert again.code == 4
        assert "in the numbers already" in again.err
        assert run("model", "restore", ours).code == 0
        assert "are the same" in run("model", "compare", SMALL, ours).out

    def test_json_from_the_log(self, run: Run, file: Path, tmp_path: Path) -> None:
        from brinebayes.cases.lines import read_cases

        log = tmp_path / "log.db"
        add_to(log, read_cases(file), "2026-01-01T00:00:00Z")
        ran = run("tune", "--log", str(log), "--model", SMALL, "--group", "misreadings", "--json")
        assert ran.code == 0, ran.err
        found = json.loads(ran.out)
        assert found["schema"] == "brinebayes.tune.1"
        assert found["cases"]["counted"] == 200
        assert {one["path"][-1] for one in found["numbers"]} == {"misreading"}

    def test_all_says_all(self, run: Run, file: Path) -> None:
        line = ("tune", str(file), "--model", SMALL, "--group", "links", "--also", "observations")
        ran = run(*line, "--all")
        assert ran.code == 0, ran.err
        assert "Suction of the injector" in ran.out
