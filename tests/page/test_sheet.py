"""The sheet in a browser: a visit by taps, hostile text, wrong files, sizes, accessibility."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from brinebayes.checking.ready import ready
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shipped import model_folder
from brinebayes.knowledge.shop import Shop, apply
from brinebayes.page.export import page as exported
from brinebayes.visit.events import Complained, Ended, ModelIs, Note, Saw, standing
from brinebayes.visit.record import SCHEMA, read_record
from brinebayes.visit.state import fold
from tests.cli.conftest import Ran
from tests.page.browser import answer, needs_chromium, phone, reopened, saved, settled, tap, title

pytestmark = needs_chromium

SMALL = Path(__file__).resolve().parent.parent / "models" / "small"
HOSTILE = '</script><img src=x onerror="window.hurt=1">{data}{program}'


@pytest.fixture(scope="module")
def small() -> CheckedModel:
    return ready(SMALL)


@pytest.fixture(scope="module")
def sheet(small: CheckedModel, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Where the small model's sheet stands."""
    file = tmp_path_factory.mktemp("sheet") / "sheet.html"
    file.write_text(exported(small), encoding="utf-8")
    return file.as_uri()


def begin(page: Any) -> None:
    """A visit up to the first act."""
    tap(page, "Begin a new visit")
    answer(page)
    tap(page, "Nothing, or nothing more")
    while page.locator(".stamp").inner_text().upper() not in ("CHECK", "REPAIR"):
        answer(page)


class TestVisit:
    """A whole visit by taps."""

    def test_of_the_shipped_model(self, run: Callable[..., Ran], tmp_path: Path) -> None:
        """Its tab closed and opened in the middle; Python reads what was saved and stands where it
        did, and the log takes it once."""
        checked = ready(model_folder("softener"))
        text = exported(checked)
        assert len(text.encode()) < 500_000
        file = tmp_path / "sheet.html"
        file.write_text(text, encoding="utf-8")
        with phone(file.as_uri()) as page:
            tap(page, "Begin a new visit")
            tap(page, "Salt is not used")
            tap(page, "Nothing, or nothing more")
            tap(page, "No more about the place")
            tap(page, "yes, all of this")
            for _ in range(3):
                answer(page)
            before = title(page)
            page = reopened(page)
            assert title(page) == before
            page.locator("summary", has_text="Other work").tap()
            tap(page, "Finish the visit")
            answer(page)
            for box in page.locator("input[type=checkbox]").all():
                box.check()
            tap(page, "Leave")
            page.locator("#days").fill("4")
            tap(page, "Enter")
            assert page.locator(".stamp").inner_text().upper() == "CLOSED"
            visit = saved(page, tmp_path)
        record = read_record(visit)
        state = fold(checked.model, record.events)
        assert state.ended is not None
        assert state.ended.end == "second_visit_needed"
        assert state.complaints == ("salt_unused",)
        assert len(state.seen) >= 2
        assert record.header.model is not None
        assert record.header.model.hash == checked.model.hash
        assert all(entry.at for entry in record.entries)
        log = ("--log", str(tmp_path / "cases.db"), "--json")
        added = [json.loads(run("cases", "add", str(visit), *log).out)["new"] for _ in range(2)]
        [case] = run("cases", "list", *log).out.splitlines()
        assert json.loads(case)["id"] == record.header.id
        assert added == [[record.header.id], []]

    def test_to_a_proven_repair(self, sheet: str, tmp_path: Path) -> None:
        """Test, repair, proof and leave-taking by taps; Python reads it as repaired and proven."""
        with phone(sheet) as page:
            begin(page)
            page.locator("summary", has_text="Other work").tap()
            for act, said in (
                ("Test the hardness", 1),
                ("Clean the injector", 0),
                ("Draw soft", 0),
            ):
                page.locator("details#acts button", has_text=act).first.tap()
                settled(page)
                answer(page, said)
            page.locator("details#acts button", has_text="Finish the visit").first.tap()
            settled(page)
            while page.locator(".stamp").inner_text().upper() != "BEFORE YOU LEAVE":
                answer(page)
            for box in page.locator("input[type=checkbox]").all():
                box.check()
            tap(page, "Leave")
            assert page.locator(".stamp").inner_text().upper() == "CLOSED"
            visit = saved(page, tmp_path)
        record = read_record(visit)
        state = fold(ready(SMALL).model, record.events)
        assert state.done == ("clean_injector",)
        assert state.ended is not None
        assert state.ended.end == "proven"

    def test_undo_takes_back_and_a_note_is_kept(self, sheet: str, tmp_path: Path) -> None:
        with phone(sheet) as page:
            begin(page)
            before = title(page)
            answer(page)
            tap(page, "Undo")
            assert title(page) == before
            page.locator("summary", has_text="Note").tap()
            page.get_by_label("In your own words").fill(HOSTILE)
            page.locator("details#note button").tap()
            settled(page)
            assert page.evaluate("window.hurt") is None
            events = read_record(saved(page, tmp_path)).events
        assert Note(HOSTILE) in standing(events)
        assert not any(isinstance(event, Saw) for event in standing(events))


