"""A file of yesterday and the model of today."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from brinebayes.dialogue.opening import checked_events, model_is
from brinebayes.errors import DataError
from brinebayes.visit.events import Done, Event, ModelIs, Saw, Undo
from brinebayes.visit.record import Header, event_lines, header_line, parse
from tests.dialogue.drive import small

PATH = Path("visit.jsonl")
NOW = model_is(small().model)


def checked(header: Header, *events: Event) -> tuple[Event, ...]:
    """The events of a file with this header, as a dialogue would take them."""
    record = parse("visit.jsonl", (header_line(header) + event_lines(events)).encode())
    return checked_events(PATH, record, small().model)


class TestCheckedEvents:
    """What the model can take is taken; what it cannot is named with its line."""

    @pytest.mark.parametrize(
        "model", [None, NOW, replace(NOW, hash="old"), replace(NOW, version="0", hash="old")]
    )
    def test_as_long_as_every_name_exists_the_visit_goes_on(self, model: ModelIs | None) -> None:
        events = (Saw("level", "falls"), Done("clean_injector"))
        assert checked(Header(model=model), *events) == events

    def test_names_that_are_gone_are_all_named(self) -> None:
        old = replace(NOW, version="0", hash="old")
        with pytest.raises(DataError) as refusal:
            checked(Header(model=old), Saw("levle", "falls"), Saw("level", "falls"), Done("dance"))
        said = str(refusal.value)
        assert "does not know all of this visit (begun with version 0)" in said
        assert "line 2: there is no observation 'levle' (did you mean level?)" in said
        assert "line 4: there is no repair 'dance'" in said

    def test_another_model(self) -> None:
        with pytest.raises(DataError, match="belongs to the model 'big', not to 'small'"):
            checked(Header(model=ModelIs("big", "1", "x")))

    def test_an_undo_of_nothing(self) -> None:
        with pytest.raises(DataError, match=r"visit\.jsonl: there is nothing left to take back"):
            checked(Header(), Undo())
