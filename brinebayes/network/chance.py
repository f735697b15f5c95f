"""Uniform numbers that follow from a seed alone, the same on every machine.

SplitMix64: the n-th number is a fixed mixture of the bits of seed + n times an odd constant, so any
many are made at once. `numpy.random` has better generators, but takes 12 ms to import, a tenth of
what importing numpy and typer takes; nothing here needs more than even, independent numbers.
Source: Steele, Lea & Flood 2014, "Fast splittable pseudorandom number generators" (from memory).
"""

from __future__ import annotations

from math import prod

import numpy as np
from numpy.typing import NDArray

Bits = NDArray[np.uint64]

_STEP = 0x9E3779B97F4A7C15
_MASK = 2**64 - 1
_TO_UNIT = 2.0**-53


class Chance:
    """A stream of numbers; the same seeds give the same stream, others another one."""

    def __init__(self, *seeds: int) -> None:
        self._seed, self._made = 0, 0
        for seed in seeds:
            start = (self._seed + seed) & _MASK
            self._seed = int(split_mix(start, 0, 1)[0])

    def bits(self, count: int) -> Bits:
        """(count,): the next numbers, all bits of them random."""
        made = split_mix(self._seed, self._made, count)
        self._made += count
        return made

    def skip(self, count: int) -> None:
        """Leave the next numbers out."""
        self._made += count

    def random(self, shape: int | tuple[int, ...]) -> NDArray[np.float64]:
        """Numbers of this shape, uniform in [0, 1), multiples of 2^-53."""
        bits = self.bits(shape if isinstance(shape, int) else prod(shape))
        bits >>= np.uint64(11)
        return (bits.astype(np.float64) * _TO_UNIT).reshape(shape)


def split_mix(seed: int, before: int, count: int) -> Bits:
    """(count,): numbers `before` + 1, `before` + 2, ... of the stream of `seed` (64 bits)."""
    mixed = np.arange(before + 1, before + count + 1, dtype=np.uint64)
    mixed *= np.uint64(_STEP)
    mixed += np.uint64(seed)
    mixed ^= mixed >> np.uint64(30)
    mixed *= np.uint64(0xBF58476D1CE4E5B9)
    mixed ^= mixed >> np.uint64(27)
    mixed *= np.uint64(0x94D049BB133111EB)
    mixed ^= mixed >> np.uint64(31)
    return mixed


def odd_factors(count: int) -> NDArray[np.int64]:
    """(count,): fixed odd numbers; sums with them, modulo 2^64, tell rows of numbers apart."""
    return (split_mix(0, 0, count) | np.uint64(1)).view(np.int64)
