"""Where everything in a model stands in a picture: causes to the left of what they bring about."""

from __future__ import annotations

from brinebayes.errors import UsageError
from brinebayes.knowledge.names import suggest
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.record import record

#: Turns in which the rows of a column are put in the order of what they hang together with.
SWEEPS = 12


@record
class Place:
    """One thing. `kind`: fault, site, mechanism, observation, complaint or result; `column` from
    the left, `row` from the top."""

    id: str
    kind: str
    column: int
    row: int


@record
class Picture:
    """`places` by column and row; `arrows`: (cause, what hangs on it)."""

    places: tuple[Place, ...]
    arrows: tuple[tuple[str, str], ...]


def picture(model: Model, around: str = "") -> Picture:
    """Faults and site conditions first, what they show last, mechanisms in between.

    `around`: only this, what it hangs on and what hangs on it. Raises UsageError for an id that is
    nothing of the network.
    """
    import networkx as nx

    parents = graph.parents_of(model)
    kinds = _kinds(model)
    arrows = [(cause, name) for name in kinds for cause in parents.get(name, ())]
    whole = nx.DiGraph()
    whole.add_nodes_from(kinds)
    whole.add_edges_from(arrows)
    if around and around not in whole:
        raise UsageError(f"the model has nothing named {around!r}{suggest(around, kinds)}")
    if around:
        near = {around, *nx.ancestors(whole, around), *nx.descendants(whole, around)}
        kinds = {name: kind for name, kind in kinds.items() if name in near}
        arrows = [(a, b) for a, b in arrows if a in near and b in near]
    column = _columns(kinds, whole)
    rows = _rows(kinds, column, arrows)
    places = [Place(name, kind, column[name], rows[name]) for name, kind in kinds.items()]
    places.sort(key=lambda place: (place.column, place.row))
    return Picture(tuple(places), tuple(arrows))


def _kinds(model: Model) -> dict[str, str]:
    parents = graph.parents_of(model)
    used = {cause for causes in parents.values() for cause in causes}
    kinds = dict.fromkeys(model.faults, "fault")
    kinds |= {name: "site" for name in model.site if name in used}
    kinds |= dict.fromkeys(graph.mechanism_order(model), "mechanism")
    kinds |= dict.fromkeys(model.complaints, "complaint")
    shown = [name for name in graph.observations(model) if name not in kinds]
    kinds |= dict.fromkeys(shown, "observation")
    return kinds | {graph.WORKS: "result", graph.PROOF: "result"}


def _columns(kinds: dict[str, str], whole: object) -> dict[str, int]:
    import networkx as nx

    depth: dict[str, int] = {}
    for number, names in enumerate(nx.topological_generations(whole)):
        depth.update(dict.fromkeys(names, number))
    steps = {depth[name] for name, kind in kinds.items() if kind == "mechanism"}
    place = {step: k for k, step in enumerate(sorted(steps), 1)}
    first, last = ("fault", "site"), len(place) + 1
    return {
        name: 0 if kind in first else place[depth[name]] if kind == "mechanism" else last
        for name, kind in kinds.items()
    }


def _rows(
    kinds: dict[str, str], column: dict[str, int], arrows: list[tuple[str, str]]
) -> dict[str, int]:
    """Each column in the order of the mean height of its neighbours, to and fro, so that few arrows
    cross. Source: the barycentre method of Sugiyama, Tagawa & Toda 1981 (from memory)."""
    near: dict[str, list[str]] = {name: [] for name in kinds}
    for cause, name in arrows:
        near[cause].append(name)
        near[name].append(cause)
    columns: list[list[str]] = [[] for _ in range(max(column.values(), default=0) + 1)]
    for name in kinds:
        columns[column[name]].append(name)
    height = {name: k / len(names) for names in columns for k, name in enumerate(names)}

    def middle(name: str) -> float:
        return sum(height[one] for one in near[name]) / len(near[name]) if near[name] else 0.5

    for sweep in range(SWEEPS):
        for names in columns if sweep % 2 else reversed(columns):
            names.sort(key=middle)
            height.update((name, k / len(names)) for k, name in enumerate(names))
    return {name: k for names in columns for k, name in enumerate(names)}
