"""Whole sheets: what becomes cases, what does not and why, and that nothing comes twice."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from brinebayes.cases.lines import parse_line, to_line
from brinebayes.cases.log import Log
from brinebayes.cases.record import Confirmed
from brinebayes.cases.sheets.importing import Imported, import_sheet, write_rejected
from brinebayes.cases.sheets.mapping import read_mapping
from brinebayes.errors import DataError
from brinebayes.visit.events import (
    Complained,
    Done,
    Ended,
    Measured,
    Read,
    Saw,
    SiteKnown,
)
from tests.cases.sheets.books import FULL, HEADER, MAPPING, SPARSE, with_, workbook
from tests.dialogue.drive import small
from tests.strategies import SLOW_LAW

MODEL = small().model
TODAY = date(2024, 5, 31)
AT = "2024-05-31T18:00:00Z"


def imported(path: Path, mapping: str = MAPPING) -> Imported:
    """A sheet by a mapping."""
    beside = path.with_name("mapping.yaml")
    beside.write_text(mapping, encoding="utf-8")
    return import_sheet(path, read_mapping(beside, MODEL), MODEL, TODAY)


def said(found: Imported) -> list[tuple[str, str]]:
    """(cell, reason) of every problem."""
    return [
        (place.rpartition("!")[2], why)
        for place, _, why in (line.partition(": ") for line in found.problems)
    ]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "visits.xlsx"


class TestGoodRows:
    """Every column where it belongs, and a blank cell is nothing."""

    def test_a_full_row(self, path: Path) -> None:
        (case,) = imported(workbook(path, FULL)).cases
        assert case.events == (
            Complained("hard_water"),
            Complained("tank_overflows"),
            SiteKnown("supply", "town"),
            Measured("raw_hardness", "18 gpg"),
            Saw("level", "static"),
            Read("outlet_hardness", "14.5 gpg"),
            Done("clean_injector"),
            Saw("proof", "passed"),
            Ended("proven", "", "", "", ()),
        )
        assert [step.minutes for step in case.steps if isinstance(step.event, Saw)] == [12.0, None]
        assert (case.job, case.opened, case.closed) == ("A-1", "2024-03-04", "2024-03-04")
        assert case.confirmed == (Confirmed("injector_clogged", "seen", 0.95),)
        assert (case.proven, case.pending) == (("clean_injector",), ("clean_injector",))
        assert (case.call_back, case.invented) == ("no", False)
        assert parse_line("x:1", to_line(case).encode()) == case

    def test_a_blank_cell_is_not_checked(self, path: Path) -> None:
        (case,) = imported(workbook(path, SPARSE)).cases
        assert case.events == (Ended("second_visit_needed", "", "", "", ()),)
        assert case.closed == "2024-03-05"

    def test_empty_rows_are_no_visits(self, path: Path) -> None:
        found = imported(workbook(path, FULL, (), ("", None, " "), SPARSE))
        assert (len(found.cases), found.problems, found.rejected) == (2, (), "")

    def test_text_with_semicolons_in_an_old_encoding(self, tmp_path: Path) -> None:
        """cp1252, `;`, decimal commas and a line break within a cell, as spreadsheets write it."""
        path = tmp_path / "visits.csv"
        rows = [["Übersicht"], [], [name.replace("Remarks", "Größe") for name in HEADER]]
        rows.append(["A-1", "04.03.2024", "hard", "mains", "18,0", "stays", "14,5", "12"])
        rows[-1] += ["injector", "ok", "dirt", "done", "nein", "zwei\r\nZeilen; mit Strich"]
        text = io.StringIO()
        csv.writer(text, delimiter=";").writerows(rows)
        path.write_bytes(text.getvalue().encode("cp1252"))
        mapping = MAPPING.replace("sheet: Visits", 'separator: ";"\ndecimal: ","\nencoding: cp1252')
        found = imported(path, mapping.replace("Remarks", "Größe"))
        assert found.problems == ()
        (case,) = found.cases
        assert Read("outlet_hardness", "14.5 gpg") in case.events
        assert Measured("raw_hardness", "18.0 gpg") in case.events
        with pytest.raises(DataError, match=r"visits.csv:1: is not in utf-8; try encoding: cp1252"):
            imported(path, mapping.replace("Remarks", "Größe").replace("cp1252", "utf-8"))

    def test_numbers_with_their_own_units(self, path: Path) -> None:
        mapping = MAPPING.replace("of: outlet_hardness, unit: gpg", "of: outlet_hardness")
        (case,) = imported(workbook(path, with_(Outlet="14.5 gpg")), mapping).cases
        assert Read("outlet_hardness", "14.5 gpg") in case.events


#: What is planted -> (the row, the cell it is found in, words of the reason). Row 4 is the first.
PLANTED = {
    "a date that nobody can tell": (with_(Day="03/04/2024"), "B4", "is no date of the form %d"),
    "a day to come": (with_(Day=date(2042, 3, 4)), "B4", "2042-03-04 is still to come"),
    "a number where a date belongs": (with_(Day=45355), "B4", "'45355' is a number and no date"),
    "no day": (with_(Day=None), "B4", "the day of the visit is missing"),
    "a decimal comma": (with_(Raw="18,5"), "E4", "the mapping says decimal"),
    "about": (with_(Outlet="~18"), "G4", "'~18' is no plain number"),
    "NA": (with_(Level="NA"), "F4", "'NA' is not among the values of the mapping"),
    "None": (with_(Water="None"), "D4", "'None' is not among the values"),
    "a word nobody explained": (with_(Mended="injector + seals"), "I4", "'seals' is not among"),
    "a formula without a value": (with_(Raw="=E3*2"), "E4", "holds a formula without a value"),
    "an error": (with_(Outlet="#DIV/0!"), "G4", "holds the error #DIV/0!"),
    "a hardness that cannot be": (with_(Raw=180), "E4", "raw_hardness"),
    "minutes below none": (with_(Minutes=-5), "H4", "'-5' minutes are below 0"),
    "an end that is missing": (with_(End=None), "L4", "how the visit ended is missing"),
    "a name for a reference": (with_(Order="Farm House"), "A4", "must be a reference"),
    "something beyond the header": ((*FULL, "?"), "O4", "right of the last column"),
}


class TestPlantedMistakes:
    """Each is reported with sheet and cell, and its row is not taken."""

    @pytest.mark.parametrize("mistake", PLANTED)
    def test_one_by_one(self, mistake: str, path: Path) -> None:
        row, cell, words = PLANTED[mistake]
        found = imported(workbook(path, row, SPARSE))
        assert len(found.cases) == 1
        (line,) = found.problems
        assert line.startswith(f"{path}:Visits!{cell}: ")
        assert words in line

    def test_all_in_one_sheet(self, path: Path) -> None:
        """The good rows among them become cases, and every other row says why it did not."""
        rows = [row for row, _, _ in PLANTED.values()]
        found = imported(workbook(path, FULL, *rows, SPARSE))
        assert [case.job for case in found.cases] == ["A-1", "A-2"]
        cells = [f"{cell[0]}{number}" for number, (_, cell, _) in enumerate(PLANTED.values(), 5)]
        assert [cell for cell, _ in said(found)] == cells
        kept = list(csv.reader(io.StringIO(found.rejected)))
        assert kept[0] == ["row", "problems", *HEADER]
        assert [row[0] for row in kept[1:]] == [str(n) for n in range(5, 5 + len(PLANTED))]
        assert all(row[1] for row in kept[1:])

    def test_several_in_one_row(self, path: Path) -> None:
        row = with_(Day="in March", Raw="about 18", Proof="perhaps")
        assert [cell for cell, _ in said(imported(workbook(path, row)))] == ["B4", "E4", "J4"]

    def test_two_rows_for_one_visit(self, path: Path) -> None:
        found = imported(workbook(path, FULL, SPARSE, FULL))
        assert len(found.cases) == 2
        assert said(found)[0][0] == "A6"
        assert "is the same visit as row 4" in said(found)[0][1]

    def test_merged_cells(self, path: Path) -> None:
        book = load_workbook(workbook(path, FULL, SPARSE))
        book["Visits"].merge_cells("F4:F5")
        book.save(path)
        ((cell, why),) = said(imported(path))
        assert (cell, why) == ("F5", "is merged with F4; split them")

    def test_dates_in_words_need_a_declared_format(self, path: Path) -> None:
        found = imported(workbook(path, SPARSE), MAPPING.replace('dates: "%d.%m.%Y"\n', ""))
        assert said(found) == [
            (
                "B4",
                "'05.03.2024' is a date in words; say in the mapping how it is written, such as "
                'dates: "%d.%m.%Y"',
            )
        ]


class TestSecondImport:
    """What was imported is not imported again, whatever has happened meanwhile."""

    def test_it_adds_nothing(self, path: Path, tmp_path: Path) -> None:
        found = imported(workbook(path, FULL, SPARSE))
        with Log(tmp_path / "cases.db", make=True) as log:
            assert len(log.add(found.cases, AT).new) == 2
            again = imported(workbook(path, SPARSE, with_(Order="A-3"), FULL))
            added = log.add(again.cases, AT)
            assert (len(added.new), len(added.same)) == (1, 2)

    def test_nor_after_an_amendment_or_with_a_newer_model(self, path: Path, tmp_path: Path) -> None:
        (case,) = imported(workbook(path, FULL)).cases
        with Log(tmp_path / "cases.db", make=True) as log:
            log.add([case], AT)
            log.change(case.id, AT, lambda one: replace(one, call_back="yes"))
            newer = replace(case, model=replace(case.model, version="2", hash="fff"))
            assert log.add([newer], AT).same == (case.id,)
            assert log.get(case.id).call_back == "yes"

    def test_a_column_that_is_left_out_does_not_count(self, path: Path) -> None:
        (one,) = imported(workbook(path, FULL)).cases
        (other,) = imported(workbook(path, with_(Remarks="moved"))).cases
        assert one == other

    def test_by_order_number(self, path: Path, tmp_path: Path) -> None:
        """A row that was mended has other content under the same id, and is not added beside it."""
        mapping = MAPPING.replace("columns:", "same_visit: [Order]\ncolumns:", 1)
        (one,) = imported(workbook(path, FULL), mapping).cases
        (other,) = imported(workbook(path, with_(Level="falls")), mapping).cases
        assert one.id == other.id
        with Log(tmp_path / "cases.db", make=True) as log:
            log.add([one], AT)
            with pytest.raises(DataError, match="is there with other content; nothing was added"):
                log.add([other], AT)
        found = imported(workbook(path, with_(Order=None)), mapping)
        assert said(found)[0][1] == "nothing tells this visit apart: Order is blank"


def a_row(chance: st.DataObject) -> dict[str, Any]:
    """Any row that can be taken; None where nothing was checked."""
    number = st.integers(8, 400).map(lambda n: n / 8)
    columns: dict[str, st.SearchStrategy[Any]] = {
        "Day": st.dates(date(2020, 1, 1), TODAY),
        "Customer": st.none() | st.sampled_from(["hard", "overflow", "Hard , overflow"]),
        "Water": st.none() | st.sampled_from(["mains", "bore"]),
        "Raw": st.none() | number,
        "Level": st.none() | st.sampled_from(["falls", "stays", "STAYS"]),
        "Outlet": st.none() | number,
        "Minutes": st.none() | number,
        "Mended": st.none() | st.sampled_from(["injector", "line", "line+injector"]),
        "Proof": st.none() | st.sampled_from(["ok", "bad"]),
        "Cause": st.none() | st.sampled_from(["dirt", "wear"]),
        "End": st.sampled_from(["done", "again"]),
        "Came": st.none() | st.sampled_from(["ja", "nein"]),
        "Remarks": st.none() | st.text('aä;,\n"', max_size=5),
    }
    return {name: chance.draw(values) for name, values in columns.items()}


class TestLaw:
    """It does not matter in what kind of file a row stands."""

    @SLOW_LAW
    @given(chance=st.data(), separator=st.sampled_from(",;\t"), decimal=st.sampled_from(".,"))
    def test_a_workbook_and_text_give_the_same_cases(
        self,
        chance: st.DataObject,
        separator: str,
        decimal: str,
        tmp_path_factory: pytest.TempPathFactory,
    ) -> None:
        folder = tmp_path_factory.mktemp("sheets")
        rows = [with_(Order=f"A-{n}", **a_row(chance)) for n in range(3)]
        one = imported(workbook(folder / "visits.xlsx", *rows))

        def written(cell: Any) -> str:
            if isinstance(cell, float):
                return f"{cell:g}".replace(".", decimal)
            return f"{cell:%d.%m.%Y}" if isinstance(cell, date) else cell or ""

        text = io.StringIO()
        writer = csv.writer(text, delimiter=separator)
        writer.writerows([["Visits"], [], HEADER, *([written(c) for c in row] for row in rows)])
        path = folder / "visits.csv"
        path.write_bytes(text.getvalue().encode("cp1252"))
        settings = f'encoding: cp1252\nseparator: "{separator}"\ndecimal: "{decimal}"'
        other = imported(path, MAPPING.replace("sheet: Visits", settings))
        assert one.problems == other.problems == ()
        assert [replace(case, id="x") for case in one.cases] == [
            replace(case, id="x") for case in other.cases
        ]
        assert [case.job for case in one.cases] == ["A-0", "A-1", "A-2"]


class TestHeader:
    """The sheet must be the one that the mapping speaks of."""

    @pytest.mark.parametrize(
        ("old", "new", "words"),
        [
            ("header_row: 3", "header_row: 4", "!A4: the header (row 4) does not have Order, Day"),
            ("  Raw: {is: measure", "  Rw: {is: measure", "!E3: the column 'Raw' is not in the m"),
            ("sheet: Visits", "sheet: Visit", "has no sheet 'Visit' (did you mean Visits?)"),
            ("sheet: Visits\n", "", "has the sheets Visits, Prices; the mapping must name one"),
        ],
    )
    def test_refused(self, path: Path, old: str, new: str, words: str) -> None:
        with pytest.raises(DataError) as refused:
            imported(workbook(path, FULL), MAPPING.replace(old, new))
        assert words in str(refused.value)

    def test_two_columns_of_one_name(self, path: Path) -> None:
        book = load_workbook(workbook(path, FULL))
        book["Visits"]["F3"] = "Raw"
        book.save(path)
        with pytest.raises(DataError, match=r"!F3: two columns are called 'Raw'; rename one"):
            imported(path)

    def test_no_workbook(self, path: Path) -> None:
        path.write_text("Order;Day\n")
        with pytest.raises(DataError, match="is no workbook that can be read"):
            imported(path)
        path.unlink()
        with pytest.raises(DataError, match="there is no such file"):
            imported(path)


class TestWriteRejected:
    """Whole, or as it was."""

    def test_it_takes_the_place_of_the_last(self, tmp_path: Path) -> None:
        path = tmp_path / "rejected.csv"
        write_rejected(path, "first\n")
        write_rejected(path, "second\n")
        assert path.read_text() == "second\n"
        assert list(tmp_path.iterdir()) == [path]

    def test_no_such_folder(self, tmp_path: Path) -> None:
        with pytest.raises(DataError, match="cannot be written: No such file"):
            write_rejected(tmp_path / "none" / "rejected.csv", "x")
