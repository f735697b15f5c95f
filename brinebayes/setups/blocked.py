"""Why there is no safe route: sentences for `UnsafeRoute`, worked out only when they are needed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from brinebayes.knowledge.schema import Condition, Money, Setups
from brinebayes.setups.graph import NONE, build, rows_of, solve
from brinebayes.setups.invariants import broken
from brinebayes.setups.states import State, allowed, named
from brinebayes.setups.unknown import Step


def why_no_state(setups: Setups, state: State) -> str:
    """Why no route starts in this state: it is unsafe, or no moves lead to it."""
    names = broken(setups, state)
    if names:
        return f"the unit as described is not safe ({_reasons(setups, names)}); make it safe first"
    shown = ", ".join(f"{name} {value}" for name, value in named(setups, state).items())
    return f"no moves lead to the setup {shown}; look again and say what it is"


def why_no_route(
    setups: Setups, money: Money, acts: Iterable[Step], start: State, needs: Condition
) -> str:
    """What blocks the way: the invariants, any one of which it would have to break."""
    acts = tuple(acts)
    blocking = tuple(
        name for name in setups.invariants if _open_without(setups, money, acts, start, needs, name)
    )
    wanted = " and ".join(f"{n} {' or '.join(allowed(v))}" for n, v in needs.items())
    if blocking:
        return f"no safe route to {wanted}: {_reasons(setups, blocking)}"
    return f"no route to {wanted}: no moves lead there"


def _open_without(
    setups: Setups, money: Money, acts: Iterable[Step], start: State, needs: Condition, name: str
) -> bool:
    rest = {other: inv for other, inv in setups.invariants.items() if other != name}
    graph = build(replace(setups, invariants=rest), money, acts)
    row = int(rows_of(graph.space, graph.numbers)[graph.space.number(start)])
    if row < 0:
        return False
    next_move, _ = solve(graph, graph.rows_where(needs))
    return int(next_move[row]) != NONE


def _reasons(setups: Setups, names: Iterable[str]) -> str:
    return "; ".join(f"{name}: {setups.invariants[name].reason.rstrip('.')}" for name in names)
