"""How the faults stand in each set of evidence that a case is a sum of.

A proof speaks of the unit after a repair, the tree of the unit as it was found. Where nothing was
cleared they are one, and the tree itself is asked to work (`counts`). Where a fault was there and
was cleared, what ties the two together is the luck of the links: a fault that is left and did no
harm before does none now. So a fault that no repair cleared is then taken to be there without
effect, and the tree holds it absent; a fault of which the unit hardly depends keeps its effects and
counts as little against its working as it alone would. What shows the fault itself shows it in
either case.

Where that cannot be (it makes some evidence less likely with more repairs, now and then one case in
some hundreds), each fault that is left is reckoned as if it had its luck anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import prod

import numpy as np

from brinebayes.knowledge.schema import Model
from brinebayes.network.local import Floats
from brinebayes.tuning.chunk import Chunk, Column, Indices, clearable
from brinebayes.tuning.engine import Engine
from brinebayes.tuning.smaller import Case

#: A fault with which the unit works more often than not keeps its effects where it works.
MOSTLY_WORKS = 0.5


@dataclass(frozen=True, eq=False)
class Standing:
    """Weights of each fault before anything else is seen, per column: (faults, columns).

    `absent`; `idle`: present and without effect; `acting`: present with its effects. In `acting`
    the chance that a repair has cleared it by the time of the proof is `cleared`.
    """

    absent: Floats
    idle: Floats
    acting: Floats
    cleared: Floats

    @property
    def likelihoods(self) -> Floats:
        """(faults, columns, 2): as the tree sees it, idle faults absent."""
        return np.stack([self.absent + self.idle, self.acting], axis=-1)

    def present(self, acting: Floats) -> Floats:
        """(faults, columns): P(present), from P(present with its effects)."""
        whole = self.absent + self.idle
        part = np.divide(self.idle, whole, out=np.zeros_like(whole), where=whole > 0.0)
        found: Floats = acting + (1.0 - acting) * part
        return found


def standing(engine: Engine, chunk: Chunk, columns: Sequence[Column], before: Floats) -> Standing:
    """How the faults stand in some columns; `before`: (faults, cases) before the call."""
    case: Indices = np.array([one.case for one in columns], dtype=np.intp)
    found = _found(engine, chunk)
    q = before[:, case]
    absent = (1.0 - q) * found[0][:, case]
    present = q * found[1][:, case]
    gone, acting, idle, cleared = _after(engine, columns)
    return Standing(absent * gone, present * idle, present * acting, cleared)


def settled(engine: Engine, column: Column) -> Case:
    """What is settled in a column. Where one fault was cleared and the others keep their luck, most
    are idle or absent."""
    if column.cleared_by is None or column.cleared is None:
        return Case(working=column.cleared_by is not None)
    if not column.same_luck:
        return Case()
    able = clearable(engine.model, column.cleared_by)
    works = zip(engine.model.faults, engine.plan.works, strict=True)
    return Case(tuple(fault for fault, chance in works if fault in able or chance > MOSTLY_WORKS))


def tries(model: Model, done: Iterable[str], fault: str) -> tuple[str, ...]:
    """Repairs that were independent tries on a fault, in their order."""
    found: list[str] = []
    for repair in done:
        about = model.repairs[repair]
        if fault in about.clears and not (about.same_luck and repair in found):
            found.append(repair)
    return tuple(found)


def stays(model: Model, done: Iterable[str], fault: str) -> float:
    """Chance that a fault that was there is there after some repairs."""
    left = (1.0 - model.repairs[one].clears[fault].value for one in tries(model, done, fault))
    return prod(left)


def _found(engine: Engine, chunk: Chunk) -> tuple[Floats, Floats]:
    """(faults, cases): likelihood of what was found about a fault itself, absent and present."""
    place = {fault: i for i, fault in enumerate(engine.model.faults)}
    absent, present = np.ones((2, len(place), len(chunk)))
    for name, (rows, likelihoods) in chunk.found.items():
        if name in place:
            absent[place[name], rows] *= likelihoods[:, 0]
            present[place[name], rows] *= likelihoods[:, 1]
    for name, fault in engine.plan.direct.items():
        if name in chunk.found:
            rows, likelihoods = chunk.found[name]
            shown = likelihoods @ engine.tables[name].T
            without, there = engine.shows[name]
            absent[place[fault], rows] *= shown[:, without]
            present[place[fault], rows] *= shown[:, there]
    for case, repair, fault, seen in chunk.looked:
        often = engine.eyes[repair, fault]
        present[place[fault], case] *= often if seen else 1.0 - often
        if seen:
            absent[place[fault], case] *= often
    return absent, present


def _after(engine: Engine, columns: Sequence[Column]) -> tuple[Floats, Floats, Floats, Floats]:
    """(faults, columns): whether a fault may have been absent; of one that was there, the chance
    that the unit works with its effects seen before, that it works because the fault is idle, and
    of the former how much is cleared."""
    found = []
    for column in columns:
        kind = column.cleared_by, column.cleared, column.same_luck
        if kind not in engine.kinds:
            engine.kinds[kind] = _in_column(engine, *kind)
        found.append(engine.kinds[kind])
    gone, acting, idle, cleared = (np.array([one[k] for one in found]).T for k in range(4))
    return gone, acting, idle, cleared


def _in_column(
    engine: Engine, cleared_by: tuple[str, ...] | None, cleared: str | None, same_luck: bool
) -> tuple[Floats, ...]:
    model, works = engine.model, engine.plan.works
    ones, nothing = np.ones(len(works)), np.zeros(len(works))
    if cleared_by is None:
        return ones, ones, nothing, nothing
    left = np.array([stays(model, cleared_by, fault) for fault in model.faults])
    if cleared is None:
        return ones, left, nothing, nothing
    first = list(model.faults).index(cleared)
    ends = 1.0 - left
    ends[:first] = 0.0  # or it would have been the first that was cleared
    idles = same_luck & (works <= MOSTLY_WORKS)
    acting = ends + np.where(idles, 0.0, left * works)
    idle = np.where(idles, left * works, 0.0)
    gone = ones
    gone[first], acting[first], idle[first] = 0.0, ends[first], 0.0
    return gone, acting, idle, np.divide(ends, acting, out=nothing, where=acting > 0.0)
