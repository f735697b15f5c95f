"""Acts that no safe route leads to or that leave the unit unsafe, and cautions that are missing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from brinebayes.checking.remark import Remark, error, warning
from brinebayes.knowledge.names import listed
from brinebayes.knowledge.schema import Condition, Model, Setups
from brinebayes.knowledge.well_formed.spots import ABOUT, CHECKS, REPAIRS, SETUPS, Spot
from brinebayes.record import record
from brinebayes.setups import states
from brinebayes.setups.blocked import why_no_route
from brinebayes.setups.graph import HERE, NONE, Graph, build, solve
from brinebayes.setups.invariants import broken, keeps_all
from brinebayes.setups.routes import acts_of, goal_of
from brinebayes.setups.states import Mask, State, allowed
from brinebayes.setups.unknown import real_states


@record
class Wanted:
    """Something that needs a setup: a check, a repair, the proof, or the way the unit is left."""

    spot: Spot
    name: str
    needs: Condition
    leaves: Mapping[str, str]
    cautions: tuple[str, ...]
    #: Somebody's hands are at the unit; false for the setups in which it is only left standing.
    works: bool = True

    @property
    def needs_spot(self) -> Spot:
        """Where its needs stand in the files."""
        return self.spot / "needs" if self.works else self.spot


@record
class Ways:
    """The graph of setups and, per thing wanted, the next move from every row."""

    graph: Graph
    wanted: tuple[Wanted, ...]
    next_move: tuple[NDArray[np.uint8], ...]


def wanted(model: Model) -> tuple[Wanted, ...]:
    """Everything that a route must lead to, in file order."""
    found = [
        Wanted(CHECKS / name, name, act.needs, act.leaves, act.cautions)
        for name, act in model.checks.items()
    ]
    found += [
        Wanted(REPAIRS / name, name, act.needs, act.leaves, act.cautions)
        for name, act in model.repairs.items()
    ]
    proof, setups = model.about.proof, model.setups
    found.append(Wanted(ABOUT / "proof", "proof", proof.needs, proof.leaves, proof.cautions))
    service = states.named(setups, states.service(setups))
    found.append(Wanted(SETUPS / "variables", "service", service, {}, (), False))
    found.append(Wanted(SETUPS / "parked", "parked", setups.parked, {}, (), False))
    return tuple(found)


def ways(model: Model) -> Ways:
    """Work out every route once."""
    graph = build(model.setups, model.about.money, acts_of(model))
    items = wanted(model)
    solved = {goal: solve(graph, graph.rows_where(dict(goal)))[0] for goal in _goals(items)}
    return Ways(graph, items, tuple(solved[goal_of(item.needs)] for item in items))


def remarks(model: Model) -> Iterator[Remark]:
    """All of it. When service itself is unsafe nothing else is asked."""
    setups = model.setups
    for name in broken(setups, states.service(setups)):
        says = f"forbids service itself ({_named(setups, states.service(setups))})"
        yield error("service_unsafe", SETUPS / "invariants" / name, says)
    if broken(setups, states.service(setups)):
        return
    found = ways(model)
    yield from _no_route(model, found)
    yield from _unsafe_leaves(setups, found)
    yield from _unused(model, found)
    yield from _worst_values(setups, found)
    yield from _no_cautions(setups, found)


def _goals(items: tuple[Wanted, ...]) -> list[tuple[tuple[str, tuple[str, ...]], ...]]:
    return list(dict.fromkeys(goal_of(item.needs) for item in items))


def _named(setups: Setups, state: State) -> str:
    return ", ".join(f"{name} {value}" for name, value in states.named(setups, state).items())


# --- routes ------------------------------------------------------------------------------------


def _no_route(model: Model, found: Ways) -> Iterator[Remark]:
    graph, acts = found.graph, acts_of(model)
    for item, next_move in zip(found.wanted, found.next_move, strict=True):
        blocked = np.flatnonzero(next_move == NONE)
        if not len(blocked):
            continue
        # The first is a real state, and the nearest to service, where one of these is blocked.
        start = graph.space.state(int(graph.numbers[blocked[0]]))
        why = why_no_route(model.setups, model.about.money, acts, start, item.needs)
        says = (
            f"{item.name} cannot be reached safely from {len(blocked)} of {len(graph.numbers)}"
            f" setups, such as {_named(model.setups, start)}: {why}"
        )
        yield error("no_safe_route", item.needs_spot, says)


def _unsafe_leaves(setups: Setups, found: Ways) -> Iterator[Remark]:
    space, real = found.graph.space, found.graph.real
    safe = keeps_all(setups, space)
    for item in found.wanted:
        after = space.after(item.leaves)
        bad = np.flatnonzero(real.can_be & space.where(item.needs) & ~safe[after])
        if len(bad):
            end = space.state(int(after[bad[0]]))
            names = broken(setups, end)
            reasons = "; ".join(f"{name}: {setups.invariants[name].reason}" for name in names)
            says = (
                f"{item.name} begun in {_named(setups, space.state(int(bad[0])))} leaves"
                f" {_named(setups, end)}, which must never be ({reasons})"
            )
            yield error("unsafe_leaves", item.spot / "leaves", says)


def _unused(model: Model, found: Ways) -> Iterator[Remark]:
    """Invariants that forbid nothing that could be done, moves and values that never come up."""
    setups, graph = model.setups, found.graph
    for name in setups.invariants:
        rest = {other: inv for other, inv in setups.invariants.items() if other != name}
        without = real_states(replace(setups, invariants=rest), graph.space, acts_of(model))
        if np.array_equal(without.can_be, graph.real.can_be):
            says = "keeps nothing from happening: without it no move or act could bring this about"
            yield warning("idle_invariant", SETUPS / "invariants" / name, says)
    for place, name in enumerate(graph.moves):
        if not (graph.to[place] >= 0).any():
            says = "can never be made safely; loosen its needs or leave it out"
            yield warning("idle_move", SETUPS / "moves" / name, says)
    come_about = graph.real.can_be.reshape(graph.space.shape)
    for axis, (name, variable) in enumerate(setups.variables.items()):
        for place, value in enumerate(variable.values):
            if value != variable.worst and not np.take(come_about, place, axis=axis).any():
                says = f"{value} never comes about: no move and no act leads to it"
                yield warning("idle_value", SETUPS / "variables" / name / "values" / value, says)


# --- what is not known ---------------------------------------------------------------------------


def _worst_values(setups: Setups, found: Ways) -> Iterator[Remark]:
    """Routes from a worst-case assumption must also hold for what the state really is."""
    graph = found.graph
    safe = keeps_all(setups, graph.space)
    for place, name in enumerate(graph.moves):
        move = setups.moves[name]
        slips = graph.space.where(move.needs) & ~safe[graph.space.after(move.leaves)]
        rows = _taken(found, place) & ~graph.real.every_assumed(~slips)[graph.numbers]
        if rows.any():
            example = _example(setups, graph, rows)
            says = f"is not safe from {example} if that was only assumed; give what is not known"
            says += " a value of its own"
            yield error("unsafe_assumption", SETUPS / "moves" / name, says)
    for axis, (name, variable) in enumerate(setups.variables.items()):
        relying = [] if graph.real.stands_for_all[axis] else _relying(setups, found, axis)
        if relying:
            says = (
                f"{variable.worst} is assumed while {name} is not known, but {listed(relying)}"
                f" {'relies' if len(relying) == 1 else 'rely'} on what is assumed; give what is"
                " not known a value of its own"
            )
            yield warning("relies_on_worst", SETUPS / "variables" / name / "worst", says)


def _relying(setups: Setups, found: Ways, axis: int) -> list[str]:
    """Moves and acts whose need may fail when this one variable is not as assumed."""
    graph = found.graph
    names = []
    for item, next_move in zip(found.wanted, found.next_move, strict=True):
        holds = graph.real.every_assumed(graph.space.where(item.needs), axis)[graph.numbers]
        if ((next_move == HERE) & ~holds).any():
            names.append(item.name)
    for place, name in enumerate(graph.moves):
        can = graph.space.where(setups.moves[name].needs)
        if (_taken(found, place) & ~graph.real.every_assumed(can, axis)[graph.numbers]).any():
            names.append(name)
    return names


def _taken(found: Ways, place: int) -> Mask:
    """(rows,): where some route goes on with this move."""
    taken: Mask = np.any([next_move == place for next_move in found.next_move], axis=0)
    return taken


def _example(setups: Setups, graph: Graph, rows: NDArray[np.bool_]) -> str:
    return _named(setups, graph.space.state(int(graph.numbers[int(np.flatnonzero(rows)[0])])))


# --- cautions ------------------------------------------------------------------------------------


def hazard(setups: Setups, condition: Condition) -> str:
    """The first invariant that speaks of the state of a unit in which the condition holds, or "".

    It does when one of its combinations is half there: a value that the condition asks for and
    that is not one of service (an open body, a line that is off), while nothing that the condition
    asks for is as in service and keeps the rest of it away. Whoever works there is told so.
    """
    for name, invariant in setups.invariants.items():
        asked = {v: allowed(condition[v]) for v in invariant.never if v in condition}
        bad = {v: allowed(invariant.never[v]) for v in asked}
        service = {v: setups.variables[v].service for v in asked}
        half = any(set(asked[v]) <= set(bad[v]) - {service[v]} for v in asked)
        away = any(asked[v] == (service[v],) and service[v] not in bad[v] for v in asked)
        if half and not away:
            return name
    return ""


def _no_cautions(setups: Setups, found: Ways) -> Iterator[Remark]:
    for item in found.wanted:
        if item.works and not any(line.strip() for line in item.cautions):
            begun, ended = item.needs, {**item.needs, **item.leaves}
            for does, condition in (("is done", begun), ("ends", ended)):
                name = hazard(setups, condition)
                if name:
                    yield _no_caution(item.spot, does, condition, name)
                    break
    for name, move in setups.moves.items():
        speaks = hazard(setups, move.leaves)
        if speaks and not any(line.strip() for line in move.cautions):
            yield _no_caution(SETUPS / "moves" / name, "ends", move.leaves, speaks)


def _no_caution(spot: Spot, does: str, condition: Condition, invariant: str) -> Remark:
    shown = ", ".join(f"{name} {' or '.join(allowed(v))}" for name, v in condition.items())
    says = f"{does} with {shown}, of which {invariant} speaks, but has no caution of its own"
    return warning("no_caution", spot, says)
