"""When an act needs a caution of its own."""

from __future__ import annotations

import pytest

from brinebayes.checking.safety import hazard
from brinebayes.knowledge.schema import Condition
from tests.setups.shipped import shipped_setups


class TestHazard:
    """Half of a combination that must never be is a hazard for whoever works there."""

    @pytest.mark.parametrize(
        ("condition", "speaks"),
        [
            ({"valve": "open"}, "body_open_under_pressure"),
            ({"valve": "open", "pressure": "relieved"}, "body_open_under_pressure"),
            ({"valve": "drive", "power": "unplugged"}, "hands_in_drive_with_power"),
            ({"drain": "off"}, "drain_port_bare_under_pressure"),
            ({"drain": "pail", "water": "feeding"}, "pail_with_house_on"),
            ({"brine": "off", "position": "service"}, ""),
            ({"brine": "off"}, "brine_port_bare_at_refill"),
            # With the line on, refill is only refill; but brine may stand in the unit.
            ({"position": "refill", "brine": "fitted", "inside": "rinsed"}, ""),
            # Service is no hazard, nor is a wish that a safe value would fulfil.
            ({"water": "service", "power": "plugged", "valve": "closed"}, ""),
            ({"valve": ("closed", "open")}, ""),
            ({}, ""),
        ],
    )
    def test_worked_by_hand(self, condition: Condition, speaks: str) -> None:
        assert hazard(shipped_setups(), condition) == speaks
