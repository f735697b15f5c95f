"""The published JSON Schema, judged by a general-purpose validator (python-jsonschema)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from jsonschema import Draft202012Validator

from brinebayes.cases.lines import to_line
from brinebayes.cases.published import json_schema
from brinebayes.cases.record import Case
from tests.cases.anything import cases
from tests.cases.test_lines import MISTAKES, changed
from tests.strategies import LAW

COMMITTED = Path(__file__).resolve().parents[2] / "cases" / "case.schema.json"

#: What no schema can say, or this validator does not see (`$` before a line end); `lines` does.
BEYOND = {
    "a day with a line end",
    "no such day",
    "closed first",
    "no end",
    "on after the end",
    "undo of nothing",
    "confirmed twice",
    "proven but not done",
    "model with an empty hash",
}


class TestJsonSchema:
    """The file and the code say the same, and both agree with what is read."""

    def test_the_committed_file_is_what_the_code_makes(self) -> None:
        """`brinebayes cases schema > cases/case.schema.json` writes it anew."""
        assert json.loads(COMMITTED.read_text(encoding="utf-8")) == json_schema()

    def test_it_is_a_schema(self) -> None:
        Draft202012Validator.check_schema(json_schema())

    @LAW
    @given(case=cases())
    def test_it_takes_every_case(self, case: Case) -> None:
        Draft202012Validator(json_schema()).validate(json.loads(to_line(case)))

    @pytest.mark.parametrize("mistake", [name for name in MISTAKES if name not in BEYOND])
    def test_it_refuses_what_reading_refuses(self, mistake: str) -> None:
        # A line that ends in NaN is no JSON to begin with.
        change, _ = MISTAKES[mistake]
        row = json.loads(changed(change), parse_constant=lambda _: "NaN")
        assert not Draft202012Validator(json_schema()).is_valid(row)
