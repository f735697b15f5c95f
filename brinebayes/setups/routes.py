"""The cheapest safe route from every state to every setup that an act needs.

Cheapest: least price (minutes times rates), then fewest moves, then the id that comes first in the
alphabet. Prices are whole numbers, so the answer is the same on every machine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import UnsafeRoute
from brinebayes.knowledge import cache
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.schema import Check, Condition, Model, Money, Proof, Repair, Setups
from brinebayes.record import record
from brinebayes.setups import states
from brinebayes.setups.blocked import why_no_route, why_no_state
from brinebayes.setups.graph import HERE, NONE, Graph, build, ends, rows_of, solve
from brinebayes.setups.moves import PER_UNIT, waiting_minutes
from brinebayes.setups.states import Space, State
from brinebayes.setups.unknown import Step

#: Models whose routes are held in memory, the oldest dropped first.
MOST_SHARED = 8

Rows = NDArray[np.intp]
#: A need in one spelling: variables and values in alphabetical order.
Goal = tuple[tuple[str, tuple[str, ...]], ...]


@record
class Route:
    """Moves in order, what they take and cost, what to mind, and the state they end in.

    `money` is in the model's currency; each caution stands once, where it first matters.
    """

    moves: tuple[str, ...]
    minutes: float
    waiting_minutes: float
    money: float
    cautions: tuple[str, ...]
    end: State


@record
class Table:
    """What is kept of a model's routes. Rows: the states that may be met, `real` ones first.

    Moves are in alphabetical order. `move_prices`: (moves,), in millionths of the currency, as are
    `prices`: (goals, rows), -1 without a route; `ends`: (goals, rows), the row in which it ends.
    `numbers`: (rows,). `next_move`: (goals, rows), see `graph.solve`. `worst`, `stands_for_all`:
    see `unknown.Real`.
    """

    goals: tuple[Goal, ...]
    move_prices: tuple[int, ...]
    numbers: NDArray[np.int32]
    real: int
    worst: tuple[int, ...]
    stands_for_all: tuple[bool, ...]
    next_move: NDArray[np.uint8]
    prices: NDArray[np.signedinteger[Any]]
    ends: NDArray[np.signedinteger[Any]]


class Routes:
    """Every cheapest safe route of one model. Made by `tabulate`; answers are remembered."""

    def __init__(
        self, setups: Setups, money: Money, acts: Callable[[], tuple[Step, ...]], table: Table
    ) -> None:
        self.setups = setups
        self.service_state = states.service(setups)
        self._money, self._acts, self._table = money, acts, table
        self._space = Space(setups)
        self._row_of = rows_of(self._space, table.numbers)
        self._moves = tuple(sorted(setups.moves))
        self._prices = table.move_prices
        self._goals = {goal: place for place, goal in enumerate(table.goals)}
        self._to_service: Condition = ReadOnly(states.named(setups, self.service_state))
        self._graph: Graph | None = None
        self._more: dict[Goal, NDArray[np.uint8]] = {}
        self._spellings: dict[int, tuple[Condition, Goal]] = {}
        self._costs: dict[tuple[State, Goal], float] = {}
        self._routes: dict[tuple[State, Goal], Route] = {}

    def start(self, known: Mapping[str, str]) -> State:
        """The state to start from when only `known` is known: the worst that this leaves possible.

        Where what is known leaves a variable one value only, it has that value; else its worst one.
        Raises `UnsafeRoute` if what is known breaks an invariant, `UsageError` for unknown names.
        """
        assumed = states.worst_case(self.setups, known)
        places = self._real_places
        stands = self._table.stands_for_all
        for axis, (name, values) in enumerate(
            zip(self._space.names, self._space.values, strict=True)
        ):
            place = values.index(assumed[axis])
            if name in known and not (stands[axis] and place == self._table.worst[axis]):
                places = places[:, places[axis] == place]
        if not places.shape[1]:
            raise UnsafeRoute(why_no_state(self.setups, assumed))
        found = [
            self._worst_of(axis, np.flatnonzero(np.bincount(row)).tolist())
            for axis, row in enumerate(places)
        ]
        self.row(tuple(found))
        return tuple(found)

    def _worst_of(self, axis: int, possible: list[int]) -> str:
        worst = self._table.worst[axis]
        if len(possible) > 1 and (self._table.stands_for_all[axis] or worst in possible):
            return self._space.values[axis][worst]
        # Where the worst is ruled out and it does not stand for all: values run from best to worst.
        return self._space.values[axis][possible[-1]]

    def way(self, start: State, needs: Condition) -> Route:
        """The cheapest safe route from `start` to a state in which `needs` holds.

        Raises `UnsafeRoute` with what stands in the way if there is none.
        """
        return self._way(start, self._spelled(needs))

    def cost(self, start: State, needs: Condition) -> float:
        """What the route of `way` costs, in the model's currency. Raises as `way` does."""
        key = (start, self._spelled(needs))
        found = self._costs.get(key)
        if found is None:
            found = self._costs[key] = self._price(*key) / PER_UNIT
        return found

    def goal(self, needs: Condition) -> int:
        """The place of one of the model's own needs among its goals; KeyError for another."""
        return self._goals[self._spelled(needs)]

    @property
    def to_service(self) -> Condition:
        """The need of handing the unit back."""
        return self._to_service

    # Many ways at once, for use in a search; states go by their row in the table.

    def row(self, state: State) -> int:
        """The row of a state. Raises `UnsafeRoute` if it is not safe."""
        row = int(self._row_of[self._space.number(state)])
        if row < 0:
            raise UnsafeRoute(why_no_state(self.setups, state))
        return row

    def costs(self, goals: Rows | int, rows: Rows | int) -> NDArray[np.float64]:
        """(n,): what the ways from rows to goals cost, infinite without a route."""
        prices = self._table.prices[goals, rows]
        return np.where(prices >= 0, prices / PER_UNIT, np.inf)

    def ends(self, goals: Rows, row: int) -> Rows:
        """(n,): the rows in which the ways to goals end, -1 without a route."""
        ends: Rows = self._table.ends[goals, row].astype(np.intp)
        return ends

    def changes(self, leaves: Mapping[str, str]) -> tuple[int, ...]:
        """Per variable the place of the value that an act leaves, -1 where it stays."""
        pairs = zip(self._space.names, self._space.values, strict=True)
        return tuple(values.index(leaves[name]) if name in leaves else -1 for name, values in pairs)

    def rows_after(self, rows: Rows, changes: Rows) -> Rows:
        """(n,): the rows after acts, each with its changes, (variables, n).

        Raises `UnsafeRoute` where one is not safe.
        """
        places = np.array(np.unravel_index(self._table.numbers[rows], self._space.shape))
        numbers = np.ravel_multi_index(
            tuple(np.where(changes >= 0, changes, places)), self._space.shape
        )
        after: Rows = self._row_of[numbers].astype(np.intp)
        if (after < 0).any():
            state = self._space.state(int(numbers[after.argmin()]))
            raise UnsafeRoute(why_no_state(self.setups, state))
        return after

    def service(self, start: State) -> Route:
        """The cheapest safe route to the state in which the unit is handed back."""
        return self.way(start, self._to_service)

    def parked(self, start: State) -> Route:
        """The cheapest safe route to a state in which the unit may wait for a licensed trade."""
        return self.way(start, self.setups.parked)

    def after(self, state: State, leaves: Mapping[str, str]) -> State:
        """The state after an act that leaves some variables changed."""
        return states.with_values(self.setups, state, leaves)

    @cached_property
    def _real_places(self) -> NDArray[np.intp]:
        """(variables, real states): the place of each one's value."""
        real = self._table.numbers[: self._table.real]
        return np.array(np.unravel_index(real, self._space.shape))

    def _spelled(self, needs: Condition) -> Goal:
        # A search asks for the same few needs over and over, and those of a model do not change.
        kept = self._spellings.get(id(needs))
        if kept is not None and kept[0] is needs:
            return kept[1]
        goal = goal_of(needs)
        if isinstance(needs, ReadOnly):
            self._spellings[id(needs)] = (needs, goal)
        return goal

    def _way(self, start: State, goal: Goal) -> Route:
        key = (start, goal)
        if key not in self._routes:
            places, end = self._walk(start, goal)
            moves = [self.setups.moves[self._moves[place]] for place in places]
            self._routes[key] = Route(
                moves=tuple(self._moves[place] for place in places),
                minutes=sum(move.minutes.value for move in moves),
                waiting_minutes=sum(waiting_minutes(move) for move in moves),
                money=sum(self._prices[place] for place in places) / PER_UNIT,
                cautions=tuple(dict.fromkeys(line for move in moves for line in move.cautions)),
                end=end,
            )
        return self._routes[key]

    def _price(self, start: State, goal: Goal) -> int:
        row, place = self.row(start), self._goals.get(goal)
        if place is not None:
            found = int(self._table.prices[place, row])
            if found >= 0:
                return found
        return sum(self._prices[move] for move in self._walk(start, goal)[0])

    def _walk(self, start: State, goal: Goal) -> tuple[list[int], State]:
        next_move, row = self._next(goal), self.row(start)
        places: list[int] = []
        while (place := int(next_move[row])) != HERE:
            if place == NONE:
                raise UnsafeRoute(
                    why_no_route(self.setups, self._money, self._acts(), start, dict(goal))
                )
            places.append(place)
            start = self.after(start, self.setups.moves[self._moves[place]].leaves)
            row = self.row(start)
        return places, start

    def _next(self, goal: Goal) -> NDArray[np.uint8]:
        place = self._goals.get(goal)
        if place is not None:
            kept: NDArray[np.uint8] = self._table.next_move[place]
            return kept
        if goal not in self._more:
            # Not one of the model's own needs: worked out now, in the time that one goal takes.
            self._graph = self._graph or build(self.setups, self._money, self._acts())
            self._more[goal], _ = solve(self._graph, self._graph.rows_where(dict(goal)))
        return self._more[goal]


