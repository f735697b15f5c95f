"""Random numbers by name, so that two policies on one unit meet the same luck in any order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import blake2b
from statistics import NormalDist
from typing import TypeVar

T = TypeVar("T")

_NORMAL = NormalDist()


@dataclass(frozen=True, slots=True)
class Chance:
    """A stream of independent numbers, each found by its name; the same name, the same number."""

    seed: str

    def uniform(self, *name: object) -> float:
        """Between 0 and 1, ends excluded."""
        text = "\x1f".join((self.seed, *map(str, name)))
        number = int.from_bytes(blake2b(text.encode(), digest_size=8).digest())
        return (number + 0.5) / 2**64

    def happens(self, probability: float, *name: object) -> bool:
        """True in the part `probability` of all streams."""
        return self.uniform(*name) < probability

    def between(self, low: float, high: float, *name: object) -> float:
        """Evenly between two numbers."""
        return low + (high - low) * self.uniform(*name)

    def evenly_in_ratio(self, low: float, high: float, *name: object) -> float:
        """Between two positive numbers, evenly in the logarithm."""
        return low * math.pow(high / low, self.uniform(*name))

    def one_of(self, options: Sequence[T], *name: object) -> T:
        """One of the options, each as likely as the next."""
        return options[min(int(len(options) * self.uniform(*name)), len(options) - 1)]

    def normal(self, *name: object) -> float:
        """Standard normal."""
        return _NORMAL.inv_cdf(self.uniform(*name))

    def factor(self, spread: float, *name: object) -> float:
        """A positive number with median 1 and this spread in its logarithm."""
        return math.exp(spread * self.normal(*name))

    def part(self, *name: object) -> Chance:
        """A stream of its own."""
        return Chance("\x1f".join((self.seed, *map(str, name))))
