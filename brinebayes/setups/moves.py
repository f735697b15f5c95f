"""What a move costs, in whole numbers, so that equal routes cost exactly the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

from brinebayes.knowledge.schema import Money, Move

if TYPE_CHECKING:
    from fractions import Fraction

#: Prices are counted in millionths of the model's currency; each move is rounded once, so sums of
#: moves are exact and a tie is a tie on every machine.
PER_UNIT = 1_000_000


def waiting_minutes(move: Move) -> float:
    """Minutes in which something else may be done meanwhile."""
    return 0.0 if move.waiting_minutes is None else move.waiting_minutes.value


def price(move: Move, money: Money) -> int:
    """What the move costs the shop, in millionths of the currency."""
    # Through the decimal digits that the file shows, not through the nearest double.
    time = _exact(move.minutes.value) * _exact(money.attention_per_minute.value)
    time += _exact(waiting_minutes(move)) * _exact(money.waiting_per_minute.value)
    return round(time * PER_UNIT)


def _exact(value: float) -> Fraction:
    # Prices are kept once they are worked out; then this is not needed, nor imported.
    from fractions import Fraction

    return Fraction(repr(float(value)))
