"""`brinebayes cases`, and the visit that becomes a case."""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from brinebayes.cases.lines import to_line
from brinebayes.cases.place import VARIABLE
from brinebayes.checking.ready import ready
from brinebayes.visit.file import VisitFile
from brinebayes.visit.record import Header, read_record, to_lines
from tests.cases.anything import PROVEN
from tests.cases.sheets.books import FULL, MAPPING, SPARSE, with_, workbook
from tests.cli.conftest import Ran
from tests.dialogue.drive import SMALL

MODEL = ("--model", str(SMALL))
WHOLE = "1\n\n2\n2\n1\nsaw level=static\ndone clean_injector\nsaw proof=passed\nfinish\nok\n"

Run = Callable[..., Ran]


@pytest.fixture
def log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A log of the test's own, in a folder that is not there yet."""
    path = tmp_path / "data" / "cases.db"
    monkeypatch.setenv(VARIABLE, str(path))
    return path


@pytest.fixture
def sit(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], Ran]:
    """sit("typed lines"): one sitting of the visit kept in visit.jsonl."""

    def once(typed: str) -> Ran:
        monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
        return run("visit", str(tmp_path / "visit.jsonl"), *MODEL)

    return once


def listed(run: Run) -> list[dict[str, object]]:
    """Every case of the log, by `cases list --json`."""
    return [json.loads(line) for line in run("cases", "list", "--json").out.splitlines()]


