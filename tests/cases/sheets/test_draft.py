"""A first mapping from the sheet itself."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from brinebayes.cases.sheets.cells import Sheet
from brinebayes.cases.sheets.draft import draft, header_row
from brinebayes.cases.sheets.importing import import_sheet
from brinebayes.cases.sheets.mapping import read_mapping
from brinebayes.errors import DataError
from brinebayes.visit.events import Complained, Saw, SiteKnown
from tests.cases.sheets.books import FULL, SPARSE, with_, workbook
from tests.dialogue.drive import small

MODEL = small().model


class TestDraft:
    """It can be read as it is, and says what is left to do."""

    def test_of_a_workbook(self, tmp_path: Path) -> None:
        rows = [FULL, with_(Order="A-2", Day=date(2024, 4, 5))]
        path = workbook(tmp_path / "visits.xlsx", *rows)
        text = draft(path, MODEL)
        assert 'sheet: "Visits"\nheader_row: 3\n' in text
        assert '  "Day": {is: closed}  # dates' in text
        assert '  "Order": {is: left_out}  # A-1; A-2' in text
        mapping = tmp_path / "mapping.yaml"
        mapping.write_text(text, encoding="utf-8")
        found = import_sheet(path, read_mapping(mapping, MODEL), MODEL, date(2024, 5, 31))
        # `Level` is an observation of the model, and only a person knows what `stays` means.
        assert "{is: saw, of: level}  # say what these mean: stays" in text
        assert [line.split(": ")[0] for line in found.problems] == [
            f"{path}:Visits!F4",
            f"{path}:Visits!F5",
        ]

    def test_the_models_own_words_are_recognised(self, tmp_path: Path) -> None:
        path = tmp_path / "visits.csv"
        path.write_bytes(
            "Übersicht\n\nDatum;Water supply;Brine level;Was;Größe\n"
            "2024-03-04;own well;it stays;Water is hard;15\n"
            "2024-03-05;town main;it sinks;Water on the floor;20\n".encode("cp1252")
        )
        text = draft(path, MODEL)
        assert 'encoding: "cp1252"\nseparator: ";"\nheader_row: 3\n' in text
        assert '{is: site, of: supply, values: {"own well": well, "town main": town}}' in text
        assert '{is: saw, of: level, values: {"it stays": static}}  # say what these mean: it sinks'
        assert "is: complaint" in text
        finished = text.replace('"Datum": {is: left_out}', '"Datum": {is: closed}')
        finished = finished.replace('# dates: "%d.%m.%Y"', 'dates: "%Y-%m-%d"')
        mapping = tmp_path / "mapping.yaml"
        mapping.write_text(finished, encoding="utf-8")
        found = import_sheet(path, read_mapping(mapping, MODEL), MODEL, date(2024, 5, 31))
        (case,) = found.cases
        assert case.events[:3] == (
            SiteKnown("supply", "well"),
            Saw("level", "static"),
            Complained("hard_water"),
        )
        (problem,) = found.problems
        assert problem.startswith(f"{path}!C5: 'it sinks' is not among the values")

    def test_dates_of_which_some_are_words(self, tmp_path: Path) -> None:
        text = draft(workbook(tmp_path / "visits.xlsx", FULL, SPARSE), MODEL)
        assert '  "Day": {is: closed}  # dates, and 05.03.2024\n' in text

    def test_remarks_are_not_copied(self, tmp_path: Path) -> None:
        rows = [with_(Remarks="the key is under the second pot"), with_(Order="A-2")]
        text = draft(workbook(tmp_path / "visits.xlsx", *rows), MODEL)
        assert '  "Remarks": {is: left_out}  # 2 different entries\n' in text

    def test_nothing_there(self, tmp_path: Path) -> None:
        path = tmp_path / "visits.csv"
        path.write_text("\n\n")
        with pytest.raises(DataError, match="no header was found"):
            draft(path, MODEL)


class TestHeaderRow:
    """Below titles, above figures."""

    def test_below_a_title(self) -> None:
        rows = (("Visits",), (), ("a", "b", "c"), ("x", 1.0, None), ("y", 2.0, "z"))
        assert header_row(Sheet("a.csv", "", rows)) == 2

    def test_at_the_top(self) -> None:
        assert header_row(Sheet("a.csv", "", (("a", "b"), ("1", "2")))) == 0

    def test_sparse_rows_below(self, tmp_path: Path) -> None:
        text = draft(workbook(tmp_path / "visits.xlsx", SPARSE), MODEL)
        assert "header_row: 3\n" in text
