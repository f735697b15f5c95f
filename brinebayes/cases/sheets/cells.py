"""A sheet as rows of cells. What cannot be told for sure is a `Broken` cell, never a guess."""

from __future__ import annotations

import csv
import io
from datetime import date, datetime
from pathlib import Path
from typing import Any

from brinebayes.errors import DataError
from brinebayes.knowledge.names import suggest
from brinebayes.record import record

#: Endings of workbooks; anything else is read as text with separators.
WORKBOOKS = (".xlsx", ".xlsm")


@record
class Broken:
    """A cell whose content cannot be known, and why."""

    why: str


#: What a cell may hold; None: blank.
Cell = str | float | bool | date | Broken | None


@record
class Sheet:
    """A sheet. `name` is empty for text with separators; `rows` are as the program shows them."""

    file: str
    name: str
    rows: tuple[tuple[Cell, ...], ...]

    def place(self, row: int, column: int) -> str:
        """`visits.xlsx:Visits!C5`; both count from 0 here."""
        sheet = f":{self.name}" if self.name else ""
        return f"{self.file}{sheet}!{letters(column)}{row + 1}"


def letters(column: int) -> str:
    """The name of a column, counted from 0: A to Z, then AA."""
    text = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def is_workbook(path: Path) -> bool:
    """Whether a file is read as a workbook."""
    return path.suffix.lower() in WORKBOOKS


def text_of(cell: Cell) -> str:
    """A cell as it would be typed, white space collapsed; whole numbers without a point."""
    if cell is None or isinstance(cell, Broken):
        return ""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, float):
        return format(cell, ".12g")
    if isinstance(cell, date):
        return cell.isoformat()
    return " ".join(cell.split())


# --- text with separators ----------------------------------------------------------------------


def read_text(path: Path, encoding: str, separator: str) -> Sheet:
    """A file of text with separators. Raises DataError if it is not written so."""
    try:
        content = path.read_bytes()
    except OSError as error:
        raise DataError(f"{path}: cannot be read: {error.strerror}") from error
    mark = b"\xef\xbb\xbf"
    if content.startswith(mark) and encoding != "utf-8":
        raise DataError(f"{path}: is in utf-8, not in {encoding}; say so in the mapping")
    try:
        text = content.removeprefix(mark).decode(encoding)
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        other = "cp1252" if encoding == "utf-8" else "utf-8"
        raise DataError(
            f"{path}:{line}: is not in {encoding}; try encoding: {other} in the mapping"
        ) from None
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True))
    except csv.Error as error:
        raise DataError(f"{path}: cannot be split into cells: {error}") from error
    return Sheet(str(path), "", tuple(tuple(_written(cell) for cell in row) for row in rows))


def _written(text: str) -> Cell:
    return text if text.strip() else None


# --- workbooks ---------------------------------------------------------------------------------


def sheet_names(path: Path) -> tuple[str, ...]:
    """The sheets of a workbook in their order. Raises DataError if it is none."""
    return tuple(_workbook(path).sheet_names)


def read_workbook(path: Path, name: str) -> Sheet:
    """One sheet of a workbook. Raises DataError if it is no workbook or has no such sheet."""
    from brinebayes.cases.sheets.traps import lost_cells

    book = _workbook(path)
    if name not in book.sheet_names:
        names = ", ".join(book.sheet_names)
        raise DataError(
            f"{path}: has no sheet '{name}'{suggest(name, book.sheet_names)}; it has {names}"
        )
    sheet = book.get_sheet_by_name(name)
    rows = [list(map(_typed, row)) for row in sheet.to_python(skip_empty_area=False)]
    for (row, column), why in lost_cells(path, name).items():
        _put(rows, row, column, Broken(why))
    for (top, left), (bottom, right) in sheet.merged_cell_ranges or ():
        covered = [(r, c) for r in range(top, bottom + 1) for c in range(left, right + 1)]
        for row, column in covered[1:]:
            _put(rows, row, column, Broken(f"is merged with {letters(left)}{top + 1}; split them"))
    return Sheet(str(path), name, tuple(map(tuple, rows)))


def _workbook(path: Path) -> Any:
    from python_calamine import CalamineError, CalamineWorkbook

    if not path.is_file():
        raise DataError(f"{path}: cannot be read: there is no such file")
    try:
        return CalamineWorkbook.from_path(path)
    except CalamineError as error:
        raise DataError(f"{path}: is no workbook that can be read: {error}") from error


def _typed(value: Any) -> Cell:
    if isinstance(value, str):
        return _written(value)
    if isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        return float(value)
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    return Broken(f"holds a time ({value}); write a number of minutes or a word")


def _put(rows: list[list[Cell]], row: int, column: int, cell: Cell) -> None:
    while len(rows) <= row:
        rows.append([])
    rows[row] += [None] * (column + 1 - len(rows[row]))
    rows[row][column] = cell
