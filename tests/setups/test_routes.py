"""The cheapest safe routes, against networkx, an exhaustive search, and the trade's own order."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from math import inf
from pathlib import Path
from typing import ClassVar

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brinebayes.errors import UnsafeRoute, UsageError
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Condition, Invariant, Move, Setups, SetupVariable
from brinebayes.knowledge.shipped import model_folder
from brinebayes.setups import states
from brinebayes.setups.routes import acts_of, tabulate
from brinebayes.setups.states import State
from tests.setups import oracle
from tests.setups.shipped import ASKED, FILE, MONEY, goals_of, number, routes_of, shipped_routes
from tests.setups.shipped import shipped_setups as setups_of

GOALS = goals_of(setups_of())
SERVICE = oracle.in_service(setups_of())


@cache
def plain() -> oracle.Unknown:
    return oracle.Unknown(setups_of())


def from_service(**changes: str) -> State:
    return oracle.changed(setups_of(), SERVICE, changes)


def in_order(wanted: tuple[str, ...], moves: tuple[str, ...]) -> bool:
    """Whether the wanted moves occur in this order, with any others between."""
    left = iter(moves)
    return all(move in left for move in wanted)


class TestEveryRealState:
    """From each of the states that can come about, to everything that an act may ask."""

    @pytest.mark.parametrize("name", list(GOALS))
    def test_safe_at_each_step_and_ends_where_it_should(self, name: str) -> None:
        routes, setups = shipped_routes(), setups_of()
        for start in plain().real:
            route = routes.way(start, GOALS[name])
            end = [start, *oracle.execute(setups, start, route.moves)][-1]
            assert end == route.end
            assert oracle.fits(setups, end, GOALS[name])

    @pytest.mark.parametrize("name", list(GOALS))
    def test_as_cheap_as_networkx_finds(self, name: str) -> None:
        routes = shipped_routes()
        expected = plain().prices(real_graph(), GOALS[name])
        assert len(expected) == len(plain().real)
        for start, millionths in expected.items():
            assert routes.cost(start, GOALS[name]) == millionths / 1_000_000
            assert round(routes.way(start, GOALS[name]).money * 1_000_000) == millionths

    def test_minutes_money_and_cautions_are_those_of_the_moves(self) -> None:
        routes, setups = shipped_routes(), setups_of()
        for goal in GOALS.values():
            for start in plain().real[::17]:
                route = routes.way(start, goal)
                moves = [setups.moves[name] for name in route.moves]
                waits = [m.waiting_minutes.value for m in moves if m.waiting_minutes is not None]
                assert route.minutes == pytest.approx(sum(m.minutes.value for m in moves))
                assert route.waiting_minutes == pytest.approx(sum(waits))
                assert route.money == pytest.approx(
                    route.minutes * 1.5 + route.waiting_minutes * 0.9
                )
                assert set(route.cautions) == {line for move in moves for line in move.cautions}
                assert len(set(route.cautions)) == len(route.cautions)
                firsts = [
                    min(i for i, m in enumerate(moves) if line in m.cautions)
                    for line in route.cautions
                ]
                assert firsts == sorted(firsts)


@cache
def real_graph() -> nx.DiGraph:
    return plain().graph(plain().real, MONEY)


@cache
def whole_graph() -> nx.DiGraph:
    return plain().graph(plain().met(), MONEY)


class TestUnknownStart:
    """What is not known is taken as the worst, and that is safe whatever it turns out to be."""

    @pytest.mark.parametrize(
        "name", ["service", "K, L, T, U body open", "J brine step into a pail"]
    )
    def test_as_cheap_as_networkx_finds_from_every_state_of_knowledge(self, name: str) -> None:
        routes = shipped_routes()
        expected = plain().prices(whole_graph(), GOALS[name])
        met = plain().met()
        assert len(met) > 10 * len(plain().real)
        for start in met:
            assert round(routes.cost(start, GOALS[name]) * 1_000_000) == expected[start]

    @pytest.mark.parametrize("name", list(GOALS))
    def test_nothing_known_is_safe_from_every_real_state(self, name: str) -> None:
        """The whole point: one list of moves, carried out wherever the unit really stands."""
        routes, setups = shipped_routes(), setups_of()
        start = routes.start({})
        assert start == states.worst_case(setups, {})
        moves = routes.way(start, GOALS[name]).moves
        for really in plain().real:
            end = [really, *oracle.execute(setups, really, moves)][-1]
            assert oracle.fits(setups, end, GOALS[name])

    @settings(deadline=None, max_examples=100)
    @given(data=st.data())
    def test_partly_known_is_safe_from_every_state_it_may_be(self, data: st.DataObject) -> None:
        routes, setups = shipped_routes(), setups_of()
        seen = data.draw(st.sampled_from(plain().real))
        names = data.draw(st.sets(st.sampled_from(list(setups.variables))))
        known = {n: v for n, v in states.named(setups, seen).items() if n in names}
        goal = GOALS[data.draw(st.sampled_from(list(GOALS)))]
        moves = routes.way(routes.start(known), goal).moves
        for really in plain().real:
            if oracle.fits(setups, really, known):
                end = [really, *oracle.execute(setups, really, moves)][-1]
                assert oracle.fits(setups, end, goal)

    def test_shut_off_and_unplugged_may_mean_open(self) -> None:
        """Pressure that is only feared says nothing of the body: it is closed before water runs."""
        routes, setups = shipped_routes(), setups_of()
        known = {
            "water": "bypassed",
            "power": "unplugged",
            "position": "backwash",
            "drain": "fitted",
            "brine": "fitted",
        }
        moves = routes.way(routes.start(known), ASKED["F bucket in backwash"]).moves
        assert in_order(("close_body", "feed_unit"), moves)
        for really in plain().real:
            if oracle.fits(setups, really, known):
                assert [*oracle.execute(setups, really, moves)]

    def test_every_partial_knowledge_has_a_start(self) -> None:
        routes, setups = shipped_routes(), setups_of()
        draw = random.Random(20)
        for _ in range(1500):
            seen = states.named(setups, draw.choice(plain().real))
            known = {name: value for name, value in seen.items() if draw.random() < 0.4}
            start = states.named(setups, routes.start(known))
            assert known.items() <= start.items()


class TestStart:
    """The worst that what is known leaves possible."""

    @pytest.mark.parametrize(
        ("known", "also"),
        [
            # A unit that serves the house holds pressure, is closed up at the drain, and is rinsed.
            (
                {"water": "service", "position": "service"},
                {"pressure": "pressurised", "drain": "fitted", "inside": "rinsed"},
            ),
            # With the plug in nobody's hands are in it.
            ({"power": "plugged"}, {"valve": "closed", "water": "unsure"}),
            # An open body: shut off, let down, unplugged.
            (
                {"valve": "open"},
                {"power": "unplugged", "pressure": "relieved", "water": "bypassed"},
            ),
            # In the middle of a cycle there may be brine in it, but nobody had it open.
            ({"water": "service"}, {"inside": "unsure", "position": "unsure", "drain": "fitted"}),
            # To know that nobody has looked is to know nothing.
            ({"water": "unsure"}, {"water": "unsure", "inside": "unsure"}),
            # Shut off and unplugged: it may have been let down and opened since.
            (
                {"water": "bypassed", "power": "unplugged"},
                {"pressure": "unsure", "valve": "unsure"},
            ),
        ],
    )
    def test_worked_by_hand(self, known: dict[str, str], also: dict[str, str]) -> None:
        found = states.named(setups_of(), shipped_routes().start(known))
        assert also.items() <= found.items()

    def test_what_is_unsafe_is_refused_with_the_reason(self) -> None:
        with pytest.raises(UnsafeRoute, match=r"body_open_under_pressure.*make it safe first"):
            shipped_routes().start({"valve": "open", "pressure": "pressurised"})

    def test_what_cannot_be_is_refused(self) -> None:
        with pytest.raises(UnsafeRoute, match="no moves lead to the setup water service"):
            shipped_routes().start(
                {"water": "service", "pressure": "relieved", "inside": "rinsed", "valve": "closed"}
            )

    def test_unknown_names_are_refused(self) -> None:
        with pytest.raises(UsageError, match="did you mean bypassed"):
            shipped_routes().start({"water": "bypased"})


class TestTheTradesOrder:
    """The usual order (common practice, NIOSH 83-125 on hazardous energy) must come out."""

    def test_before_the_body_is_opened(self) -> None:
        """Bypass, step to a drain position, wait until flow stops, unplug, vent and open."""
        route = shipped_routes().way(SERVICE, {"valve": "open"})
        assert route.moves == (
            "bypass_unit",
            "step_to_backwash",
            "relieve_pressure",
            "unplug",
            "open_body",
        )
        # 1 + 1.5 + 1 + 0.5 + 4 minutes, 2 of waiting, added by hand from setups.yaml.
        assert (route.minutes, route.waiting_minutes) == (8.0, 2.0)
        assert route.money == pytest.approx(8.0 * 1.5 + 2.0 * 0.9)

    def test_and_back(self) -> None:
        """Restore slowly, purge the air through the drain, rinse, only then the house."""
        routes = shipped_routes()
        opened = routes.way(SERVICE, {"valve": "open"}).end
        assert routes.service(opened).moves == (
            "close_body",
            "feed_unit",
            "plug_in",
            "purge_and_rinse",
            "run_on",
            "run_home",
            "turn_to_service",
        )

    def test_no_route_gives_the_house_water_from_an_opened_unit_before_it_is_rinsed(self) -> None:
        routes, setups = shipped_routes(), setups_of()
        inside, water = (
            list(setups.variables).index("inside"),
            list(setups.variables).index("water"),
        )
        for start in (s for s in plain().real if s[inside] == "opened"):
            for goal in GOALS.values():
                moves = routes.way(start, goal).moves
                for move, state in zip(moves, oracle.execute(setups, start, moves), strict=True):
                    if move == "purge_and_rinse":
                        break
                    assert state[water] != "service"

    def test_an_unplugged_valve_is_plugged_in_before_it_is_stepped(self) -> None:
        route = shipped_routes().way(from_service(power="unplugged"), ASKED["F bucket in backwash"])
        assert route.moves == ("plug_in", "step_to_backwash")

    def test_nothing_to_do_costs_nothing(self) -> None:
        route = shipped_routes().service(SERVICE)
        assert (route.moves, route.money, route.end) == ((), 0.0, SERVICE)


#: Per invariant: where one starts, what is wanted, and the moves that only it brings in.
LOAD: dict[str, tuple[Mapping[str, str], Condition, tuple[str, ...]]] = {
    "body_open_under_pressure": ({}, {"valve": "open"}, ("relieve_pressure", "open_body")),
    "body_open_with_power": ({}, {"valve": "open"}, ("unplug", "open_body")),
    "hands_in_drive_with_power": ({}, {"valve": "drive"}, ("unplug", "bare_drive")),
    "drain_port_bare_under_pressure": (
        {},
        {"drain": "off"},
        ("bypass_unit", "relieve_pressure", "uncouple_drain"),
    ),
    "pail_with_house_on": (
        {"drain": "pail", "water": "feeding", "position": "backwash"},
        {"water": "service", "position": "backwash"},
        ("bypass_unit", "relieve_pressure", "couple_drain", "turn_to_service"),
    ),
    "pail_while_drive_runs": (
        {"drain": "pail", "water": "feeding", "position": "backwash"},
        {"drain": "pail", "water": "feeding", "position": "service"},
        ("bypass_unit", "run_on", "feed_unit"),
    ),
    "brine_port_bare_at_refill": (
        {"brine": "off", "position": "rinse"},
        {"water": "service", "position": "refill"},
        ("couple_brine", "step_to_refill"),
    ),
    "house_on_before_rinse": (
        {"water": "bypassed", "position": "backwash", "inside": "opened"},
        {"water": "service"},
        ("feed_unit", "purge_and_rinse", "turn_to_service"),
    ),
    "no_way_to_the_drain": (
        {"position": "rinse", "inside": "brine"},
        {"water": "service", "position": "service"},
        ("purge_and_rinse", "step_to_service"),
    ),
}


class TestEachInvariantIsLoadBearing:
    """Without any one of them some route skips moves; so deleting one fails here."""

    def test_each_has_its_case(self) -> None:
        assert set(LOAD) == set(setups_of().invariants)

    @pytest.mark.parametrize("name", list(LOAD))
    def test_the_moves_that_it_brings_in(self, name: str) -> None:
        changes, goal, wanted = LOAD[name]
        start = from_service(**changes)
        assert start in plain().real
        with_it = shipped_routes().way(start, goal)
        assert in_order(wanted, with_it.moves)

    @pytest.mark.parametrize("name", list(LOAD))
    def test_without_it_the_route_is_cheaper_and_breaks_it(self, name: str) -> None:
        changes, goal, wanted = LOAD[name]
        setups, start = setups_of(), from_service(**changes)
        rest = {n: inv for n, inv in setups.invariants.items() if n != name}
        without = routes_of(replace(setups, invariants=rest), [goal])
        route = without.way(start, goal)
        assert route.money < shipped_routes().way(start, goal).money
        assert not in_order(wanted, route.moves)
        passed, state = [], start
        for move in route.moves:
            state = oracle.changed(setups, state, setups.moves[move].leaves)
            passed += oracle.unsafe(setups, state)
        assert set(passed) == {name}

    def test_without_any_single_value_that_they_name_more_could_come_about(self) -> None:
        setups, whole = setups_of(), len(plain().real)
        for name, invariant in setups.invariants.items():
            for variable, values in invariant.never.items():
                for value in () if isinstance(values, str) else values:
                    rest = tuple(other for other in values if other != value)
                    never = {**invariant.never, variable: rest}
                    narrower = {**setups.invariants, name: replace(invariant, never=never)}
                    assert len(oracle.real_states(replace(setups, invariants=narrower))) > whole


class TestUnsafeRoute:
    """No route is better than an unsafe one, and it says what stands in the way."""

    def test_the_invariant_in_the_way_is_named(self) -> None:
        goal = {"valve": "open", "pressure": "pressurised"}
        with pytest.raises(
            UnsafeRoute, match=r"no safe route to .*valve open: body_open_under_pressure: A body"
        ):
            shipped_routes().way(SERVICE, goal)

    def test_what_no_move_leads_to_is_said_so(self) -> None:
        setups = setups_of()
        moves = {n: m for n, m in setups.moves.items() if n != "unplug"}
        with pytest.raises(UnsafeRoute, match="no route to power unplugged: no moves lead there"):
            routes_of(replace(setups, moves=moves), []).way(SERVICE, {"power": "unplugged"})

    def test_cost_and_way_agree_on_it(self) -> None:
        goal = {"valve": "open", "power": "plugged"}
        with pytest.raises(UnsafeRoute, match="body_open_with_power"):
            shipped_routes().cost(SERVICE, goal)

    def test_a_start_that_is_unsafe_is_refused(self) -> None:
        with pytest.raises(UnsafeRoute, match=r"not safe .body_open_with_power"):
            shipped_routes().service(from_service(valve="open", pressure="relieved"))


class TestAsking:
    """The ways of asking give the same answers."""

    def test_a_need_that_is_no_ones_is_worked_out_when_asked(self) -> None:
        goal = {"brine": "off", "drain": "off"}
        expected = plain().prices(real_graph(), goal)
        for start in plain().real[::31]:
            assert round(shipped_routes().cost(start, goal) * 1_000_000) == expected[start]

    def test_the_spelling_of_a_need_does_not_matter(self) -> None:
        routes = shipped_routes()
        first = routes.way(SERVICE, ReadOnly({"water": ("service", "feeding"), "power": "plugged"}))
        again = routes.way(SERVICE, {"power": ("plugged",), "water": ("feeding", "service")})
        assert first == again

    def test_after_sets_only_what_is_left(self) -> None:
        found = shipped_routes().after(SERVICE, {"position": "brine", "inside": "brine"})
        assert found == from_service(position="brine", inside="brine")

    def test_parked(self) -> None:
        opened = shipped_routes().way(SERVICE, {"valve": "open"}).end
        assert shipped_routes().parked(opened).moves == ("close_body",)
        assert shipped_routes().parked(SERVICE).moves == ("bypass_unit",)

    def test_service_state(self) -> None:
        assert shipped_routes().service_state == SERVICE


class TestShippedActs:
    """Every check, every repair and the proof of the shipped model, from every real state."""

    def test_safe_cheapest_and_nothing_unsafe_left_behind(self) -> None:
        model = read_model(FILE.parent)
        routes, setups = tabulate(model), model.setups
        # Many acts need and leave the same.
        acts = {repr((act.needs, act.leaves)): act for act in acts_of(model)}
        graph = plain().graph(plain().real, model.about.money)
        for act in acts.values():
            prices = plain().prices(graph, act.needs)
            for start in plain().real:
                route = routes.way(start, act.needs)
                assert round(route.money * 1_000_000) == prices[start]
                end = [start, *oracle.execute(setups, start, route.moves)][-1]
                assert oracle.fits(setups, end, act.needs)
                left = routes.after(end, act.leaves)
                assert not oracle.unsafe(setups, left)
                assert left in plain().real
                assert routes.service(left).end == SERVICE


class TestRows:
    """All ways from one state at once, as they are one by one."""

    def test_the_same_as_way_by_way(self) -> None:
        model = read_model(model_folder())
        routes = tabulate(model)
        starts = [routes.service_state, routes.start({})]
        starts += [routes.way(starts[0], repair.needs).end for repair in model.repairs.values()]
        acts = [*model.checks.values(), *model.repairs.values(), model.about.proof]
        goals = np.array([routes.goal(act.needs) for act in acts])
        for start in dict.fromkeys(starts):
            row = routes.row(start)
            costs, ends = routes.costs(goals, row), routes.ends(goals, row)
            for act, cost, end in zip(acts, costs, ends, strict=True):
                try:
                    way = routes.way(start, act.needs)
                except UnsafeRoute:
                    assert end < 0
                    assert np.isinf(cost)
                    continue
                assert cost == pytest.approx(way.money, abs=1e-9)
                assert end == routes.row(way.end)
                [after] = routes.rows_after(end[None], np.array([routes.changes(act.leaves)]).T)
                assert after == routes.row(routes.after(way.end, act.leaves))

    def test_what_is_not_safe_is_refused(self) -> None:
        routes = tabulate(read_model(model_folder()))
        in_service = np.array([routes.row(routes.service_state)])
        open_valve = np.array([routes.changes({"valve": "open"})]).T
        with pytest.raises(UnsafeRoute):
            routes.rows_after(in_service, open_valve)


class TestTabulate:
    """Once per model: shared in the process, kept in the cache, and anew for other rates."""

    SMALL = Path(__file__).resolve().parents[1] / "models" / "small"
    OPEN: ClassVar[Condition] = {"cover": "off"}

    def test_shared_and_kept(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setenv("BRINEBAYES_CACHE", str(tmp_path))
        first = read_model(self.SMALL)
        routes = tabulate(first)
        assert tabulate(first) is routes
        assert len(list(tmp_path.iterdir())) == 1
        again = tabulate(read_model(self.SMALL))
        assert again is not routes
        start = routes.service_state
        assert again.way(start, self.OPEN) == routes.way(start, self.OPEN)
        # Bypass 1, relieve 2 and 1 of waiting, cover 3, at 1.2 and 0.4 a minute.
        assert again.cost(start, self.OPEN) == pytest.approx(6 * 1.2 + 1 * 0.4)

    def test_a_shop_with_other_rates(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setenv("BRINEBAYES_CACHE", str(tmp_path))
        model = read_model(self.SMALL)
        money = replace(model.about.money, attention_per_minute=number(2.0))
        dear = replace(model, about=replace(model.about, money=money))
        start = tabulate(model).service_state
        assert tabulate(dear).cost(start, self.OPEN) == pytest.approx(6 * 2.0 + 1 * 0.4)
        assert tabulate(model).cost(start, self.OPEN) == pytest.approx(6 * 1.2 + 1 * 0.4)


# --- small invented setups ---------------------------------------------------------------------

LETTERS = ("a", "b", "c")


@st.composite
def small_setups(draw: st.DrawFn) -> Setups:
    """Two or three variables of two or three values, any moves, any invariants but on service."""
    names = LETTERS[: draw(st.integers(2, 3))]
    variables = {}
    for name in names:
        values = [f"{name}{i}" for i in range(draw(st.integers(2, 3)))]
        worst, service = draw(st.sampled_from(values)), draw(st.sampled_from(values))
        variables[name] = SetupVariable(name, {v: v for v in values}, worst, service)

    def some_of(name: str) -> st.SearchStrategy[tuple[str, ...]]:
        choices = sorted(variables[name].values)
        return st.lists(st.sampled_from(choices), min_size=1, unique=True).map(tuple)

    def condition(least: int) -> st.SearchStrategy[dict[str, tuple[str, ...]]]:
        chosen = st.sets(st.sampled_from(names), min_size=least, max_size=2)
        return chosen.flatmap(
            lambda picked: st.fixed_dictionaries({n: some_of(n) for n in sorted(picked)})
        )

    moves = {}
    for place in range(draw(st.integers(1, 5))):
        left = draw(st.sets(st.sampled_from(names), min_size=1, max_size=2))
        moves[f"m{place}"] = Move(
            name=f"move {place}",
            needs=draw(condition(0)),
            leaves={n: draw(st.sampled_from(sorted(variables[n].values))) for n in sorted(left)},
            minutes=number(draw(st.sampled_from([0.0, 0.1, 0.5, 1.0, 2.5]))),
            waiting_minutes=draw(st.sampled_from([None, number(0.0), number(1.5)])),
        )
    bare = Setups(variables, moves, {})
    handed_back = oracle.in_service(bare)
    never = draw(st.lists(condition(2), max_size=3))
    invariants = {
        f"i{place}": Invariant(found, "an invented reason")
        for place, found in enumerate(never)
        if not oracle.fits(bare, handed_back, found)
    }
    return replace(bare, invariants=invariants)


class TestSmallSetups:
    """On setups small enough to try every sequence of moves."""

    @settings(deadline=None, max_examples=150)
    @given(setups=small_setups(), data=st.data())
    def test_as_cheap_as_trying_everything(self, setups: Setups, data: st.DataObject) -> None:
        name = data.draw(st.sampled_from(sorted(setups.variables)))
        goal = {name: data.draw(st.sampled_from(sorted(setups.variables[name].values)))}
        unknown, routes = oracle.Unknown(setups), routes_of(setups, [goal])
        for start in unknown.met():
            best = oracle.exhaustive(unknown, start, goal, MONEY)
            if best == inf:
                with pytest.raises(UnsafeRoute):
                    routes.way(start, goal)
                continue
            route = routes.way(start, goal)
            assert route.money == pytest.approx(float(best), abs=1e-6)
            assert routes.cost(start, goal) == pytest.approx(route.money)
            for really in unknown.members(start):
                end = [really, *oracle.execute(setups, really, route.moves)][-1]
                assert oracle.fits(setups, end, goal)

    @settings(deadline=None, max_examples=60)
    @given(setups=small_setups())
    def test_no_fewer_moves_at_the_same_price_and_the_first_ids(self, setups: Setups) -> None:
        """Renaming a twin of every move to a later id changes nothing."""
        goal = dict(zip(setups.variables, oracle.in_service(setups), strict=True))
        twins = {f"z{name}": move for name, move in setups.moves.items()}
        both = replace(setups, moves={**twins, **setups.moves})
        one, two = routes_of(setups, [goal]), routes_of(both, [goal])
        for start in oracle.Unknown(setups).met():
            try:
                assert one.way(start, goal) == two.way(start, goal)
            except UnsafeRoute:
                with pytest.raises(UnsafeRoute):
                    two.way(start, goal)