class TestVisit:
    """A visit that ends becomes a case, once."""

    def test_it_is_kept(self, run: Run, sit: Callable[[str], Ran], log: Path) -> None:
        said = sit(WHOLE)
        (case,) = listed(run)
        assert (said.code, said.err) == (0, "")
        assert f"Kept as case {case['id']}." in said.out
        assert case["proven"] == ["clean_injector"]
        assert case["id"] == read_record(log.parents[1] / "visit.jsonl").header.id

    def test_with_the_advice_that_was_on_the_screen(
        self, run: Run, sit: Callable[[str], Ran], log: Path
    ) -> None:
        sit(WHOLE)
        steps: object = listed(run)[0]["steps"]
        assert isinstance(steps, list)
        saw = next(step for step in steps if step["event"] == "saw")
        model = ready(SMALL).model
        assert saw["advised"] in {*model.checks, *model.repairs}

    def test_not_before_its_end_and_not_twice(
        self, run: Run, sit: Callable[[str], Ran], log: Path
    ) -> None:
        assert "Kept" not in sit(WHOLE.removesuffix("ok\n")).out
        assert not log.exists()
        assert "Kept" in sit("finish\nok\n").out
        assert "Kept" not in sit("").out
        assert len(listed(run)) == 1

    def test_gone_on_with_after_the_end(
        self, run: Run, sit: Callable[[str], Ran], log: Path
    ) -> None:
        """The case gets a revision with the visit's new end; what was told meanwhile stays."""
        sit(WHOLE)
        id = str(listed(run)[0]["id"])
        assert run("cases", "amend", id, "--found", "injector_clogged=seen", *MODEL).code == 0
        sit("undo\nsaw proof=failed\nfinish\nok\n3\n")
        (case,) = listed(run)
        assert case["proven"] == []
        assert case["confirmed"] == [{"fault": "injector_clogged", "how": "seen", "sure": 0.97}]
        shown = json.loads(run("cases", "show", id, "--json").out)
        assert [one["number"] for one in shown["revisions"]] == [1, 2, 3]

    def test_a_log_that_cannot_be_written(
        self, run: Run, sit: Callable[[str], Ran], log: Path
    ) -> None:
        log.parent.mkdir()
        log.mkdir()
        said = sit(WHOLE)
        path = log.parents[1] / "visit.jsonl"
        assert said.code == 4
        assert f"The visit is safe in {path}; add it later: brinebayes cases add {path}" in said.err
        log.rmdir()
        assert run("cases", "add", str(path), *MODEL).out.startswith("1 new")

    def test_off(
        self, sit: Callable[[str], Ran], log: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setenv(VARIABLE, "off")
        assert "Kept" not in sit(WHOLE).out


class TestAdd:
    """Finished visits by hand."""

    def test_a_file_without_times(self, run: Run, log: Path, tmp_path: Path) -> None:
        path = tmp_path / "old.jsonl"
        path.write_text(to_lines(PROVEN.events), encoding="utf-8")
        ran = run("cases", "add", str(path), *MODEL)
        assert (ran.code, log.exists()) == (4, False)
        assert "say on which day it was" in ran.err
        again = ("cases", "add", str(path), "--day", "2024-05-31", "--json", *MODEL)
        first, second = (json.loads(run(*again).out) for _ in range(2))
        assert (len(first["new"]), second["same"]) == (1, first["new"])

    def test_a_visit_that_has_not_ended(self, run: Run, log: Path, tmp_path: Path) -> None:
        path = tmp_path / "open.jsonl"
        with VisitFile(path, Header(at="2024-05-31T08:00:00Z")) as visit:
            visit.append(PROVEN.events[:3])
        ran = run("cases", "add", str(path), *MODEL)
        assert (ran.code, ran.out) == (4, "")
        assert "the visit has not ended" in ran.err


class TestAnswers:
    """What is printed about a log."""

    @pytest.fixture(autouse=True)
    def _one_case(self, run: Run, log: Path, tmp_path: Path) -> None:
        path = tmp_path / "shop.jsonl"
        path.write_text(to_line(PROVEN))
        assert (
            run("cases", "import", str(path), *MODEL).out == "1 new, 0 revised, 0 there already.\n"
        )

    def test_list(self, run: Run) -> None:
        line = "2024-05-31  proven-1  hard_water; repaired and proven; injector_clogged\n"
        assert run("cases", "list").out == line
        assert run("cases", "list", "--fault", "seals_worn").out == ""

    def test_show(self, run: Run) -> None:
        out = run("cases", "show", "proven-1").out
        assert "  found        injector_clogged: seen, 97 %\n" in out
        assert "saw level static" in out
        assert run("cases", "show", "proven-2").code == 2

    def test_amend(self, run: Run) -> None:
        ran = run(
            "cases", "amend", "proven-1", "--call-back", "no", "--unit", "u7", "--json", *MODEL
        )
        case = json.loads(ran.out)["case"]
        assert (case["call_back"], case["unit"]) == ("no", "u7")
        assert "(revision 2)" in run("cases", "show", "proven-1").out

    def test_export_is_what_was_imported(self, run: Run) -> None:
        assert run("cases", "export").out == to_line(PROVEN)

    def test_check(self, run: Run, tmp_path: Path) -> None:
        assert run("cases", "check", *MODEL).out == "Nothing is wrong; cases looked at: 1.\n"
        path = tmp_path / "shop.jsonl"
        path.write_text(to_line(PROVEN).replace("clean_injector", "clean_injectors"))
        ran = run("cases", "check", str(path), "--json", *MODEL)
        assert ran.code == 4
        assert json.loads(ran.out)["problems"] == [
            "case proven-1: there is no repair 'clean_injectors' (did you mean clean_injector?)"
        ]

    def test_backup(self, run: Run, tmp_path: Path) -> None:
        assert run("cases", "backup", str(tmp_path / "copy.db")).code == 0
        assert run("cases", "export", "--log", str(tmp_path / "copy.db")).out == to_line(PROVEN)

    def test_schema(self, run: Run) -> None:
        assert json.loads(run("cases", "schema").out)["properties"]["schema"] == {
            "const": "brinebayes.case.1"
        }


class TestImportSheet:
    """A spreadsheet through its mapping; a second time adds nothing."""

    def test_dry_run_then_for_good_then_again(self, run: Run, log: Path, tmp_path: Path) -> None:
        path = workbook(tmp_path / "visits.xlsx", FULL, with_(Outlet="~18"), SPARSE)
        (tmp_path / "mapping.yaml").write_text(MAPPING)
        line = ("cases", "import", str(path), "--mapping", str(tmp_path / "mapping.yaml"), *MODEL)
        rejected = tmp_path / "visits.xlsx.rejected.csv"
        dry = run(*line, "--dry-run")
        assert (dry.code, log.exists(), rejected.exists()) == (4, False, False)
        assert dry.out.splitlines() == [
            f"{path}:Visits!G5: '~18' is no plain number; leave it blank if it was not measured",
            "2 new, 0 revised, 0 there already.",
            "Dry run: nothing was added.",
        ]
        first = json.loads(run(*line, "--json").out)
        assert (len(first["new"]), len(first["problems"])) == (2, 1)
        assert first["rejected"] == str(rejected)
        assert rejected.read_text().splitlines()[1].startswith("5,'~18' is no plain number")
        again = json.loads(run(*line, "--json").out)
        assert (again["new"], again["same"]) == ([], first["new"])
        assert len(listed(run)) == 2

    def test_draft(self, run: Run, tmp_path: Path) -> None:
        out = run("cases", "draft", str(workbook(tmp_path / "visits.xlsx", FULL)), *MODEL).out
        assert '"Day": {is: closed}' in out


class TestNoLog:
    """Nothing is made by looking."""

    def test_none_yet(self, run: Run, log: Path) -> None:
        ran = run("cases", "list")
        assert (ran.code, ran.out, log.exists()) == (4, "", False)
        assert "there is no case log yet" in ran.err

    def test_switched_off(self, run: Run) -> None:
        assert "the case log is switched off" in run("cases", "list").err