def tabulate(model: Model) -> Routes:
    """The routes of a model: made once, kept in the cache, and shared within the process."""
    kept = _shared.get(id(model))
    if kept is not None:
        return kept[1]
    money = model.about.money
    # The files, and the rates, which a shop may set without touching them.
    rates = (money.attention_per_minute.value, money.waiting_per_minute.value)
    table = cache.remember(
        "routes",
        repr((model.hash, rates)),
        lambda: table_of(model.setups, money, acts_of(model), goals_of(model)),
    )
    routes = Routes(model.setups, money, lambda: acts_of(model), table)
    while len(_shared) >= MOST_SHARED:
        del _shared[next(iter(_shared))]
    _shared[id(model)] = (model, routes)
    return routes


#: By the identity of the model, which is held here so that no other can take its place.
_shared: dict[int, tuple[Model, Routes]] = {}


def acts_of(model: Model) -> tuple[Step, ...]:
    """What every check and repair and the proof need and leave."""
    acts: list[Check | Repair | Proof] = [*model.checks.values(), *model.repairs.values()]
    return tuple(Step(act.needs, act.leaves) for act in [*acts, model.about.proof])


def goals_of(model: Model) -> tuple[Goal, ...]:
    """Every distinct need of the model, that of handing back and of waiting included, in order."""
    setups = model.setups
    needs: list[Condition] = [step.needs for step in acts_of(model)]
    needs += [{name: v.service for name, v in setups.variables.items()}, setups.parked]
    return tuple(sorted({goal_of(need) for need in needs}))


def goal_of(needs: Condition) -> Goal:
    """A condition in one spelling."""
    return tuple(sorted((name, tuple(sorted(states.allowed(v)))) for name, v in needs.items()))


def table_of(setups: Setups, money: Money, acts: Iterable[Step], goals: tuple[Goal, ...]) -> Table:
    """The routes to every goal, from every state that may be met."""
    graph = build(setups, money, acts)
    solved = [solve(graph, graph.rows_where(dict(goal))) for goal in goals]
    return Table(
        goals=goals,
        move_prices=tuple(graph.prices.tolist()),
        numbers=graph.numbers,
        real=graph.real_rows,
        worst=graph.real.worst,
        stands_for_all=graph.real.stands_for_all,
        next_move=np.array([next_move for next_move, _ in solved]),
        prices=_narrow(np.array([prices for _, prices in solved])),
        ends=_narrow(np.array([ends(graph, next_move) for next_move, _ in solved])),
    )


def _narrow(values: NDArray[np.signedinteger[Any]]) -> NDArray[np.signedinteger[Any]]:
    """The same whole numbers in as few bytes as they need: what is kept is read at every start."""
    return values.astype(np.min_scalar_type(-1 - int(values.max(initial=0))))
