"""Case records as lines: the same case on the way out and in, everything else refused."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinebayes.cases.lines import parse_line, read_cases, to_line, to_row
from brinebayes.cases.record import Case
from brinebayes.errors import DataError
from brinebayes.visit.events import KINDS
from tests.cases.anything import PROVEN, cases, visit


class TestRoundTrip:
    """read(write(case)) == case, with nothing dropped."""

    @given(case=cases())
    def test_any_case_comes_back(self, case: Case) -> None:
        line = to_line(case)
        assert line.count("\n") == 1
        assert parse_line("x:1", line.encode()) == case
        assert to_line(parse_line("x:1", line.encode())) == line

    @given(some=st.lists(cases(), max_size=4))
    def test_a_file_of_them(
        self, some: list[Case], tmp_path_factory: pytest.TempPathFactory
    ) -> None:
        path = tmp_path_factory.mktemp("cases") / "some.cases.jsonl"
        path.write_text("\n".join(map(to_line, some)), encoding="utf-8")
        assert list(read_cases(path)) == some

    def test_what_may_be_left_out(self) -> None:
        needed = {"schema", "id", "opened", "closed", "model", "steps"}
        row = {name: value for name, value in to_row(visit()).items() if name in needed}
        assert parse_line("x:1", json.dumps(row).encode()) == visit()


def changed(change: Callable[[dict[str, Any]], object]) -> bytes:
    """The line of a good case with one thing changed."""
    row = json.loads(to_line(PROVEN))
    change(row)
    return json.dumps(row).encode()


#: What is wrong -> the change that makes it so, and words that the message must have.
MISTAKES: dict[str, tuple[Callable[[dict[str, Any]], object], str]] = {
    "unknown field": (
        lambda r: r.update(tecnician="t"),
        "unknown field 'tecnician' (did you mean technician?)",
    ),
    "no id": (lambda r: r.pop("id"), "the field 'id' is missing"),
    "a name for an id": (lambda r: r.update(id="Farm House"), "id: must be a reference"),
    "no such day": (lambda r: r.update(closed="2024-02-30"), "closed: must be a date as"),
    "a day with a line end": (lambda r: r.update(closed="2024-05-31\n"), "closed: must be"),
    "closed first": (lambda r: r.update(opened="2024-06-01"), "opened: must not be after"),
    "another schema": (lambda r: r.update(schema="brinebayes.shop.1"), "this is no case record"),
    "a visit file": (
        lambda r: r.update(schema="brinebayes.visit.1"),
        "`brinebayes cases add` takes",
    ),
    "a newer schema": (lambda r: r.update(schema="brinebayes.case.9"), "a newer brinebayes"),
    "unknown state": (
        lambda r: r.update(call_back="maybe"),
        "call_back: must be one of yes, no, unknown",
    ),
    "truth in words": (lambda r: r.update(invented="no"), "invented: must be true or false"),
    "model without hash": (lambda r: r["model"].pop("hash"), "model: the field 'hash' is missing"),
    "model with an empty hash": (lambda r: r["model"].update(hash=""), "model.hash: must not be"),
    "no list": (lambda r: r.update(steps={}), "steps: must be a list"),
    "unknown event": (
        lambda r: r["steps"][2].update(event="sawn"),
        "steps[2]: event 'sawn' is not one of",
    ),
    "unknown field of a step": (
        lambda r: r["steps"][2].update(minute=3),
        "steps[2]: unknown field 'minute'",
    ),
    "minutes in words": (lambda r: r["steps"][0].update(minutes="3"), "minutes: must be a number"),
    "minutes below 0": (lambda r: r["steps"][0].update(minutes=-1), "steps[0].minutes: must be"),
    "no number of minutes": (
        lambda r: r["steps"][0].update(minutes=float("nan")),
        "steps[0].minutes: must be",
    ),
    "a time of nowhere": (
        lambda r: r["steps"][0].update(at="2024-05-31 08:00"),
        "steps[0].at: must be a UTC time",
    ),
    "own words": (
        lambda r: r["steps"].insert(0, {"event": "note", "text": "ring twice"}),
        "steps[0].text: must be empty: words of one's own",
    ),
    "a person": (
        lambda r: r["steps"][-1].update(to="somebody"),
        "steps[6].to: must be empty",
    ),
    "found somehow": (
        lambda r: r["steps"].insert(0, {"event": "found", "fault": "seals_worn", "how": "sen"}),
        "steps[0].how: must be empty or one of seen",
    ),
    "no such end": (lambda r: r["steps"][-1].update(end="over"), "steps[6].end: must be one of"),
    "no end": (lambda r: r["steps"].pop(), "steps: the visit has not ended"),
    "on after the end": (
        lambda r: r["steps"].append({"event": "saw", "observation": "a", "outcome": "b"}),
        "steps: nothing may be done after",
    ),
    "undo of nothing": (
        lambda r: r["steps"].insert(0, {"event": "undo"}),
        "steps: there is nothing left to take back",
    ),
    "confirmed twice": (
        lambda r: r["confirmed"].append(r["confirmed"][0]),
        "confirmed[0].fault: 'injector_clogged' is confirmed twice",
    ),
    "confirmed somehow": (
        lambda r: r["confirmed"][0].update(how="sen"),
        "confirmed[0]: how: must be one of seen, repaired_and_proven, repaired_only, judged "
        "(did you mean seen?)",
    ),
    "not sure at all": (lambda r: r["confirmed"][0].update(sure=0), "confirmed[0].sure: must be"),
    "too sure": (lambda r: r["confirmed"][0].update(sure=1.1), "confirmed[0].sure: must be"),
    "proven but not done": (
        lambda r: r.update(proven=["replace_seals"]),
        "proven[0]: 'replace_seals' was not done on this visit",
    ),
}


class TestRefused:
    """Each mistake is named with the place of its line and its field."""

    @pytest.mark.parametrize("mistake", MISTAKES)
    def test_it_says_where_and_what(self, mistake: str, tmp_path: Path) -> None:
        change, words = MISTAKES[mistake]
        path = tmp_path / "shop.jsonl"
        path.write_bytes(to_line(visit()).encode() + changed(change) + b"\n")
        reading = read_cases(path)
        assert next(reading) == visit()
        with pytest.raises(DataError) as refused:
            next(reading)
        assert str(refused.value).startswith(f"{path}:2: ")
        assert words in str(refused.value)

    @pytest.mark.parametrize("text", ["{", "[]", "\ufffd\ud800", '{"id": "a", "id": "b"}'])
    def test_no_object(self, text: str) -> None:
        with pytest.raises(DataError, match=r"^x:7: not "):
            parse_line("x:7", text.encode("utf-8", errors="surrogatepass"))

    def test_a_file_that_is_not_there(self, tmp_path: Path) -> None:
        with pytest.raises(DataError, match="cannot be read: No such file"):
            list(read_cases(tmp_path / "none.jsonl"))

    def test_writing_refuses_what_reading_would(self) -> None:
        with pytest.raises(DataError, match=r"case a-visit: confirmed\[0\].sure: must be above 0"):
            to_line(visit(confirmed=(PROVEN.confirmed[0].__class__("f", "seen", 0.0),)))

    def test_every_kind_of_event_is_written_with_its_name(self) -> None:
        assert len(set(KINDS.values())) == len(KINDS)
