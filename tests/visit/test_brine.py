"""A draw spends brine, a refill brings it back in its time; figures of the small model."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.visit.brine import refill_time
from brinebayes.visit.events import Done, Event, Refilled, Saw, SiteKnown, Undo
from brinebayes.visit.state import fold

SMALL = Path(__file__).resolve().parent.parent / "models" / "small"
DRAW = Saw("level", "static")
FELT = Saw("suction_felt", "weak")
REFILL = (2.0, 60.0)
NONE = (0.0, 0.0)


@pytest.fixture(scope="module")
def model() -> Model:
    return read_model(SMALL)


class TestRefillTime:
    """One draw stands in the tank, the draw test spends one."""

    @pytest.mark.parametrize(
        ("events", "time"),
        [
            ((), NONE),
            ((DRAW,), REFILL),
            ((FELT, DRAW), REFILL),
            ((DRAW, Refilled()), NONE),
            ((DRAW, Refilled(), FELT, DRAW), REFILL),
            ((DRAW, Done("clean_injector")), REFILL),
            ((DRAW, Undo()), NONE),
            ((Saw("outlet_hardness", "soft"),), NONE),
        ],
    )
    def test_after_these_events(
        self, model: Model, events: tuple[Event, ...], time: tuple[float, float]
    ) -> None:
        assert refill_time(model, fold(model, events), "draw_test") == time

    def test_a_check_that_spends_nothing_needs_none(self, model: Model) -> None:
        assert refill_time(model, fold(model, [DRAW]), "hardness_test") == NONE

    @pytest.mark.parametrize(
        ("valve", "events", "time"),
        [
            (None, (), NONE),  # Not known of this site: what most tanks hold.
            ("piston", (), NONE),
            ("disc", (), REFILL),
            ("disc", (Refilled(),), NONE),
            ("disc", (Refilled(), DRAW), REFILL),
            ("disc", (Refilled(), Undo()), REFILL),
        ],
    )
    def test_a_tank_that_stands_empty(
        self, model: Model, valve: str | None, events: tuple[Event, ...], time: tuple[float, float]
    ) -> None:
        """Where the unit refills before it draws, the first draw waits for a refill too."""
        brine = model.about.brine
        assert brine is not None
        empty = replace(brine, empty_on={"valve": "disc"})
        dry = replace(model, about=replace(model.about, brine=empty))
        site = [SiteKnown("valve", valve)] if valve else []
        assert refill_time(dry, fold(dry, [*site, *events]), "draw_test") == time

    def test_two_observations_of_one_draw_spend_one_draw(self, model: Model) -> None:
        two = _with_draws(model, 2.0)
        assert refill_time(two, fold(two, [FELT, DRAW]), "draw_test") == NONE
        assert refill_time(two, fold(two, [DRAW, FELT, DRAW]), "draw_test") == REFILL

    def test_a_check_that_spends_more_than_a_full_tank_needs_a_full_one(self, model: Model) -> None:
        half = _with_draws(model, 0.5)
        assert refill_time(half, fold(half, []), "draw_test") == NONE
        assert refill_time(half, fold(half, [DRAW]), "draw_test") == REFILL

    def test_a_model_that_does_not_count_asks_for_none(self, model: Model) -> None:
        free = replace(model, about=replace(model.about, brine=None))
        assert refill_time(free, fold(free, [DRAW]), "draw_test") == NONE


def _with_draws(model: Model, draws: float) -> Model:
    assert model.about.brine is not None
    number = replace(model.about.brine.draws, value=draws)
    brine = replace(model.about.brine, draws=number)
    return replace(model, about=replace(model.about, brine=brine))
