"""Routes found the plain way, from the wording of setups.yaml alone, to hold the others against.

States are tuples of values; sets of real states are the bits of whole numbers; shortest paths are
networkx's or an exhaustive search. Nothing of `brinebayes.setups` is used here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from fractions import Fraction
from itertools import product
from math import inf

import networkx as nx

from brinebayes.knowledge.schema import Condition, Money, Move, Setups

State = tuple[str, ...]


def fits(setups: Setups, state: State, condition: Condition) -> bool:
    now = dict(zip(setups.variables, state, strict=True))
    for name, values in condition.items():
        if now[name] not in ((values,) if isinstance(values, str) else values):
            return False
    return True


def unsafe(setups: Setups, state: State) -> list[str]:
    return [n for n, inv in setups.invariants.items() if fits(setups, state, inv.never)]


def changed(setups: Setups, state: State, leaves: Mapping[str, str]) -> State:
    now = dict(zip(setups.variables, state, strict=True)) | dict(leaves)
    return tuple(now[name] for name in setups.variables)


def price(move: Move, money: Money) -> Fraction:
    """In the currency, exactly as the decimal digits say."""
    waiting = 0.0 if move.waiting_minutes is None else move.waiting_minutes.value
    return Fraction(str(move.minutes.value)) * Fraction(
        str(money.attention_per_minute.value)
    ) + Fraction(str(waiting)) * Fraction(str(money.waiting_per_minute.value))


def in_service(setups: Setups) -> State:
    return tuple(variable.service for variable in setups.variables.values())


def real_states(setups: Setups) -> list[State]:
    """Every state that safe moves lead to from service, in the order in which they are found."""
    found = [in_service(setups)]
    met = set(found)
    for state in found:
        for move in setups.moves.values():
            after = changed(setups, state, move.leaves)
            if fits(setups, state, move.needs) and not unsafe(setups, after) and after not in met:
                met.add(after)
                found.append(after)
    return found


def execute(setups: Setups, state: State, moves: Iterable[str]) -> Iterator[State]:
    """Carry out moves on a real state; fails where a move cannot be made or is not safe."""
    assert not unsafe(setups, state), state
    for name in moves:
        move = setups.moves[name]
        assert fits(setups, state, move.needs), f"{name} cannot be made in {state}"
        state = changed(setups, state, move.leaves)
        assert not unsafe(setups, state), f"{name} leads to {state}: {unsafe(setups, state)}"
        yield state


class Unknown:
    """Which real states a state of knowledge may be, as bits, and what is safe in all of them."""

    def __init__(self, setups: Setups) -> None:
        self.setups = setups
        self.real = real_states(setups)
        everything = (1 << len(self.real)) - 1
        self.bits: list[dict[str, int]] = []
        for axis, variable in enumerate(setups.variables.values()):
            by_value = dict.fromkeys(variable.values, 0)
            for place, state in enumerate(self.real):
                by_value[state[axis]] |= 1 << place
            if not by_value[variable.worst]:
                by_value[variable.worst] = everything
            self.bits.append(by_value)
        self.may_move = {name: self._safe(move) for name, move in setups.moves.items()}

    def _safe(self, move: Move) -> int:
        def fine(state: State) -> bool:
            after = changed(self.setups, state, move.leaves)
            return fits(self.setups, state, move.needs) and not unsafe(self.setups, after)

        return self.where(fine)

    def where(self, test: Callable[[State], bool]) -> int:
        return sum((1 << place for place, s in enumerate(self.real) if test(s)), 0)

    def may_be(self, state: State) -> int:
        bits = (1 << len(self.real)) - 1
        for axis, value in enumerate(state):
            bits &= self.bits[axis][value]
        return bits

    def members(self, state: State) -> list[State]:
        bits = self.may_be(state)
        return [s for place, s in enumerate(self.real) if bits >> place & 1]

    def met(self) -> list[State]:
        """Every state of knowledge that at least one real state can be behind."""
        values = (tuple(variable.values) for variable in self.setups.variables.values())
        return [state for state in product(*values) if self.may_be(state)]

    def graph(self, states: Iterable[State], money: Money) -> nx.DiGraph:
        """Safe moves between states, pointing backwards; `price` in millionths of the currency."""
        graph = nx.DiGraph()
        prices = {n: round(price(m, money) * 1_000_000) for n, m in self.setups.moves.items()}
        for state in states:
            graph.add_node(state)
            for name, move in self.setups.moves.items():
                if not self.may_be(state) & ~self.may_move[name]:
                    after = changed(self.setups, state, move.leaves)
                    edge = graph.get_edge_data(after, state)
                    if after != state and (edge is None or prices[name] < edge["price"]):
                        graph.add_edge(after, state, price=prices[name])
        return graph

    def goal(self, needs: Condition) -> int:
        return self.where(lambda s: fits(self.setups, s, needs))

    def prices(self, graph: nx.DiGraph, needs: Condition) -> dict[State, int]:
        """State -> price of the cheapest safe route to the needs, by networkx; absent: none."""
        accepted = self.goal(needs)
        goals = {state for state in graph if not self.may_be(state) & ~accepted}
        if not goals:
            return {}
        found: dict[State, int] = nx.multi_source_dijkstra_path_length(graph, goals, weight="price")
        return found


def exhaustive(unknown: Unknown, start: State, needs: Condition, money: Money) -> float | Fraction:
    """The least price over every loopless sequence of safe moves; infinity if there is none."""
    setups, accepted = unknown.setups, unknown.goal(needs)
    best: float | Fraction = inf

    def follow(state: State, paid: Fraction, been: frozenset[State]) -> None:
        nonlocal best
        if paid >= best:
            return
        if not unknown.may_be(state) & ~accepted:
            best = paid
            return
        for name, move in setups.moves.items():
            after = changed(setups, state, move.leaves)
            if after not in been and not unknown.may_be(state) & ~unknown.may_move[name]:
                follow(after, paid + price(move, money), been | {after})

    follow(start, Fraction(0), frozenset({start}))
    return best
