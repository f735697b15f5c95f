"""Sheets of an invented shop in a valley of town houses, good and with mistakes planted in them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

from openpyxl import Workbook

#: The columns of the shop's sheet, and what they say in the ids of the small model.
MAPPING = """\
sheet: Visits
header_row: 3
dates: "%d.%m.%Y"
blank: [n/a]
columns:
  Order: {is: job}
  Day: {is: closed}
  Customer says: {is: complaint, values: {hard: hard_water, overflow: tank_overflows}, split: ","}
  Water: {is: site, of: supply, values: {mains: town, bore: well}}
  Raw: {is: measure, of: raw_hardness, unit: gpg}
  Level: {is: saw, of: level, values: {falls: falls, stays: static}}
  Outlet: {is: read, of: outlet_hardness, unit: gpg}
  Minutes: {is: minutes, of: Level}
  Mended: {is: done, values: {injector: clean_injector, line: clear_brine_line}, split: "+"}
  Proof: {is: saw, of: proof, values: {"ok": passed, "bad": failed}}
  Cause: {is: found, how: seen, sure: 0.95, values: {dirt: injector_clogged, wear: seals_worn}}
  End: {is: ended, values: {done: proven, again: second_visit_needed}}
  Came back: {is: call_back, values: {ja: "yes", nein: "no"}}
  Remarks: {is: left_out}
"""

HEADER = (
    *("Order", "Day", "Customer says", "Water", "Raw", "Level", "Outlet", "Minutes", "Mended"),
    *("Proof", "Cause", "End", "Came back", "Remarks"),
)
TITLE: Sequence[Sequence[Any]] = (("Visits of the valley, invented",), ())

DAY = date(2024, 3, 4)
#: A row with everything in it, and one with hardly anything.
FULL = (
    *("A-1", DAY, "hard, overflow", "mains", 18, "stays", 14.5, 12, "injector", "ok", "dirt"),
    *("done", "nein", "dog in the yard"),
)
SPARSE = ("A-2", "05.03.2024", None, "n/a", None, None, None, None, None, None, None, "again")


def workbook(path: Path, *rows: Sequence[Any], title: Sequence[Sequence[Any]] = TITLE) -> Path:
    """A workbook: title, header and these rows in the sheet `Visits`, and another sheet."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Visits"
    for row in (*title, HEADER, *rows):
        sheet.append(row)
    book.create_sheet("Prices").append(("salt", 9))
    book.save(path)
    return path


def with_(**changes: Any) -> tuple[Any, ...]:
    """The full row with some columns changed, by the first word of their names."""
    names = [name.split()[0] for name in HEADER]
    values = list(FULL)
    for name, value in changes.items():
        values[names.index(name)] = value
    return tuple(values)
