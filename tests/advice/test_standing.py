"""How the unit stands, as far as the visit tells; the setups and acts are the shipped ones."""

from __future__ import annotations

import pytest

from brinebayes.advice.standing import standing
from brinebayes.errors import UnsafeRoute
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.shipped import model_folder
from brinebayes.setups.invariants import broken
from brinebayes.setups.routes import Routes, tabulate
from brinebayes.setups.states import named
from brinebayes.visit.events import Done, Event, Saw, SetupIs, arrived
from brinebayes.visit.state import fold

SERVICE = {
    "water": "service",
    "pressure": "pressurised",
    "position": "service",
    "power": "plugged",
    "valve": "closed",
    "drain": "fitted",
    "brine": "fitted",
    "inside": "rinsed",
}
BRINE = {**SERVICE, "water": "feeding", "position": "brine", "inside": "brine"}
OPEN = {
    **SERVICE,
    "water": "bypassed",
    "pressure": "relieved",
    "position": "backwash",
    "power": "unplugged",
    "valve": "open",
    "inside": "opened",
}


@pytest.fixture(scope="module")
def model() -> Model:
    return read_model(model_folder())


@pytest.fixture(scope="module")
def routes(model: Model) -> Routes:
    return tabulate(model)


def stands(model: Model, routes: Routes, *events: Event) -> dict[str, str]:
    return named(model.setups, standing(model, routes, fold(model, events)))


class TestStanding:
    """Walked is known; done in another way is not; what is stated now comes before both."""

    def test_at_first_only_what_shows_at_a_glance(self, model: Model, routes: Routes) -> None:
        found = stands(model, routes)
        assert found["valve"] == "closed"
        assert found["water"] == "unsure"

    def test_after_a_walk_everything(self, model: Model, routes: Routes) -> None:
        events = [arrived("watch_level", BRINE), Saw("level_in_draw", "falls")]
        assert stands(model, routes, *events) == BRINE

    def test_an_act_done_in_another_way_hides_what_its_route_touches(
        self, model: Model, routes: Routes
    ) -> None:
        """From the brine step to an open body: all but the two lines is touched on the way."""
        found = stands(
            model,
            routes,
            arrived("watch_level", BRINE),
            Saw("level_in_draw", "falls"),
            Saw("screen_found", "clean"),
        )
        assert found["valve"] == found["pressure"] == found["power"] == "unsure"
        assert (found["drain"], found["brine"]) == ("fitted", "fitted")

    def test_an_act_that_needs_nothing_hides_nothing(self, model: Model, routes: Routes) -> None:
        events = [arrived("watch_level", BRINE), Saw("salt_seen", "plenty")]
        assert stands(model, routes, *events) == BRINE

    def test_what_is_stated_after_a_walk_changes_that_part(
        self, model: Model, routes: Routes
    ) -> None:
        events = [arrived("", SERVICE), SetupIs("power", "unplugged")]
        assert stands(model, routes, *events) == {**SERVICE, "power": "unplugged"}

    def test_what_is_stated_against_the_walk_leaves_only_what_follows_from_it(
        self, model: Model, routes: Routes
    ) -> None:
        """Relieved behind the bypass, and then the bypass is at service: somebody opened it."""
        bypassed = {**SERVICE, "water": "bypassed", "pressure": "relieved", "position": "rinse"}
        found = stands(model, routes, arrived("", bypassed), SetupIs("water", "service"))
        assert (found["water"], found["pressure"]) == ("service", "pressurised")
        assert (found["position"], found["brine"]) == ("unsure", "unsure")

    def test_a_danger_is_not_explained_away(self, model: Model, routes: Routes) -> None:
        """The route led to an open body; then somebody says that the plug is in."""
        walk = arrived("clean_injector", OPEN)
        with pytest.raises(UnsafeRoute, match="body_open_with_power"):
            stands(model, routes, walk, SetupIs("power", "plugged"))
        closed = SetupIs("valve", "closed")
        found = stands(model, routes, walk, SetupIs("power", "plugged"), closed)
        assert (found["power"], found["valve"]) == ("plugged", "closed")

    def test_statements_that_cannot_be_are_refused(self, model: Model, routes: Routes) -> None:
        with pytest.raises(UnsafeRoute, match="body_open_with_power"):
            stands(
                model,
                routes,
                arrived("", SERVICE),
                SetupIs("power", "plugged"),
                SetupIs("valve", "open"),
            )

    @pytest.mark.parametrize("repair", ["clean_injector", "replace_seals", "add_salt", "set_clock"])
    def test_the_end_of_every_walk_is_safe(self, model: Model, routes: Routes, repair: str) -> None:
        start = standing(model, routes, fold(model, [arrived("", SERVICE)]))
        act = model.repairs[repair]
        end = routes.after(routes.way(start, act.needs).end, act.leaves)
        walk = [arrived(repair, named(model.setups, end)), Done(repair)]
        found = standing(model, routes, fold(model, walk))
        assert found == end
        assert broken(model.setups, found) == ()
