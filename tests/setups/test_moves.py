"""What a move costs."""

from __future__ import annotations

from dataclasses import replace

import pytest

from brinebayes.setups.moves import price, waiting_minutes
from tests.setups.shipped import MONEY, number, shipped_setups

MOVE = shipped_setups().moves["unplug"]


class TestPrice:
    """Minutes times rates, in millionths, from the digits as they are written."""

    @pytest.mark.parametrize(
        ("minutes", "waiting", "millionths"),
        [
            (1.0, None, 1_500_000),
            (1.0, 2.0, 3_300_000),
            (0.0, 0.0, 0),
            # 0.1 is no double; three times it must still be exactly 0.3 of the rate.
            (0.3, None, 450_000),
            # A learned number with many digits is rounded once, to the nearest millionth.
            (1.23456789, None, 1_851_852),
        ],
    )
    def test_worked_by_hand(self, minutes: float, waiting: float | None, millionths: int) -> None:
        move = replace(
            MOVE,
            minutes=number(minutes),
            waiting_minutes=None if waiting is None else number(waiting),
        )
        assert price(move, MONEY) == millionths
        assert waiting_minutes(move) == (waiting or 0.0)
