"""A few hundred cases to score many models on, the same ones whatever the order of the record."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Sequence
from hashlib import blake2b

import numpy as np

from brinebayes.cases.record import Case
from brinebayes.cases.replay import misfit
from brinebayes.errors import DataError
from brinebayes.knowledge.schema import Model
from brinebayes.network.local import Floats
from brinebayes.record import record
from brinebayes.scoring.known import Known, steps
from brinebayes.scoring.ranking import Truth

#: Cases in a sample, at most.
MOST = 300


@record(eq=False)
class Sample:
    """Cases with evidence when only told and before the first repair, and with what was found.

    `known`: different sets of evidence; `told`, `last`: (cases,) their places in it. `found`:
    (cases, faults). `of`: cases that there were.
    """

    names: tuple[str, ...]
    known: tuple[Known, ...]
    told: tuple[int, ...]
    last: tuple[int, ...]
    found: Truth
    of: int


def sample(model: Model, cases: Iterable[Case], most: int = MOST) -> Sample:
    """Cases with a confirmed fault that the model knows, chosen by the hash of their ids.

    Raises DataError when there is none.
    """
    kept: list[tuple[int, str, tuple[Known, Known], Sequence[str]]] = []
    count = 0
    for case in cases:
        if not case.undisputed or misfit(model, case) is not None:
            continue
        count += 1
        digest = blake2b(case.id.encode(), digest_size=8).digest()
        rank = -int.from_bytes(digest, "big")
        if len(kept) == most and rank <= kept[0][0]:
            continue
        known = steps(model, case)
        entry = (rank, case.id, (known[0], known[-1]), [one.fault for one in case.undisputed])
        if len(kept) < most:
            heapq.heappush(kept, entry)
        else:
            heapq.heapreplace(kept, entry)
    if not kept:
        raise DataError("no case can be scored")
    kept.sort(key=lambda entry: entry[1])
    number: dict[Known, int] = {}
    told = [number.setdefault(known[0], len(number)) for _, _, known, _ in kept]
    last = [number.setdefault(known[1], len(number)) for _, _, known, _ in kept]
    place = {fault: k for k, fault in enumerate(model.faults)}
    found = np.zeros((len(kept), len(place)), dtype=bool)
    for row, (_, _, _, faults) in enumerate(kept):
        found[row, [place[fault] for fault in faults]] = True
    names = tuple(name for _, name, _, _ in kept)
    return Sample(names, tuple(number), tuple(told), tuple(last), found, count)


def at(beliefs: Floats, places: Sequence[int]) -> Floats:
    """(cases, faults): the beliefs of each case."""
    chosen: Floats = beliefs[list(places)]
    return chosen
