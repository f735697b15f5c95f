"""Gauge, meter, voltmeter."""

from __future__ import annotations

import pytest

from brinebayes.physics.units import PSI
from brinebayes.simulation.unit import gauged
from brinebayes.simulation.unit.parts import SOUND
from tests.simulation.unit.houses import commonest, scene


class TestGauged:
    """One thing that is wrong, and what the instrument shows."""

    @pytest.mark.parametrize(
        ("look", "hurt", "wanted"),
        [
            ("static_pressure", {"supply": 0.35}, "low"),
            ("static_pressure", {"inlet_clear": 0.02}, "normal_pressure"),
            ("flowing_pressure", {}, "holds"),
            ("flowing_pressure", {"inlet_clear": 0.02}, "falls_away"),
            ("unit_loss", {}, "small_loss"),
            ("unit_loss", {"upper_clear": 0.012}, "large_loss"),
            ("unit_loss", {"beyond": "collapsed_hose"}, "large_loss"),
            ("meter_count", {}, "counts"),
            ("meter_count", {"meter_counts": 0.0}, "counts_nothing"),
            ("meter_count", {"bypass_handle": 1.0}, "counts_nothing"),
            ("supply_voltage", {"power": 0.0}, "no_voltage"),
            ("supply_voltage", {"motor_dead": True}, "normal_voltage"),
        ],
    )
    def test_read_by_most(self, look: str, hurt: dict[str, object], wanted: str) -> None:
        at = scene(SOUND.changed(**hurt))
        assert commonest(gauged.ANSWERS[look].look, at) == wanted

    def test_flowing_is_below_standing(self) -> None:
        at = scene()
        still, flowing = (
            float(gauged.ANSWERS[look].look(at).number.split()[0])  # type: ignore[union-attr]
            for look in ("static_pressure", "flowing_pressure")
        )
        assert flowing < still <= PSI.from_si(at.site.static_pa) * 1.15
