"""Visit files: strict on the way in, the same events on the way out."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinebayes.errors import DataError
from brinebayes.visit.events import CutOff, Event, ModelIs, Saw, SiteKnown
from brinebayes.visit.record import Header, event_lines, header_line, parse, read_events, to_lines
from tests.visit.anything import event

HEADER = '{"schema": "brinebayes.visit.1"}\n'
SAW = '{"event": "saw", "observation": "level", "outcome": "static"}\n'
CUT = '{"event": "cut_off"}\n'


class TestRoundTrip:
    """read(write(events)) == events."""

    @given(events=st.lists(event(), max_size=6))
    def test_any_events_come_back(
        self, events: list[Event], tmp_path_factory: pytest.TempPathFactory
    ) -> None:
        path = tmp_path_factory.mktemp("visit") / "visit.jsonl"
        path.write_text(to_lines(events, note="für die Probe"), encoding="utf-8")
        assert list(read_events(path)) == events

    @given(events=st.lists(event(), max_size=4), at=st.sampled_from(["", "2024-05-31T08:00:00Z"]))
    def test_header_and_times_come_back(self, events: list[Event], at: str) -> None:
        header = Header("a note", ModelIs("small", "1", "abc"), at)
        record = parse("x", (header_line(header) + event_lines(events, at)).encode())
        assert record.header == header
        assert [entry.event for entry in record.entries] == events
        assert [entry.at for entry in record.entries] == [at] * len(events)
        assert [entry.line for entry in record.entries] == list(range(2, 2 + len(events)))
        assert record.ended
        assert record.torn == ""


class TestTornLine:
    """A writer that was stopped leaves a beginning of a line; all before it is read."""

    @given(events=st.lists(event(), max_size=4), last=event(), data=st.data())
    def test_every_beginning_of_the_last_line(
        self, events: list[Event], last: Event, data: st.DataObject
    ) -> None:
        whole = to_lines(events).encode()
        line = event_lines([last]).encode()
        kept = data.draw(st.integers(0, len(line) - 2))
        record = parse("x", whole + line[:kept])
        assert list(record.events) == events
        assert record.torn == line[:kept].decode("utf-8", errors="replace")

    def test_a_whole_last_line_without_its_newline_counts(self) -> None:
        record = parse("x", (HEADER + SAW[:-1]).encode())
        assert record.events == (Saw("level", "static"),)
        assert not record.ended
        assert record.torn == ""

    @pytest.mark.parametrize("kept", [1, 9, 20])
    def test_a_line_that_was_set_aside_stays_out(self, kept: int) -> None:
        record = parse("x", (HEADER + SAW + SAW[:kept] + "\n" + CUT + SAW).encode())
        assert record.events == (Saw("level", "static"), CutOff(), Saw("level", "static"))

    @pytest.mark.parametrize("kept", [1, 9, 19])
    def test_stopped_again_while_setting_aside(self, kept: int) -> None:
        """The beginning of the `cut_off` line stands alone at the end, or above a whole one."""
        torn_twice = HEADER + SAW + SAW[:9] + "\n" + CUT[:kept]
        assert parse("x", torn_twice.encode()).events == (Saw("level", "static"),)
        mended = torn_twice + "\n" + CUT
        assert parse("x", mended.encode()).events == (Saw("level", "static"), CutOff())

    @pytest.mark.parametrize(
        ("text", "words"),
        [
            (HEADER + "{\n" + SAW, ":2: not a JSON object on one line"),
            (HEADER + "{\n", ":2: not a JSON object on one line"),
            (HEADER + "{\n" + '{"event": "s', ":2: not a JSON object on one line"),
            (HEADER + "{\n" + SAW + CUT, ":2: not a JSON object on one line"),
            (HEADER + SAW + CUT, ":3: no line that was cut off stands above this"),
            ("{", ":1: not a JSON object on one line"),
        ],
    )
    def test_damage_elsewhere_is_refused(self, text: str, words: str) -> None:
        with pytest.raises(DataError) as refusal:
            parse("x", text.encode())
        assert words in str(refusal.value)


class TestReadEvents:
    """Each mistake with its place and what would be right."""

    def test_a_good_file(self, tmp_path: Path) -> None:
        path = tmp_path / "visit.jsonl"
        path.write_text(
            HEADER
            + '{"event": "site", "condition": "water", "value": "well"}\n\n'
            + '{"event": "saw", "observation": "level", "outcome": "static"}\n'
        )
        assert read_events(path) == (SiteKnown("water", "well"), Saw("level", "static"))

    @pytest.mark.parametrize(
        ("text", "words"),
        [
            ("", "is empty"),
            ('{"event": "done", "repair": "x"}\n', ":1: the first line must be"),
            ('{"schema": "brinebayes.visit.2"}\n', ":1: written by a newer brinebayes"),
            ('{"schema": "brinebayes.visit.02"}\n', ":1: the first line must be"),
            ('{"schema": "brinebayes.visit.1", "model": "x"}\n', "'model' must have the texts id"),
            ('{"schema": "brinebayes.visit.1", "note": 3}\n', "'note' must be text"),
            ('{"schema": "brinebayes.visit.1", "at": "noon"}\n', "'at' must be a UTC time as 2024"),
            ('{"schema": "brinebayes.visit.1", "who": "x"}\n', "unknown field 'who'"),
            (HEADER + "{\n", ":2: not a JSON object on one line"),
            (HEADER + "[1]\n", ":2: not a JSON object"),
            (HEADER + "[" * 9999 + "\n", ":2: not a JSON object on one line"),
            (HEADER + '{"event": "sow"}', ":2: event 'sow' is not one of site, complaint, saw"),
            (HEADER + '{"event": "sow"}', "did you mean saw?"),
            (HEADER + '{"event": 3}', ":2: event '3' is not one of"),
            (HEADER + '{"event": "done"}', "needs the text field 'repair'"),
            (HEADER + '{"event": "done", "repair": 3}', "needs the text field 'repair'"),
            (
                HEADER + '{"event": "done", "repair": "x", "repare": "y"}',
                "unknown field 'repare' (did you mean repair?)",
            ),
            (HEADER + '{"event": "done", "repair": "x", "repair": "y"}\n', "stands twice"),
            (HEADER + '{"event": "undo", "at": 3}', "'at' must be a UTC time as 2024-05-31T08"),
            (HEADER + '{"event": "arrived", "act": ""}', "'arrived' needs 'setup', an object"),
            (
                HEADER + '{"event": "arrived", "act": "", "setup": {"a": 1}}',
                "'arrived' needs 'setup', an object of texts",
            ),
            (
                HEADER + '{"event": "ended", "end": "", "act": "", "to": "", "call_back": ""}',
                "'ended' needs 'still_open', a list of texts",
            ),
        ],
    )
    def test_mistakes(self, text: str, words: str, tmp_path: Path) -> None:
        path = tmp_path / "visit.jsonl"
        path.write_text(text)
        with pytest.raises(DataError) as refusal:
            read_events(path)
        assert words in str(refusal.value)
        assert str(refusal.value).startswith(str(path))

    def test_a_file_that_is_not_there(self, tmp_path: Path) -> None:
        with pytest.raises(DataError, match="cannot be read: No such file"):
            read_events(tmp_path / "none.jsonl")

    def test_a_file_that_is_not_text(self, tmp_path: Path) -> None:
        path = tmp_path / "visit.jsonl"
        path.write_bytes(b"\xff\xfe\x00\n")
        with pytest.raises(DataError, match="not text in UTF-8"):
            read_events(path)
