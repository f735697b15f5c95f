"""Recorded visits: what a technician sees from door to door, compared to the letter."""

from __future__ import annotations

import pytest

from brinebayes.visit.ends import ENDS
from tests.visit.recordings import RECORDED, VISITS, path_of, record


@pytest.mark.parametrize("name", VISITS)
class TestRecorded:
    """One visit for each way to end; `python -m tests.visit.recordings` writes them anew."""

    def test_it_is_seen_again(self, name: str) -> None:
        assert record(name) == path_of(name).read_text(encoding="utf-8")

    def test_it_fits_a_terminal_and_is_plain_text(self, name: str) -> None:
        text = path_of(name).read_text(encoding="utf-8")
        assert max(map(len, text.splitlines())) <= 80
        assert text.isascii()
        assert "\x1b" not in text
        assert text.endswith("[ended with 0]\n")


class TestRecordings:
    """The recordings are complete."""

    def test_every_end_has_one(self) -> None:
        assert set(VISITS) >= set(ENDS)

    def test_nothing_else_lies_there(self) -> None:
        assert {path.stem for path in RECORDED.iterdir()} == set(VISITS)
