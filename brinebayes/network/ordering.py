"""In which order the chains take their causes, so that the tables of the compiled tree stay small.

Two chains that share causes should meet them in the same order, and causes that nothing else ties
together should not be mixed. A good order is read off an easier graph, in which a mechanism hangs
on all its causes without a chain: its elimination tree, walked branch by branch, gives one order
for all chains. Moving single causes within their chain then improves on it a little.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from random import Random

from brinebayes.knowledge import cache
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.order import (
    eliminated,
    greedy,
    min_fill,
    min_weight,
    moral_graph,
    next_cluster,
    total_size,
    weighted_fill,
)
from brinebayes.record import record

#: Mechanism -> its causes in the order of its chain, those with the same parents together.
Orders = Mapping[str, tuple[tuple[int, ...], ...]]

#: Moves that are tried, from a fixed seed; none when the tables are small anyway.
MOVES = 150
SMALL_ENOUGH = 4_000

_kept: dict[str, Orders] = {}


def chain_orders(model: Model) -> Orders:
    """The order of every chain of `model`, the same on every run; kept by the model's hash."""
    if model.hash not in _kept:
        _kept[model.hash] = cache.remember("orders", model.hash, lambda: _search(model))
    return _kept[model.hash]


def settled_first(model: Model, done: Iterable[str]) -> Orders:
    """The same orders, but causes that none of the repairs touches come first: up to there a chain
    has no more states than before any repair."""
    newest = graph.versions(model, tuple(done))

    def touched(name: str, group: tuple[int, ...]) -> bool:
        parents = model.mechanisms[name].causes[group[0]].when
        return any(newest[p][-1] > 0 for p in parents)

    return {
        name: tuple(sorted(groups, key=lambda group, at=name: touched(at, group)))  # type: ignore[misc]
        for name, groups in chain_orders(model).items()
    }


def in_file_order(model: Model) -> dict[str, list[tuple[int, ...]]]:
    """The causes of each mechanism that has any, grouped by their parents, as in the file."""
    found = {}
    for name, mechanism in model.mechanisms.items():
        groups: dict[frozenset[str], list[int]] = {}
        for j, cause in enumerate(mechanism.causes):
            groups.setdefault(frozenset(cause.when), []).append(j)
        if groups:
            found[name] = [tuple(group) for group in groups.values()]
    return found


def _search(model: Model) -> Orders:
    start = in_file_order(model)
    best, orders = _entries(model, start), start
    if best > SMALL_ENOUGH:
        for rank in _ranks(model):
            ranked = {
                name: sorted(groups, key=lambda g, n=name: _last(model, n, g, rank))  # type: ignore[misc]
                for name, groups in start.items()
            }
            entries = _entries(model, ranked)
            if entries < best:
                best, orders = entries, ranked
        best, orders = _moved(model, best, orders)
    return {name: tuple(groups) for name, groups in orders.items()}


def _moved(
    model: Model, best: int, orders: dict[str, list[tuple[int, ...]]]
) -> tuple[int, dict[str, list[tuple[int, ...]]]]:
    chance = Random(0)
    movable = [name for name, groups in orders.items() if len(groups) > 1]
    for _ in range(MOVES if movable else 0):
        name = chance.choice(movable)
        groups = list(orders[name])
        moving = groups.pop(chance.randrange(len(groups)))
        groups.insert(chance.randrange(len(groups) + 1), moving)
        changed = {**orders, name: groups}
        entries = _entries(model, changed)
        if entries <= best:  # sideways too: many moves pay only together
            best, orders = entries, changed
    return best, orders


def _last(model: Model, name: str, group: Sequence[int], rank: Mapping[str, int]) -> int:
    """When the last parent of some causes has its turn. A site condition has none: it is known on
    nearly every visit and costs nothing then."""
    parents = model.mechanisms[name].causes[group[0]].when
    return max((rank[p] for p in parents if p not in model.site), default=-1)


# --- graphs ------------------------------------------------------------------------------------


@record
class _Graph:
    names: tuple[str, ...]
    near: list[int]
    states: list[int]


def _graph(model: Model, families: Iterable[Iterable[str]]) -> _Graph:
    joined = [tuple(family) for family in families]
    names = tuple(sorted({name for family in joined for name in family}))
    number = {name: i for i, name in enumerate(names)}
    near = moral_graph([[number[name] for name in family] for family in joined], len(names))
    states = [len(graph.states_of(model, name.partition("__")[0])) for name in names]
    return _Graph(names, near, states)


def _fixed_families(model: Model) -> list[tuple[str, ...]]:
    """What belongs together whatever the order of the chains."""
    parents = graph.parents_of(model)
    families = [(name, *parents[name]) for name, m in model.mechanisms.items() if m.cases]
    families += [(fault,) for fault in model.faults]
    families += [parents[name] for name in (*graph.observations(model), *model.complaints)]
    return families


def _entries(model: Model, orders: Mapping[str, Sequence[Sequence[int]]]) -> int:
    """Table entries that chains in these orders lead to."""
    families = _fixed_families(model)
    for name, groups in orders.items():
        previous: tuple[str, ...] = ()
        for k, group in enumerate(groups):
            variable = name if k == len(groups) - 1 else f"{name}__c{k}"
            families.append((variable, *model.mechanisms[name].causes[group[0]].when, *previous))
            previous = (variable,)
    found = _graph(model, families)
    order = greedy(found.near, found.states, (weighted_fill,), None)
    return total_size(found.near, found.states, order)


def _ranks(model: Model) -> Iterable[dict[str, int]]:
    """Orders of all faults and mechanisms, read off the graph without chains."""
    families = _fixed_families(model)
    for name, mechanism in model.mechanisms.items():
        worst = f"{name}__worst"
        families += [(worst, *cause.when) for cause in mechanism.causes]
        families.append((name, worst) if mechanism.causes else (name,))
    found = _graph(model, families)
    for price in (min_weight, min_fill, weighted_fill):
        order = greedy(found.near, found.states, (price,), None)
        after = next_cluster(eliminated(found.near, order), order)
        for smallest_first in (True, False):
            walked = _walk(after, smallest_first)
            yield {found.names[order[step]]: i for i, step in enumerate(walked)}


def _walk(after: Sequence[int], smallest_first: bool) -> list[int]:
    """Steps of an elimination, one branch of its tree after the other, children first.

    `after`: for each step the later one that it leads to (-1: none).
    """
    size = [1] * len(after)
    children: dict[int, list[int]] = {}
    for step, parent in enumerate(after):
        children.setdefault(parent, []).append(step)
        if parent >= 0:
            size[parent] += size[step]
    walked: list[int] = []
    waiting = [-1]
    while waiting:
        step = waiting.pop()
        walked.append(step)
        waiting.extend(
            sorted(children.get(step, ()), key=lambda s: size[s], reverse=not smallest_first)
        )
    # Parents came before their children here, and the branch pushed last was walked first.
    return walked[:0:-1]
