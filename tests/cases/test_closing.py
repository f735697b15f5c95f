"""A finished visit as a case."""

from __future__ import annotations

import pytest

from brinebayes.cases.closing import close, identity, is_over, proofs
from brinebayes.cases.lines import to_line
from brinebayes.cases.record import SURE, Case, Confirmed
from brinebayes.errors import DataError
from brinebayes.visit.events import (
    Complained,
    Done,
    Ended,
    Event,
    Found,
    ModelIs,
    Note,
    Saw,
    Undo,
)
from brinebayes.visit.found import How
from brinebayes.visit.record import Header, Record, event_lines, header_line, parse
from tests.dialogue.drive import small

MODEL = small().model
HARD, STATIC, DONE = Complained("hard_water"), Saw("level", "static"), Done("clean_injector")
PASSED, FAILED = Saw("proof", "passed"), Saw("proof", "failed")
OPEN = Ended("second_visit_needed", "", "", "", ())


def record(*lines: tuple[str, str, tuple[Event, ...]], header: Header | None = None) -> Record:
    """A visit file of answers, each (time, advised, events)."""
    text = header_line(header or Header(at="2024-05-31T22:50:00Z"))
    text += "".join(event_lines(events, at, advised) for at, advised, events in lines)
    return parse("visit.jsonl", text.encode())


def told(*events: Event) -> Case:
    """The case of a visit with these events, without times."""
    return close("visit.jsonl", record(("", "", events)), MODEL, "2024-05-31")


class TestClose:
    """Everything of the visit but words of one's own."""

    def test_days_minutes_and_advice(self) -> None:
        case = close(
            "visit.jsonl",
            record(
                ("2024-05-31T22:55:00Z", "", (HARD,)),
                ("2024-05-31T23:10:30Z", "draw_test", (Note("-"), STATIC)),
                ("2024-06-01T09:00:00Z", "clean_injector", (DONE,)),
                ("2024-06-01T09:20:00Z", "proof", (PASSED,)),
                ("2024-06-01T09:21:00Z", "finish", (Ended("proven", "", "", "", ()),)),
            ),
            MODEL,
        )
        assert (case.opened, case.closed) == ("2024-05-31", "2024-06-01")
        # The first has nothing before it, the note was written with what was seen, and a night
        # lay before the repair.
        assert [step.minutes for step in case.steps] == [None, None, 15.5, None, 20.0, 1.0]
        assert [advised for advised, _ in case.advised] == [
            "draw_test",
            "clean_injector",
            "proof",
            "finish",
        ]
        assert (case.ended, case.proven) == ("proven", ("clean_injector",))
        # The small model says of this repair that something shows only over the next weeks.
        assert case.pending == ("clean_injector",)
        assert (case.confirmed, case.call_back, case.invented) == ((), "unknown", False)

    def test_no_words_of_ones_own(self) -> None:
        case = told(
            HARD, Note("ask for the key next door"), Ended("escalated", "", "a firm", "", ())
        )
        line = to_line(case)
        assert "key" not in line
        assert "plumber" not in line
        assert [type(event) for event in case.events] == [Complained, Note, Ended]

    def test_what_was_undone_stays(self) -> None:
        assert told(HARD, STATIC, Undo(), OPEN).events == (HARD, STATIC, Undo(), OPEN)

    def test_the_model_that_the_advice_came_from(self) -> None:
        older, newer = ModelIs("small", "0", "aaa"), ModelIs("small", "1", "bbb")
        header = Header(model=older, at="2024-05-31T08:00:00Z")
        found = close(
            "v", record(("", "", (HARD, newer, OPEN)), header=header), MODEL, "2024-05-31"
        )
        assert found.model == newer
        assert told(OPEN).model == ModelIs("small", MODEL.about.version, MODEL.hash)

    @pytest.mark.parametrize(
        ("events", "words"),
        [
            ((HARD,), "visit.jsonl: the visit has not ended; go on with it"),
            ((HARD, OPEN, Undo()), "visit.jsonl: the visit has not ended"),
            (
                (Complained("hrd_water"), OPEN),
                r"visit.jsonl: there is no complaint 'hrd_water' \(did",
            ),
        ],
    )
    def test_refused(self, events: tuple[Event, ...], words: str) -> None:
        with pytest.raises(DataError, match=words):
            told(*events)

    def test_a_file_without_times_needs_a_day(self) -> None:
        with pytest.raises(DataError, match="holds no times; say on which day it was: --day"):
            close("v", record(("", "", (OPEN,)), header=Header("by hand")), MODEL)


class TestFound:
    """What the technician says was there, and how that is known if he does not say."""

    @pytest.mark.parametrize(
        ("events", "how"),
        [
            ((Found("injector_clogged", "seen"), DONE), "seen"),
            ((Found("injector_clogged", ""),), "judged"),
            ((Found("injector_clogged", ""), DONE), "repaired_only"),
            ((DONE, PASSED, Found("injector_clogged", "")), "repaired_and_proven"),
            ((DONE, FAILED, Found("injector_clogged", "")), "repaired_only"),
            ((Found("injector_clogged", "seen"), Found("injector_clogged", "judged")), "judged"),
        ],
    )
    def test_how(self, events: tuple[Event, ...], how: How) -> None:
        assert told(*events, OPEN).confirmed == (Confirmed("injector_clogged", how, SURE[how]),)

    def test_taken_back(self) -> None:
        assert told(Found("injector_clogged", "seen"), Undo(), OPEN).confirmed == ()


class TestIsOver:
    """An end that was taken back is none."""

    def test_by_hand(self) -> None:
        assert is_over(record(("", "", (HARD, OPEN))))
        assert not is_over(record(("", "", (HARD, OPEN, Undo()))))


class TestIdentity:
    """The same visit has the same id however far it has come; two visits have two."""

    def test_of_the_file(self) -> None:
        assert identity(record(("", "", (HARD,)), header=Header(id="abc"))) == "abc"

    def test_from_how_it_began(self) -> None:
        begun = identity(record(("2024-05-31T08:00:00Z", "", (HARD, OPEN))))
        assert identity(record(("2024-05-31T08:00:00Z", "", (HARD, OPEN, Undo(), OPEN)))) == begun
        assert identity(record(("2024-05-31T08:00:01Z", "", (HARD, OPEN)))) != begun


class TestProofs:
    """What a proof says of the repairs before it."""

    @pytest.mark.parametrize(
        ("events", "proven", "pending"),
        [
            ((DONE,), (), ("clean_injector",)),
            ((DONE, FAILED), (), ()),
            ((PASSED, DONE), (), ("clean_injector",)),
            ((DONE, PASSED, FAILED), (), ()),
            ((DONE, FAILED, Done("clear_brine_line"), PASSED), ("clear_brine_line",), ()),
            ((DONE, DONE, PASSED), ("clean_injector",), ("clean_injector",)),
        ],
    )
    def test_by_hand(
        self, events: tuple[Event, ...], proven: tuple[str, ...], pending: tuple[str, ...]
    ) -> None:
        assert MODEL.repairs["clean_injector"].proven_later
        assert not MODEL.repairs["clear_brine_line"].proven_later
        assert proofs(MODEL, events) == (proven, pending)
