"""Is the new model better on cases that it has not learned from?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from brinebayes.knowledge.schema import Model
from brinebayes.network.local import Floats
from brinebayes.network.ordering import chain_orders
from brinebayes.tuning.chunk import Chunk
from brinebayes.tuning.counts import expect
from brinebayes.tuning.engine import engine, plan

#: Draws of the bootstrap, from a fixed seed.
DRAWS = 2000
#: Fewer cases than this say nothing about which model is better.
FEWEST = 30


@dataclass(frozen=True)
class Paired:
    """Mean log score (nat a case) of two models on the same cases; the larger the better.

    `low`, `high`: interval of the difference that holds 95 % (bootstrap by case).
    """

    cases: int
    before: float
    after: float
    low: float
    high: float

    @property
    def gain(self) -> float:
        """How much the second is better."""
        return self.after - self.before


@dataclass(frozen=True)
class Verdict:
    """Scores on cases kept back. `record`: of all that was told; `found`: of the faults that were
    confirmed, given all else; None without any. `impossible`: cases that one of the models holds
    for impossible, left out of both."""

    record: Paired
    found: Paired | None
    impossible: int

    @property
    def enough(self) -> bool:
        """Whether there are enough cases to judge by."""
        return self.record.cases >= FEWEST

    @property
    def better(self) -> bool:
        """Enough cases, the record no less likely than before, and the faults found not clearly
        less likely."""
        worse_found = self.found is not None and self.found.high < 0.0
        return self.enough and self.record.gain > 0.0 and not worse_found


def compare(before: Model, after: Model, cases: Iterable[Chunk], names: Iterable[str]) -> Verdict:
    """Both models on the same cases."""
    kept = tuple(names)
    orders = chain_orders(before)
    engines = [engine(model, plan(model, kept, (), orders)) for model in (before, after)]
    faults = set(before.faults)
    whole: list[Floats] = []
    found: list[Floats] = []
    weights: list[Floats] = []
    confirmed: list[Floats] = []
    for chunk in cases:
        bare = replace(
            chunk,
            found={n: v for n, v in chunk.found.items() if n not in faults},
            looked=(),
        )
        all_told = [expect(one, chunk, counting=False).log_p for one in engines]
        without = [expect(one, bare, counting=False).log_p for one in engines]
        whole.append(np.array(all_told))
        found.append(np.array(all_told) - np.array(without))
        weights.append(chunk.weights)
        with_fault = np.zeros(len(chunk))
        for name in faults & chunk.found.keys():
            with_fault[chunk.found[name][0]] = 1.0
        confirmed.append(with_fault)
    if not whole:
        nothing = Paired(0, 0.0, 0.0, 0.0, 0.0)
        return Verdict(nothing, None, 0)
    scores, given = np.concatenate(whole, axis=1), np.concatenate(found, axis=1)
    times = np.rint(np.concatenate(weights)).astype(int)
    fine = np.isfinite(scores).all(axis=0)
    named = fine & (np.concatenate(confirmed) > 0.0)
    return Verdict(
        _paired(scores[:, fine], times[fine]),
        _paired(given[:, named], times[named]) if named.any() else None,
        int(times[~fine].sum()),
    )


def _paired(scores: Floats, times: NDArray[np.int_]) -> Paired:
    before, after = (np.repeat(row, times) for row in scores)
    if not len(before):
        return Paired(0, 0.0, 0.0, 0.0, 0.0)
    draw = np.random.default_rng(0)
    gain = after - before
    means = [gain[draw.integers(0, len(gain), len(gain))].mean() for _ in range(DRAWS)]
    low, high = np.quantile(means, [0.025, 0.975])
    return Paired(len(gain), float(before.mean()), float(after.mean()), float(low), float(high))
