"""The mapping file: strict, and every mistake in it with its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from brinebayes.cases.sheets.mapping import Column, SheetMapping, folded, read_mapping
from brinebayes.errors import DataError
from brinebayes.knowledge.frozen import ReadOnly
from tests.cases.sheets.books import HEADER, MAPPING
from tests.dialogue.drive import small

MODEL = small().model


def mapped(tmp_path: Path, text: str) -> SheetMapping:
    """A mapping from its text."""
    path = tmp_path / "mapping.yaml"
    path.write_text(text, encoding="utf-8")
    return read_mapping(path, MODEL)


class TestReadMapping:
    """What is written there, and nothing else."""

    def test_the_shops_own(self, tmp_path: Path) -> None:
        found = mapped(tmp_path, MAPPING)
        assert tuple(found.columns) == HEADER
        assert (found.sheet, found.header_row, found.decimal) == ("Visits", 3, ".")
        assert found.blank == frozenset({"n/a"})
        assert found.columns["Level"] == Column(
            "saw", "level", values=ReadOnly({"falls": "falls", "stays": "static"})
        )
        assert (found.columns["Cause"].how, found.columns["Cause"].sure) == ("seen", 0.95)

    def test_how_sure_if_not_said(self, tmp_path: Path) -> None:
        found = mapped(tmp_path, MAPPING.replace("how: seen, sure: 0.95", "how: repaired_only"))
        assert found.columns["Cause"].sure == 0.7

    @pytest.mark.parametrize(
        ("old", "new", "words"),
        [
            (
                "header_row",
                "headerrow",
                "headerrow: unknown setting (did you mean header_row",
            ),
            ("header_row: 3", "header_row: 0", "header_row: rows are counted from 1"),
            ("header_row: 3", 'header_row: "3"', "header_row: must be a whole number"),
            ('"%d.%m.%Y"', '"%d.%m."', "dates: must have day, month and year"),
            ("blank: [n/a]", 'decimal: ";"', 'decimal: must be "." or ","'),
            ("blank: [n/a]", "encoding: utf-16", "encoding: must be utf-8, cp1252 or latin-1"),
            ("is: closed", "is: job", "columns: only one column can be 'job'"),
            ("is: closed", "is: left_out", "columns: one column must be 'closed'"),
            ("is: ended, ", "is: left_out, ", "a column that is 'left_out' takes no more"),
            ("is: complaint,", "is: complain,", "columns.Customer says.is: must be one of"),
            ("of: level,", "of: levle,", "columns.Level.of: there is no 'levle' (did you mean"),
            ("of: level,", "", "columns.Level: must say 'of' which"),
            ("of: outlet_hardness", "of: level", "columns.Outlet.of: there is no 'level'"),
            ("of: Level}", "of: Levels}", "Minutes.of: there is no 'Levels' (did you mean Level?)"),
            ("mains: town", "mains: village", "columns.Water.values.mains: there is no value of"),
            ("mains: town, bore", "Bore: town, bore", "values.bore: stands twice; case and white"),
            ("mains: town", '" ": town', "a blank cell means not checked and cannot mean"),
            ("dirt: injector_clogged", "dirt: injector", "there is no 'injector'"),
            ("how: seen", "how: sene", "columns.Cause.how: must be one of seen"),
            ("sure: 0.95", "sure: 95", "columns.Cause.sure: must be a number above 0, at most 1"),
            ("done: proven", "done: over", "columns.End.values.done: there is no 'over'"),
            ('ja: "yes"', "ja: 1", "columns.Came back.values.ja: must be an id"),
            (
                "columns:",
                "same_visit: [order]\ncolumns:",
                "no column 'order' (did you mean Order?)",
            ),
            ("Order: {", "Order: {{", "not YAML"),
            ("  Order: {is: job}", "  Order: job", "columns.Order: must say what the column is"),
        ],
    )
    def test_refused_with_its_place(self, tmp_path: Path, old: str, new: str, words: str) -> None:
        text = MAPPING.replace(old, new, 1)
        assert text != MAPPING
        with pytest.raises(DataError) as refused:
            mapped(tmp_path, text)
        assert words in str(refused.value)
        assert str(refused.value).startswith(f"{tmp_path / 'mapping.yaml'}:")

    def test_the_line_of_a_mistake(self, tmp_path: Path) -> None:
        with pytest.raises(DataError, match=r"mapping\.yaml:11:24: columns\.Level\.of: there is"):
            mapped(tmp_path, MAPPING.replace("saw, of: level", "saw, of: levle"))

    def test_no_end_anywhere(self, tmp_path: Path) -> None:
        text = "\n".join(line for line in MAPPING.splitlines() if not line.startswith("  End"))
        with pytest.raises(DataError, match="no column is 'ended': say how all visits"):
            mapped(tmp_path, text)
        assert mapped(tmp_path, "ended: proven\n" + text).ended == "proven"

    def test_a_file_that_cannot_be_read(self, tmp_path: Path) -> None:
        with pytest.raises(DataError, match="cannot be read: No such file"):
            read_mapping(tmp_path / "none.yaml", MODEL)
        (tmp_path / "mapping.yaml").write_bytes(b"a: \xe4\n")
        with pytest.raises(DataError, match="not UTF-8"):
            read_mapping(tmp_path / "mapping.yaml", MODEL)


class TestFolded:
    """Case and white space do not count."""

    def test_by_hand(self) -> None:
        assert folded("  Hard\n Water ") == "hard water"
