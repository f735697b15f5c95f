"""Evidence of many cases as arrays: what does not change while the numbers are learned."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import prod

import numpy as np
from numpy.typing import NDArray

from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.local import Floats
from brinebayes.tuning.told import Told

Indices = NDArray[np.intp]


@dataclass(frozen=True)
class Column:
    """One set of evidence that a case is a sum of: with some proofs passed, or with none asked.

    A proof shows whether the unit works with what was cleared by then; a unit that worked once
    goes on working. So a case with proofs is a sum over the first of them at which it worked, and
    each part over the first fault that was there and was cleared, or none.
    """

    case: int
    factor: float
    #: Repairs done before the unit is taken to work; None: nothing is said of its working.
    cleared_by: tuple[str, ...] | None
    #: The first of the faults, in the order of `clearable`, that was there and was cleared; None:
    #: none was, so that the unit works as it was found.
    cleared: str | None
    #: Faults that are left keep the luck they had (see `standing`).
    same_luck: bool


@dataclass(frozen=True, eq=False)
class Chunk:
    """Some cases, those that tell the same counted once.

    `weights`: (cases,) how often. `site`: (cases, conditions) place of the value, -1 if not known.
    `found`: id -> (rows, likelihoods of these). `columns`: of all cases, in their order.
    """

    weights: Floats
    site: NDArray[np.int16]
    found: Mapping[str, tuple[Indices, Floats]]
    columns: tuple[Column, ...]
    done: tuple[tuple[str, ...], ...]
    #: (case, repair, fault, whether it was seen)
    looked: tuple[tuple[int, str, str, bool], ...]

    def __len__(self) -> int:
        return len(self.weights)


def chunk(model: Model, cases: Sequence[tuple[Told, float]]) -> Chunk:
    """Arrays of some cases with their weights."""
    site = np.full((len(cases), len(model.site)), -1, dtype=np.int16)
    place = {
        name: (at, {value: k for k, value in enumerate(condition.values)})
        for at, (name, condition) in enumerate(model.site.items())
    }
    rows: dict[str, list[int]] = {}
    likelihoods: dict[str, list[tuple[float, ...]]] = {}
    columns: list[Column] = []
    for row, (told, _) in enumerate(cases):
        for condition, value in told.site:
            at, values = place[condition]
            site[row, at] = values[value]
        for name, likelihood in told.findings:
            rows.setdefault(name, []).append(row)
            likelihoods.setdefault(name, []).append(likelihood)
        columns.extend(_columns(model, row, told))
    found = {
        name: (np.array(rows[name], dtype=np.intp), np.array(likelihoods[name]))
        for name in sorted(rows)
    }
    weights = np.array([weight for _, weight in cases])
    looked = [(row, *one) for row, (told, _) in enumerate(cases) for one in told.looked]
    done = tuple(told.done for told, _ in cases)
    return Chunk(weights, site, found, tuple(columns), done, tuple(looked))


def some(whole: Chunk, cases: Indices) -> Chunk:
    """Some cases of a chunk, in the order given."""
    place = {int(case): at for at, case in enumerate(cases)}
    found = {}
    for name, (rows, likelihoods) in whole.found.items():
        here = np.isin(rows, cases)
        if here.any():
            moved = np.array([place[int(row)] for row in rows[here]], dtype=np.intp)
            found[name] = (moved, likelihoods[here])
    columns = [replace(one, case=place[one.case]) for one in whole.columns if one.case in place]
    return Chunk(
        whole.weights[cases],
        whole.site[cases],
        found,
        tuple(sorted(columns, key=lambda one: one.case)),
        tuple(whole.done[int(case)] for case in cases),
        tuple((place[one[0]], *one[1:]) for one in whole.looked if one[0] in place),
    )


def together(chunks: Sequence[Chunk]) -> Chunk:
    """The cases of some chunks, one after the other, as one chunk."""
    starts = np.cumsum([0, *(len(one) for one in chunks)]).tolist()
    placed = list(zip(starts, chunks, strict=False))
    found = {}
    for name in sorted({name for one in chunks for name in one.found}):
        mine = [(at, *one.found[name]) for at, one in placed if name in one.found]
        rows = np.concatenate([rows + at for at, rows, _ in mine])
        found[name] = rows, np.concatenate([likelihoods for *_, likelihoods in mine])
    return Chunk(
        np.concatenate([one.weights for one in chunks]),
        np.concatenate([one.site for one in chunks]),
        found,
        tuple(replace(c, case=c.case + at) for at, one in placed for c in one.columns),
        tuple(done for one in chunks for done in one.done),
        tuple((case + at, *rest) for at, one in placed for case, *rest in one.looked),
    )


def with_luck_anew(whole: Chunk) -> Chunk:
    """The same cases, the faults that are left having their luck anew."""
    return replace(whole, columns=tuple(replace(one, same_luck=False) for one in whole.columns))


def merged(cases: Iterable[tuple[Told, float]]) -> list[tuple[Told, float]]:
    """Cases that tell the same put together, their weights added up."""
    found: dict[Told, float] = {}
    for told, weight in cases:
        found[told] = found.get(told, 0.0) + weight
    return list(found.items())


def clearable(model: Model, done: Iterable[str]) -> tuple[str, ...]:
    """The faults that some repairs clear, in the order of the model."""
    able = {fault for repair in done for fault in model.repairs[repair].clears}
    return tuple(fault for fault in model.faults if fault in able)


def _columns(model: Model, row: int, told: Told) -> Iterable[Column]:
    from_on = [_likelihood(model, told, first) for first in range(len(told.proofs) + 1)]
    yield Column(row, from_on[-1], None, None, True)
    for t, (repairs, _) in enumerate(told.proofs):
        factor = from_on[t] - from_on[t + 1]
        if factor != 0.0:
            for fault in (None, *clearable(model, told.done[:repairs])):
                yield Column(row, factor, told.done[:repairs], fault, True)


def _likelihood(model: Model, told: Told, first: int) -> float:
    """Likelihood of all proofs where enough is cleared from proof `first` on. A harm that a repair
    does is taken to stop the unit from then on."""
    working, harmed, done = 1.0, 0.0, 0
    for place, (repairs, (if_not, if_works)) in enumerate(told.proofs):
        safe = prod(
            1.0 - chance.value
            for repair in told.done[done:repairs]
            for chance in model.repairs[repair].harms.values()
        )
        harmed = (harmed + working * (1.0 - safe)) * if_not
        working *= safe * (if_works if place >= first else if_not)
        done = repairs
    return working + harmed


def observed_names(model: Model, chunks: Iterable[Chunk]) -> tuple[str, ...]:
    """Observations and complaints that any case speaks of, in the order of the model."""
    names = {name for one in chunks for name in one.found}
    return tuple(n for n in (*graph.observations(model), *model.complaints) if n in names)
