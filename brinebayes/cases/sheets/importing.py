"""A whole sheet: which rows become cases, and what is wrong with the others."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterable
from datetime import date
from pathlib import Path

from brinebayes.cases.record import Case
from brinebayes.cases.sheets.cells import (
    Sheet,
    is_workbook,
    read_text,
    read_workbook,
    sheet_names,
    text_of,
)
from brinebayes.cases.sheets.mapping import SheetMapping
from brinebayes.cases.sheets.rows import Reader, Taken
from brinebayes.errors import DataError
from brinebayes.knowledge.names import listed, suggest
from brinebayes.knowledge.schema import Model
from brinebayes.record import record


@record
class Imported:
    """`cases`: the rows that became cases. `problems`: a line for each, with its cell.

    `rejected`: the text of a file with the other rows, each behind its number and its problems;
    empty if there are none.
    """

    cases: tuple[Case, ...]
    problems: tuple[str, ...]
    rejected: str


def import_sheet(path: Path, mapping: SheetMapping, model: Model, today: date) -> Imported:
    """Every row below the header. Raises DataError if the sheet is not the one of the mapping."""
    sheet = sheet_of(path, mapping)
    header = header_of(sheet, mapping)
    reader = Reader(model, mapping, header, today)
    taken = [
        one
        for row in range(mapping.header_row, len(sheet.rows))
        if (one := reader.take(sheet, row)) is not None
    ]
    taken = _told_apart(taken)
    cases = tuple(one.case for one in taken if one.case is not None)
    problems = tuple(
        f"{sheet.place(one.row, max(column, 0))}: {why}"
        for one in taken
        for column, why in one.problems
    )
    return Imported(cases, problems, _rejected(sheet, header, taken))


def sheet_of(path: Path, mapping: SheetMapping) -> Sheet:
    """The sheet that a mapping speaks of. Raises DataError."""
    if not is_workbook(path):
        return read_text(path, mapping.encoding, mapping.separator)
    names = sheet_names(path)
    if not mapping.sheet and len(names) > 1:
        raise DataError(f"{path}: has the sheets {', '.join(names)}; the mapping must name one")
    return read_workbook(path, mapping.sheet or names[0])


def header_of(sheet: Sheet, mapping: SheetMapping) -> tuple[str, ...]:
    """The names of the columns, every one of them in the mapping. Raises DataError."""
    row = mapping.header_row - 1
    cells = sheet.rows[row] if row < len(sheet.rows) else ()
    names = [text_of(cell) for cell in cells]
    while names and not names[-1]:
        names.pop()
    problems = []
    for place, name in enumerate(names):
        here = sheet.place(row, place)
        if not name:
            problems.append(f"{here}: a column needs a name in the header (row {row + 1})")
        elif name in names[:place]:
            problems.append(f"{here}: two columns are called '{name}'; rename one")
        elif name not in mapping.columns:
            hint = suggest(name, mapping.columns)
            problems.append(f"{here}: the column '{name}' is not in the mapping{hint}")
    missing = [name for name in mapping.columns if name not in names]
    if missing:
        problems.append(
            f"{sheet.place(row, 0)}: the header (row {row + 1}) does not have {listed(missing)}; "
            "is header_row right in the mapping?"
        )
    if problems:
        raise DataError("\n".join(problems))
    return tuple(names)


def write_rejected(path: Path, text: str) -> None:
    """Keep the rows that were not taken, whole or not at all. Raises DataError."""
    temporary = path.with_name(f"{path.name}.{os.getpid()}.tmp")
    try:
        with temporary.open("w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, path)
    except OSError as error:
        temporary.unlink(missing_ok=True)
        raise DataError(f"{path}: cannot be written: {error.strerror}") from error


def _told_apart(taken: Iterable[Taken]) -> list[Taken]:
    """Of rows that stand for the same visit the first counts; the others are problems."""
    first: dict[str, int] = {}
    out = []
    for one in taken:
        if one.case is None:
            out.append(one)
            continue
        before = first.setdefault(one.case.id, one.row)
        says = f"is the same visit as row {before + 1}; a column such as a job number tells apart"
        out.append(one if before == one.row else Taken(one.row, None, ((-1, says),)))
    return out


def _rejected(sheet: Sheet, header: tuple[str, ...], taken: Iterable[Taken]) -> str:
    rows = [one for one in taken if one.case is None]
    if not rows:
        return ""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["row", "problems", *header])
    for one in rows:
        why = "; ".join(says for _, says in one.problems)
        writer.writerow([one.row + 1, why, *(text_of(cell) for cell in sheet.rows[one.row])])
    return text.getvalue()
