"""Visit files: strict on the way in, the same events on the way out."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinebayes.errors import DataError
from brinebayes.visit.events import KINDS, Event, Saw, SiteKnown
from brinebayes.visit.record import read_events, to_lines

HEADER = '{"schema": "brinebayes.visit.1"}\n'


def some_event() -> st.SearchStrategy[Event]:
    """Any event with any words in it."""
    word = st.text(min_size=1, max_size=8)
    return st.sampled_from(list(KINDS.values())).flatmap(
        lambda kind: st.tuples(*(word for _ in kind.__slots__)).map(lambda words: kind(*words))
    )


class TestRoundTrip:
    """read(write(events)) == events."""

    @given(events=st.lists(some_event(), max_size=6))
    def test_any_events_come_back(
        self, events: list[Event], tmp_path_factory: pytest.TempPathFactory
    ) -> None:
        path = tmp_path_factory.mktemp("visit") / "visit.jsonl"
        path.write_text(to_lines(events, note="für die Probe"), encoding="utf-8")
        assert list(read_events(path)) == events


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
            ('{"schema": "brinebayes.visit.2"}\n', ":1: the first line must be"),
            ('{"schema": "brinebayes.visit.1", "who": "x"}\n', "unknown field 'who'"),
            (HEADER + "{", ":2: not a JSON object on one line"),
            (HEADER + "[1]", ":2: not a JSON object"),
            (HEADER + '{"event": "sow"}', ":2: event 'sow' is not one of site, complaint, saw"),
            (HEADER + '{"event": "sow"}', "did you mean saw?"),
            (HEADER + '{"event": 3}', ":2: event '3' is not one of"),
            (HEADER + '{"event": "done"}', "needs the text field 'repair'"),
            (HEADER + '{"event": "done", "repair": 3}', "needs the text field 'repair'"),
            (
                HEADER + '{"event": "done", "repair": "x", "repare": "y"}',
                "unknown field 'repare' (did you mean repair?)",
            ),
            (HEADER + '{"event": "done", "repair": "x", "repair": "y"}', "stands twice"),
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
        path.write_bytes(b"\xff\xfe\x00")
        with pytest.raises(DataError, match="not a text file in UTF-8"):
            read_events(path)
