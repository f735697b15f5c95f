"""Cells as they stand in the file."""

from __future__ import annotations

from datetime import date, datetime, time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook
from openpyxl.utils import get_column_letter

from brinebayes.cases.sheets.cells import (
    Broken,
    Sheet,
    letters,
    read_text,
    read_workbook,
    sheet_names,
    text_of,
)
from brinebayes.cases.sheets.traps import lost_cells
from brinebayes.errors import DataError


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A workbook whose first rows and columns are empty."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Old visits"
    sheet["C3"], sheet["D3"], sheet["E3"] = " a  b ", 18, True
    sheet["C4"], sheet["D4"] = date(2024, 3, 4), datetime(2024, 3, 4, 10, 30)
    sheet["E4"], sheet["F4"] = time(10, 30), "=D3+1"
    sheet["C5"] = "#N/A"
    book.create_sheet("Other")
    path = tmp_path / "book.xlsx"
    book.save(path)
    return path


class TestReadWorkbook:
    """Places are those that the spreadsheet shows."""

    def test_types_and_places(self, path: Path) -> None:
        sheet = read_workbook(path, "Old visits")
        assert {*sheet.rows[0], *sheet.rows[1]} == {None}
        assert sheet.rows[2] == (None, None, " a  b ", 18.0, True)
        third = sheet.rows[3]
        assert third[2:4] == (date(2024, 3, 4), date(2024, 3, 4))
        assert [type(cell) for cell in third[4:]] == [Broken, Broken]
        assert sheet.rows[4][2] == Broken("holds the error #N/A")
        assert sheet.place(2, 2) == f"{path}:Old visits!C3"

    def test_sheets(self, path: Path) -> None:
        assert sheet_names(path) == ("Old visits", "Other")
        assert read_workbook(path, "Other").rows == ()


class TestLostCells:
    """What a reader of values would take for blank."""

    def test_formulas_and_errors(self, path: Path) -> None:
        assert set(lost_cells(path, "Old visits")) == {(3, 5), (4, 2)}

    def test_a_formula_with_its_value_is_fine(self, path: Path, tmp_path: Path) -> None:
        """As a spreadsheet program saves it: the value stands beside the formula."""
        import zipfile

        mended = tmp_path / "mended.xlsx"
        with zipfile.ZipFile(path) as old, zipfile.ZipFile(mended, "w") as new:
            for name in old.namelist():
                content = old.read(name).replace(b"<f>D3+1</f><v />", b"<f>D3+1</f><v>19</v>")
                new.writestr(name, content.replace(b"<f>D3+1</f><v/>", b"<f>D3+1</f><v>19</v>"))
        assert set(lost_cells(mended, "Old visits")) == {(4, 2)}
        assert read_workbook(mended, "Old visits").rows[3][5] == 19.0


class TestReadText:
    """Text with separators."""

    def test_a_mark_at_its_beginning(self, tmp_path: Path) -> None:
        path = tmp_path / "a.csv"
        path.write_bytes("Größe;b\n1;\n".encode("utf-8-sig"))
        sheet = read_text(path, "utf-8", ";")
        assert sheet.rows == (("Größe", "b"), ("1", None))
        assert sheet.place(1, 0) == f"{path}!A2"
        with pytest.raises(DataError, match="is in utf-8, not in cp1252"):
            read_text(path, "cp1252", ";")

    def test_a_quote_that_does_not_end(self, tmp_path: Path) -> None:
        path = tmp_path / "a.csv"
        path.write_text('a;"b\nc;d\n')
        with pytest.raises(DataError, match="cannot be split into cells"):
            read_text(path, "utf-8", ";")


class TestLetters:
    """As openpyxl names columns."""

    @given(place=st.integers(0, 16383))
    def test_as_a_spreadsheet_does(self, place: int) -> None:
        assert letters(place) == get_column_letter(place + 1)


class TestTextOf:
    """As it would be typed."""

    def test_by_hand(self) -> None:
        cells = (18.0, 0.1 + 0.2, True, date(2024, 3, 4), " a\n b", None, Broken("x"))
        assert [text_of(cell) for cell in cells] == [
            *("18", "0.3", "true", "2024-03-04", "a b", "", "")
        ]

    def test_a_sheet_of_text_has_no_name(self) -> None:
        assert Sheet("a.csv", "", ()).place(0, 27) == "a.csv!AB1"