class TestShop:
    """A page with the figures of a shop."""

    def test_codes_and_units(self, small: CheckedModel, tmp_path: Path) -> None:
        shop = Shop(prices={}, carrying={}, codes={"seal_kit": "A 104 <b>"}, units="metric")
        file = tmp_path / "sheet.html"
        file.write_text(exported(apply(small, shop), shop), encoding="utf-8")
        with phone(file.as_uri()) as page:
            begin(page)
            page.locator("summary", has_text="Other work").tap()
            # A rule wants the water tested before anything is opened.
            for act in ("Test the hardness", "Replace the seals"):
                page.locator("details#acts button", has_text=act).first.tap()
                settled(page)
                if act.startswith("Test"):
                    answer(page)
            assert "seal kit (A 104 <b>)" in page.locator(".card").inner_text()


class TestFieldSheet:
    """The first decisions on paper."""

    def test_a_tree_of_acts_and_answers(self, sheet: str, small: CheckedModel) -> None:
        with phone(sheet) as page:
            page.locator("summary", has_text="Field sheet").tap()
            tap(page, "Work it out")
            page.wait_for_selector(".field-sheet .branch .branch", timeout=60_000)
            page.emulate_media(media="print")
            text = page.locator(".field-sheet").inner_text()
            assert page.locator("nav:visible, button:visible").count() == 0
        first = next(iter(small.model.complaints.values()))
        assert first.name in text
        assert any(check.name in text for check in small.model.checks.values())


class TestHostileText:
    """What a model says is text, whatever stands in it."""

    def test_names_of_a_model(self, small: CheckedModel, tmp_path: Path) -> None:
        model = small.model
        name, complaint = next(iter(model.complaints.items()))
        hostile = replace(
            model,
            about=replace(model.about, name=HOSTILE),
            complaints={**model.complaints, name: replace(complaint, name=HOSTILE)},
        )
        file = tmp_path / "sheet.html"
        file.write_text(exported(CheckedModel(hostile, ())), encoding="utf-8")
        with phone(file.as_uri()) as page:
            assert HOSTILE in page.title()
            tap(page, "Begin a new visit")
            assert page.locator("button.answer", has_text="onerror").count() == 1
            assert page.locator("img").count() == 0
            assert page.evaluate("window.hurt") is None


class TestFiles:
    """Wrong and older files are said to be so, and nothing is lost."""

    @staticmethod
    def open(page: Any, text: str, tmp_path: Path) -> None:
        file = tmp_path / "visit.jsonl"
        file.write_text(text, encoding="utf-8")
        page.locator("#file").set_input_files(file)
        page.wait_for_timeout(150)
        settled(page)

    @pytest.mark.parametrize(
        ("text", "says"),
        [
            ("no json\n", "line 1"),
            ('{"schema": "brinebayes.visit.2"}\n', "another version"),
            ('{"schema": "other"}\n', "no visit file"),
            (f'{{"schema": "{SCHEMA}"}}\n{{"event": "saw"}}\n', "line 2"),
            (f'{{"schema": "{SCHEMA}"}}\n{{"event": "done", "repair": "gone"}}\n', "gone"),
        ],
    )
    def test_a_wrong_file(self, sheet: str, tmp_path: Path, text: str, says: str) -> None:
        with phone(sheet) as page:
            self.open(page, text, tmp_path)
            assert says in page.get_by_role("alert").inner_text()

    def test_an_older_model(self, sheet: str, small: CheckedModel, tmp_path: Path) -> None:
        complaint = next(iter(small.model.complaints))
        header = {"schema": SCHEMA, "id": "0123456789abcdef"}
        older = {"id": "small", "version": "0", "hash": "0" * 64}
        rows = [{**header, "model": older}, {"event": "complaint", "complaint": complaint}]
        with phone(sheet) as page:
            self.open(page, "".join(f"{json.dumps(row)}\n" for row in rows), tmp_path)
            assert "model has changed" in page.locator("#status").inner_text()
            events = read_record(saved(page, tmp_path)).events
        assert events[0] == Complained(complaint)
        assert isinstance(events[1], ModelIs)
        assert events[1].hash == small.model.hash
        assert not any(isinstance(event, Ended) for event in events)


class TestLook:
    """Thumbs, small screens, large text, and what a screen reader meets."""

    def test_targets_and_widths(self, sheet: str) -> None:
        with phone(sheet, viewport={"width": 320, "height": 640}) as page:
            begin(page)
            for size in ("100%", "200%"):
                page.evaluate(f"document.documentElement.style.fontSize = '{size}'")
                wide = page.evaluate("document.documentElement.scrollWidth")
                assert wide <= 320
                for target in page.locator("button:visible, summary:visible").all():
                    box = target.bounding_box()
                    assert box is not None
                    assert box["height"] >= 64 - 1e-3  # the browser adds up 64ths of a pixel
                    assert box["width"] >= 64 - 1e-3

    @pytest.mark.parametrize("scheme", ["light", "dark"])
    def test_accessibility(self, sheet: str, scheme: str) -> None:
        """axe-core finds nothing serious on the front page, a card, and with everything open."""
        axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
        with phone(sheet, color_scheme=scheme) as page:
            seen = [axe.run(page).response["violations"]]
            begin(page)
            for summary in page.locator("summary").all():
                summary.tap()
            seen.append(axe.run(page).response["violations"])
        serious = [
            (one["id"], node["html"][:80])
            for violations in seen
            for one in violations
            if one["impact"] in ("serious", "critical")
            for node in one["nodes"]
        ]
        assert serious == []
