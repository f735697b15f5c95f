"""The tree of a search: beliefs, and the acts that may follow each with all their outcomes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice.problem import Epoch

Floats = NDArray[np.float64]

#: Answers of a search: (epoch, check or -1 for a proof, outcome).
Story = frozenset[tuple[int, int, int]]


#: Share of the estimate one act deep in the one that acts are compared by. Judged.
FIRST = 1 / 3


class Node:
    """A belief with how the unit stands; `weights`: (futures of the epoch,), not normalised, and
    once it is followed up `belief`, the same by class.

    `made`: checks of this epoch, as bits. `proof`: whether a proof would say something new.
    `story`: every answer so far as (epoch, check, outcome): whatever their order, it is one belief.
    `lower`, `upper`, `guess`: cost to end the visit from here, times `total`. `rest`: lower bound
    of all acts that were not followed. `open`: whether looking further could change something.
    """

    __slots__ = (
        "belief",
        "brine",
        "depth",
        "epoch",
        "guess",
        "lower",
        "made",
        "open",
        "options",
        "proof",
        "rest",
        "setup",
        "story",
        "total",
        "upper",
        "weights",
    )

    def __init__(
        self,
        epoch: Epoch,
        weights: Floats,
        total: float,
        setup: int,
        made: int = 0,
        proof: bool = False,
        brine: float = np.inf,
        story: Story = frozenset(),
        depth: int = 0,
        bounds: tuple[float, float, float] = (-np.inf, np.inf, 0.0),
    ) -> None:
        self.epoch, self.weights, self.total, self.setup = epoch, weights, total, setup
        self.made, self.proof, self.brine, self.story, self.depth = made, proof, brine, story, depth
        self.lower, self.upper, self.guess = bounds
        self.belief = np.zeros(0)
        self.options: list[Option] = []
        self.rest = np.inf
        self.open = False


class Option:
    """An act at a node. `kind`: check, repair, prove, finish or escalate; `index`: which.

    `paid`: its own cost with the way, times the total of the node. `totals`, `lowers`, `uppers`,
    `guesses`, `nodes`: one entry per outcome; the last None until it is followed up.
    """

    __slots__ = (
        "bits",
        "even",
        "gap",
        "guess",
        "guesses",
        "index",
        "kind",
        "lower",
        "lowers",
        "nodes",
        "paid",
        "totals",
        "upper",
        "uppers",
    )

    def __init__(
        self,
        kind: str,
        index: int,
        paid: float,
        totals: list[float],
        lowers: list[float],
        uppers: list[float],
        guesses: list[float],
        bits: float = 0.0,
    ) -> None:
        self.kind, self.index, self.paid, self.bits = kind, index, paid, bits
        self.totals, self.lowers, self.uppers, self.guesses = totals, lowers, uppers, guesses
        self.nodes: list[Node | None] = [None] * len(totals)
        self.even = list(guesses)
        self.gap = 0.0
        self.add_up()

    def settle(self) -> None:
        """Remember how things stand when all promising acts have been looked into alike.

        Two acts that will both be done cost the same in either order, two acts deep. What each was
        worth at first says which to begin with, in case the second is not needed then.
        """
        pairs = zip(self.even, self.guesses, strict=True)
        self.even = [FIRST * first + (1.0 - FIRST) * now for first, now in pairs]
        self.gap = self.upper - self.lower

    def fair(self) -> list[float]:
        """The estimate of each outcome, fit to be compared with those of other acts.

        An act that was looked into further than another would seem better or worse for that alone.
        So what was found since counts only as far as the bounds have come together.
        """
        sure = 1.0 - (self.upper - self.lower) / self.gap if self.gap > 0.0 else 1.0
        values = zip(self.even, self.guesses, self.lowers, self.uppers, strict=True)
        return [min(max(e + sure * (g - e), low), high) for e, g, low, high in values]

    def add_up(self) -> None:
        """The values of the act from those of its outcomes."""
        self.lower = self.paid + sum(self.lowers)
        self.upper = self.paid + sum(self.uppers)
        self.guess = self.paid + sum(self.guesses)
