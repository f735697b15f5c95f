"""The rows that a decision rests on: every joint state where there are few, draws where not.

Where all are there, what was seen and done since the call is gone through on them once more: the
rows then have their exact weights. Only so many of the heaviest are kept.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice.compared import compared
from brinebayes.advice.futures import Futures, Mending
from brinebayes.advice.situation import Situation
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.every import every_world
from brinebayes.network.evidence import checked, latest_findings
from brinebayes.network.worlds import Worlds
from brinebayes.record import record

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


#: Faults of one row that are followed each by itself, among rows that were drawn.
TOGETHER = 3
#: Rows that are carried through repairs, where all joint states are there.
MOST_ROWS = 4_000
#: Rows that make up less than this of all that is possible are left out.
NEGLIGIBLE = 1e-7


@record(eq=False)
class Table:
    """`start`: (n,) the futures that may be real now; `weights`: (n,), sum 1.

    `effective_rows`: how many independent draws of equal weight would be as exact; infinite where
    nothing was drawn. `left_out`: the share of what is possible that has no row.
    """

    futures: Futures
    start: Indices
    weights: Floats
    effective_rows: float
    left_out: float


def table(now: Situation, repairs: Sequence[str], rows: int) -> Table:
    """Rows of the present unit. `repairs`: those that may come to be made, by id."""
    worlds = _every(now.model, now.question.site)
    if worlds is None:
        drawn = now.worlds(rows)
        mendings = [_mending(now, name, drawn.first_faults) for name in repairs]
        futures = Futures(now.model, drawn, mendings, len(mendings), TOGETHER)
        weights = drawn.weights
        effective = 1.0 / float(weights @ weights)
        return Table(futures, np.arange(futures.rows), weights, effective, 0.0)
    findings = latest_findings(
        checked(now.model, now.question), graph.versions(now.model, now.question.done)
    )
    weights = worlds.weights
    for one in findings:
        if not one.copy:
            weights = weights * (worlds.observation_likelihoods(one.observation) @ one.likelihood)
    possible, left_out = _heaviest(weights, MOST_ROWS if now.question.done else rows)
    worlds = worlds.only(possible, weights[possible], np.inf)
    gone = [name for name in dict.fromkeys(now.question.done) if name not in repairs]
    names = (*repairs, *gone)
    mendings = [_mending(now, name, worlds.faults) for name in names]
    futures = Futures(now.model, worlds, mendings, len(repairs))
    start, weights = np.arange(futures.rows), worlds.weights
    for epoch, name in enumerate(now.question.done, 1):
        again = name in now.question.done[: epoch - 1]
        passage = futures.repaired(names.index(name), start, again)
        start, weights = passage.futures, passage.carry(weights)
        for one in findings:
            if one.copy == epoch:
                weights = weights * (one.likelihood @ futures.likelihoods(one.observation, start))
    kept, more = _heaviest(weights, rows)
    total = float(weights[kept].sum())
    return Table(futures, start[kept], weights[kept] / total, np.inf, left_out + more)


def _heaviest(weights: Floats, rows: int) -> tuple[Indices, float]:
    """Places of the heaviest rows, in order, and the share of all the others."""
    order = (-compared(weights)).argsort(kind="stable")
    ends = weights[order].cumsum()
    enough = int(np.searchsorted(ends, ends[-1] * (1.0 - NEGLIGIBLE))) + 1
    kept = np.sort(order[: min(rows, enough)])
    return kept, 1.0 - float(weights[kept].sum() / ends[-1])


def _mending(now: Situation, name: str, first_faults: NDArray[np.bool_]) -> Mending:
    """A repair by places of faults. Where it failed before and luck is shared it fails again."""
    place = {fault: j for j, fault in enumerate(now.model.faults)}
    repair = now.model.repairs[name]
    stuck = None
    if repair.same_luck and name in now.question.done:
        stuck = np.asarray(first_faults[:, [place[f] for f in repair.clears]].any(axis=1))
    return Mending(
        clears=tuple((place[fault], chance.value) for fault, chance in repair.clears.items()),
        harms=tuple((place[fault], chance.value) for fault, chance in repair.harms.items()),
        stuck=stuck,
    )


#: By model hash and site: every joint state, or that there are too many.
_worlds: dict[tuple[object, ...], Worlds | None] = {}
MOST_KEPT = 8


def _every(model: Model, site: Mapping[str, str]) -> Worlds | None:
    key = (model.hash, tuple(sorted(site.items())))
    if key not in _worlds:
        while len(_worlds) >= MOST_KEPT:
            del _worlds[next(iter(_worlds))]
        _worlds[key] = every_world(model, site)
    return _worlds[key]
