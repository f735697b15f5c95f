"""Numbers on a visit: read for an observation, or measured on the site."""

from __future__ import annotations

from pathlib import Path

import pytest

from brinebayes.advice.situation import facts_of
from brinebayes.errors import UsageError
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.visit.events import (
    Done,
    Event,
    Measured,
    Read,
    Saw,
    SiteKnown,
    Undo,
    last_step,
)
from brinebayes.visit.record import parse, to_lines
from brinebayes.visit.state import fold, site_fact, to_question
from tests.situations.situations import shipped

SMALL = Path(__file__).resolve().parent.parent / "models" / "small"
HARD = Read("outlet_hardness", "5 gpg")
OPEN = Read("outlet_hardness", "3.4 gpg")
RAW = Measured("raw_hardness", "16 gpg")


@pytest.fixture(scope="module")
def model() -> Model:
    return read_model(SMALL)


class TestRead:
    """A number counts as seen, with what it says."""

    def test_it_is_seen_as_its_likeliest_outcome(self, model: Model) -> None:
        state = fold(model, [RAW, Read("outlet_hardness", "14 gpg")])
        assert state.seen == ((0, "outlet_hardness", "hard"),)
        (item,) = state.readings
        assert (item.epoch, item.place) == (0, 0)
        assert item.reading.clear

    def test_its_likelihood_is_what_the_engine_is_asked_with(self, model: Model) -> None:
        state = fold(model, [Saw("level", "static"), OPEN])
        plain, read = to_question(model, state).seen
        assert plain.likelihood == (0.0, 1.0)
        assert read.likelihood == state.readings[0].reading.likelihood
        assert 0 < min(read.likelihood) < 1

    def test_what_is_told_later_of_the_site_counts_for_what_was_read_before(
        self, model: Model
    ) -> None:
        """The order of a number and the size of its tank does not matter."""
        first, last = fold(model, [RAW, OPEN]), fold(model, [OPEN, RAW])
        assert first.readings == last.readings
        assert first.seen == last.seen
        assert to_question(model, first) == to_question(model, last)
        assert last.readings[0].reading.not_told == ()

    def test_telling_a_measure_may_turn_the_outcome(self, model: Model) -> None:
        """5 gpg are more than a quarter of 12 grains, and less than a quarter of 60."""
        assert fold(model, [HARD]).seen[0][2] == "hard"
        assert fold(model, [HARD, Measured("raw_hardness", "60 gpg")]).seen[0][2] == "soft"

    def test_a_later_answer_replaces_the_number_and_a_number_an_answer(self, model: Model) -> None:
        assert fold(model, [HARD, Saw("outlet_hardness", "soft")]).seen_now() == {
            "outlet_hardness": "soft"
        }
        assert fold(model, [Saw("outlet_hardness", "soft"), RAW, HARD]).seen_now() == {
            "outlet_hardness": "hard"
        }

    def test_a_number_before_a_repair_speaks_of_the_past(self, model: Model) -> None:
        state = fold(model, [RAW, HARD, Done("clean_injector")])
        assert state.seen_now() == {}
        assert state.readings[0].epoch == 0
        assert to_question(model, state).seen[0].epoch == 0

    def test_an_undo_takes_it_back(self, model: Model) -> None:
        assert fold(model, [RAW, HARD, Undo()]) == fold(model, [RAW])
        assert fold(model, [HARD, RAW, Undo()]) == fold(model, [HARD])
        assert last_step([RAW, HARD]) == (1,)


class TestClear:
    """Rules act on what is clear; everything counts as evidence."""

    def test_a_number_that_leaves_its_outcome_open_is_no_fact(self, model: Model) -> None:
        state = fold(model, [OPEN])
        assert not state.readings[0].reading.clear
        assert state.seen_now() == {"outlet_hardness": "hard"}
        assert state.clear_now() == {}
        assert facts_of(model, state).saw == {}

    def test_it_does_not_leave_an_older_answer_standing(self, model: Model) -> None:
        state = fold(model, [Saw("outlet_hardness", "soft"), OPEN])
        assert state.clear_now() == {}
        assert state.clear_ever() == {}

    def test_a_clear_one_is_a_fact(self, model: Model) -> None:
        assert fold(model, [RAW, Read("outlet_hardness", "14 gpg")]).clear_now() == {
            "outlet_hardness": "hard"
        }


class TestTooEarly:
    """What was taken too early is kept and shown, and says nothing."""

    events: tuple[Event, ...] = (Saw("level_in_draw", "falls"),)
    early = Read("level_in_draw", "0.1 in in 2 min")

    def test_it_is_not_seen_and_replaces_nothing(self) -> None:
        state = fold(shipped(), [*self.events, self.early])
        assert state.seen == ((0, "level_in_draw", "falls"),)
        (item,) = state.readings
        assert item.place is None
        assert item.reading.challenge is not None
        without = to_question(shipped(), fold(shipped(), self.events))
        assert to_question(shipped(), state) == without

    def test_the_next_one_counts(self) -> None:
        state = fold(shipped(), [self.early, Read("level_in_draw", "0 in in 10 min")])
        assert state.seen_now() == {"level_in_draw": "stands_still"}


class TestRefused:
    """One line, and the visit stays as it was."""

    @pytest.mark.parametrize(
        ("event", "words"),
        [
            (Read("outlet_hardness", "about 2"), "write a plain number"),
            (Read("outlet_hardness", "2 psi"), "psi is a pressure"),
            (Read("outlet_hardness", "99 gpg"), "99 gpg is more than 98 gpg"),
            (Read("level", "2 in"), "level is not read as a number; say one of falls, static"),
            (Read("levle", "2 in"), "did you mean level?"),
            (Measured("raw_hardness", "300 gpg"), "is not between 0.4 and 99 gpg"),
            (Measured("raw_hardnes", "3 gpg"), "did you mean raw_hardness?"),
            (Measured("level_zone", "mud"), "is none of its words"),
        ],
    )
    def test_the_line(self, model: Model, event: Event, words: str) -> None:
        with pytest.raises(UsageError) as refusal:
            fold(model, [event])
        assert words in str(refusal.value)


class TestSiteFact:
    """Conditions and measures share the ids of the site."""

    def test_each_becomes_its_event(self, model: Model) -> None:
        assert site_fact(model, "supply", "well") == SiteKnown("supply", "well")
        assert site_fact(model, "raw_hardness", "3 gpg") == Measured("raw_hardness", "3 gpg")
        with pytest.raises(UsageError, match="did you mean raw_hardness"):
            site_fact(model, "raw_hardnes", "3 gpg")


class TestRecord:
    """Numbers in a visit file, as they were told."""

    def test_there_and_back(self) -> None:
        events = [RAW, HARD, Read("level_in_draw", "1/2 in in 10 min")]
        text = to_lines(events)
        assert '{"event": "read", "observation": "outlet_hardness", "text": "5 gpg"}' in text
        assert '{"event": "measured", "measure": "raw_hardness", "text": "16 gpg"}' in text
        assert parse("visit", text.encode()).events == tuple(events)
