"""One row of a sheet becomes a case, or a list of what stands in its way, cell by cell."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any

from brinebayes.cases.closing import proofs
from brinebayes.cases.record import Case, Confirmed, Step, problem
from brinebayes.cases.replay import misfit
from brinebayes.cases.sheets.cells import Broken, Cell, Sheet, text_of
from brinebayes.cases.sheets.mapping import Column, SheetMapping, folded, unknown
from brinebayes.knowledge.schema import Model
from brinebayes.record import record
from brinebayes.visit.events import (
    Complained,
    Done,
    Ended,
    Event,
    Measured,
    ModelIs,
    Read,
    Saw,
    SiteKnown,
)
from brinebayes.visit.state import lacks

_NUMBER = re.compile(r"[-+]?[0-9]+(?:\.[0-9]+)?\Z")

#: The kinds of column that become steps of the visit.
_STEPS = ("complaint", "site", "measure", "saw", "read", "done")


class NotTakenError(Exception):
    """A cell that cannot be taken as it is."""


@record
class Taken:
    """A row that became a case, or its problems: (column, reason), -1 for the row as a whole."""

    row: int
    case: Case | None
    problems: tuple[tuple[int, str], ...] = ()


@record
class Reader:
    """What is needed to read the rows of one sheet. `header`: the columns in their order."""

    model: Model
    mapping: SheetMapping
    header: tuple[str, ...]
    today: date

    def take(self, sheet: Sheet, row: int) -> Taken | None:
        """The case of a row, or its problems; None for a row in which nothing is written."""
        cells = sheet.rows[row]
        if all(cell is None for cell in cells):
            return None
        problems = [
            (place, "stands right of the last column of the header")
            for place, cell in enumerate(cells[len(self.header) :], len(self.header))
            if cell is not None
        ]
        found: dict[str, list[tuple[str, Any]]] = {}
        for place, name in enumerate(self.header):
            column = self.mapping.columns[name]
            cell = cells[place] if place < len(cells) else None
            if column.kind == "left_out" or self._is_blank(cell):
                continue
            try:
                for value in self._said(column, cell):
                    found.setdefault(column.kind, []).append((name, value))
            except NotTakenError as error:
                problems.append((place, str(error)))
        if problems:
            return Taken(row, None, tuple(problems))
        return self._made(row, cells, found)

    def _is_blank(self, cell: Cell) -> bool:
        return cell is None or (
            not isinstance(cell, Broken) and folded(text_of(cell)) in self.mapping.blank
        )

    # --- cells ---------------------------------------------------------------------------------

    def _said(self, column: Column, cell: Cell) -> Iterator[Any]:
        if isinstance(cell, Broken):
            raise NotTakenError(cell.why)
        match column.kind:
            case "closed" | "opened":
                yield self._day(cell)
            case "job" | "unit" | "technician":
                yield text_of(cell)
            case "minutes":
                minutes = float(self._number(cell))
                if minutes < 0.0:
                    raise NotTakenError(f"'{text_of(cell)}' minutes are below 0")
                yield minutes
            case "measure" | "read":
                yield self._told(column, cell)
            case _:
                parts = text_of(cell).split(column.split) if column.split else [text_of(cell)]
                for part in parts:
                    if part.strip():
                        yield self._meant(column, part)

    def _meant(self, column: Column, text: str) -> Any:
        """The id that a word means."""
        id = column.values.get(folded(text), text.strip())
        why = unknown(column.kind, column.of, id, self.model)
        if why is None:
            return id
        if column.values:
            raise NotTakenError(
                f"'{text.strip()}' is not among the values of the mapping; give its meaning there, "
                "or list it under blank if it means not checked"
            )
        raise NotTakenError(f"{why}; say in the mapping what it means (values, or blank)")

    def _day(self, cell: Cell) -> str:
        if isinstance(cell, date):
            day = cell
        elif not isinstance(cell, str):
            raise NotTakenError(f"'{text_of(cell)}' is a number and no date; format it as a date")
        elif not self.mapping.dates:
            raise NotTakenError(
                f"'{cell}' is a date in words; say in the mapping how it is written, such as "
                'dates: "%d.%m.%Y"'
            )
        else:
            try:
                day = datetime.strptime(cell.strip(), self.mapping.dates).date()
            except ValueError:
                raise NotTakenError(
                    f"'{cell}' is no date of the form {self.mapping.dates}"
                ) from None
        if day > self.today:
            raise NotTakenError(f"{day.isoformat()} is still to come")
        return day.isoformat()

    def _number(self, cell: Cell) -> str:
        """A plain number as text with a point."""
        if isinstance(cell, float) and not isinstance(cell, bool):
            return text_of(cell)
        text = text_of(cell)
        if self.mapping.decimal == ",":
            other, text = "." in text, text.replace(",", ".")
        else:
            other = "," in text
        if other:
            raise NotTakenError(
                f"'{text_of(cell)}': the mapping says decimal: \"{self.mapping.decimal}\", so this "
                "is no number"
            )
        if not _NUMBER.match(text):
            raise NotTakenError(
                f"'{text_of(cell)}' is no plain number; leave it blank if it was not measured"
            )
        return text

    def _told(self, column: Column, cell: Cell) -> str:
        """A number with its unit, or the words that a measure takes, as a visit would have it."""
        text = text_of(cell)
        measure = self.model.measures.get(column.of) if column.kind == "measure" else None
        if column.unit:
            text = f"{self._number(cell)} {column.unit}"
        elif (measure is None or not measure.words) and self.mapping.decimal == ",":
            text = text.replace(",", ".")
        event = Measured(column.of, text) if column.kind == "measure" else Read(column.of, text)
        why = lacks(self.model, event)
        if why is not None:
            raise NotTakenError(why)
        return text

    # --- the whole row -------------------------------------------------------------------------

    def _made(
        self, row: int, cells: Sequence[Cell], found: dict[str, list[tuple[str, Any]]]
    ) -> Taken:
        one = {kind: values[0][1] for kind, values in found.items()}
        if "closed" not in one:
            return self._wrong(row, "closed", "the day of the visit is missing")
        ended = one.get("ended", self.mapping.ended)
        if not ended:
            return self._wrong(row, "ended", "how the visit ended is missing")
        about = self.model.about
        id = self.identity(cells)
        if not id:
            names = ", ".join(self.mapping.same_visit)
            return Taken(row, None, ((-1, f"nothing tells this visit apart: {names} is blank"),))
        case = Case(
            id=id,
            opened=one.get("opened", one["closed"]),
            closed=one["closed"],
            model=ModelIs(about.id, about.version, self.model.hash),
            steps=(*self._steps(found), Step(Ended(ended, "", "", "", ()))),
            job=one.get("job", ""),
            unit=one.get("unit", ""),
            technician=one.get("technician", ""),
            confirmed=self._confirmed(found.get("found", [])),
            call_back=one.get("call_back", "unknown"),
        )
        return self._judged(row, case)

    def _judged(self, row: int, case: Case) -> Taken:
        """The case if it holds together and the model knows all of it."""
        wrong = problem(case)
        if wrong is None:
            why = misfit(self.model, case)
            wrong = None if why is None else ("", why)
        if wrong is not None:
            field, says = wrong
            return self._wrong(row, field, says)
        proven, pending = proofs(self.model, case.standing)
        return Taken(row, replace(case, proven=proven, pending=pending))

    def _wrong(self, row: int, kind: str, says: str) -> Taken:
        """A problem at the column of this kind, or of the row if there is none."""
        kinds = [self.mapping.columns[name].kind for name in self.header]
        kind = "found" if kind.startswith("confirmed") else kind
        place = kinds.index(kind) if kind in kinds else -1
        return Taken(row, None, ((place, says),))

    def _steps(self, found: dict[str, list[tuple[str, Any]]]) -> Iterator[Step]:
        """In the order of the columns; the minutes stand with the last step of their column."""
        minutes = {self.mapping.columns[name].of: value for name, value in found.get("minutes", [])}
        written = [(name, kind, v) for kind in _STEPS for name, v in found.get(kind, [])]
        written.sort(key=lambda item: self.header.index(item[0]))
        for place, (name, kind, value) in enumerate(written):
            last = place + 1 == len(written) or written[place + 1][0] != name
            event = _event(kind, self.mapping.columns[name].of, value)
            yield Step(event, minutes.get(name) if last else None)

    def _confirmed(self, found: list[tuple[str, Any]]) -> tuple[Confirmed, ...]:
        out = []
        for name, fault in found:
            column = self.mapping.columns[name]
            how: Any = column.how
            out.append(Confirmed(fault, how, column.sure))
        return tuple(out)

    def identity(self, cells: Sequence[Cell]) -> str:
        """The id of a row: from what is written in the columns that tell visits apart.

        Empty if nothing is written in them.
        """
        names = self.mapping.same_visit or tuple(
            name for name in self.header if self.mapping.columns[name].kind != "left_out"
        )
        told = {}
        for place, name in enumerate(self.header[: len(cells)]):
            if name in names and not self._is_blank(cells[place]):
                told[name] = text_of(cells[place])
        if not told:
            return ""
        text = json.dumps(told, sort_keys=True, ensure_ascii=False)
        return f"row-{hashlib.sha256(text.encode()).hexdigest()[:24]}"


def _event(kind: str, of: str, value: str) -> Event:
    match kind:
        case "complaint":
            return Complained(value)
        case "site":
            return SiteKnown(of, value)
        case "measure":
            return Measured(of, value)
        case "saw":
            return Saw(of, value)
        case "read":
            return Read(of, value)
        case _:
            return Done(value)
