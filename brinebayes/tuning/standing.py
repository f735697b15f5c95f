"""How the faults stand in each set of evidence that a case is a sum of.

A proof speaks of the unit after a repair, the tree of the unit as it was found. What ties the two
together is the luck of the links: a fault that is left and did no harm before does none now. So
where a unit was proven to work, a fault that no repair cleared is taken to be there without effect,
and the tree holds it absent; a fault of which the unit hardly depends keeps its effects and counts
as little against its working as it alone would.

Where that cannot be (it makes some evidence less likely with more repairs, now and then one case in
some hundreds), each fault that is left is reckoned as if it had its luck anew.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from brinebayes.knowledge.schema import Model
from brinebayes.network.local import Floats
from brinebayes.tuning.chunk import Chunk, Column, Indices
from brinebayes.tuning.engine import Engine

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
    acting, idle, cleared = _after(engine, columns)
    return Standing(absent, present * idle, present * acting, cleared)


def tries(model: Model, done: Iterable[str]) -> dict[str, int]:
    """Repair -> how many independent tries it was."""
    counts = Counter(done)
    return {name: 1 if model.repairs[name].same_luck else n for name, n in counts.items()}


def _found(engine: Engine, chunk: Chunk) -> tuple[Floats, Floats]:
    """(faults, cases): likelihood of what was found about a fault itself, absent and present."""
    place = {fault: i for i, fault in enumerate(engine.model.faults)}
    absent, present = np.ones((2, len(place), len(chunk)))
    for name, (rows, likelihoods) in chunk.found.items():
        if name in place:
            absent[place[name], rows] *= likelihoods[:, 0]
            present[place[name], rows] *= likelihoods[:, 1]
    for case, repair, fault, seen in chunk.looked:
        often = engine.eyes[repair, fault]
        present[place[fault], case] *= often if seen else 1.0 - often
    return absent, present


def _after(engine: Engine, columns: Sequence[Column]) -> tuple[Floats, Floats, Floats]:
    """(faults, columns): of a fault that was there, the chance that the unit works with its effects
    seen before, that it works because the fault is idle, and of the former how much is cleared."""
    model, works = engine.model, engine.plan.works
    nothing = np.ones(len(works)), np.zeros(len(works)), np.zeros(len(works))
    kept: dict[tuple[tuple[str, ...] | None, bool], tuple[Floats, Floats, Floats]] = {}
    for column in columns:
        key = column.cleared_by, column.same_luck
        if key in kept:
            continue
        if column.cleared_by is None:
            kept[key] = nothing
            continue
        stays = np.ones(len(works))
        for repair, count in tries(model, column.cleared_by).items():
            for i, fault in enumerate(model.faults):
                if fault in model.repairs[repair].clears:
                    stays[i] *= (1.0 - model.repairs[repair].clears[fault].value) ** count
        idles = column.same_luck & (works <= MOSTLY_WORKS)
        acting = (1.0 - stays) + np.where(idles, 0.0, stays * works)
        idle = np.where(idles, stays * works, 0.0)
        cleared = np.divide(1.0 - stays, acting, out=np.zeros_like(stays), where=acting > 0.0)
        kept[key] = acting, idle, cleared
    found = [kept[one.cleared_by, one.same_luck] for one in columns]
    return (
        np.array([one[0] for one in found]).T,
        np.array([one[1] for one in found]).T,
        np.array([one[2] for one in found]).T,
    )
