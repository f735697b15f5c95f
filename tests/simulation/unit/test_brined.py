"""In the brine step: the trade's signatures part by part."""

from __future__ import annotations

from dataclasses import replace

import pytest

from brinebayes.physics.hydraulics import circle_m2
from brinebayes.physics.units import GPM, IN
from brinebayes.simulation.unit import brined, cycled
from brinebayes.simulation.unit.parts import SOUND
from tests.simulation.unit.houses import commonest, scene

#: Hurt part -> backwash, drain in the brine step, suction at the valve, at the tank end, level.
SIGNATURES = {
    "healthy": ({}, "full", "motive_and_brine", "strong", "strong", "falls"),
    "throat plugged": (
        {"throat_clear": 0.03},
        "full",
        "low trickle",
        "pushes_water nothing",
        "pushes_water nothing",
        "rises stands_still",
    ),
    "injector seal": (
        {"jet_seal_m2": circle_m2(1.1e-3)},
        "full",
        "motive_and_brine",
        "weak nothing pushes_water",
        "weak nothing pushes_water",
        "falls_slowly stands_still rises",
    ),
    "drain control": (
        {"control_clear": 0.05},
        "low hardly_any",
        "low trickle motive_only",
        "weak nothing pushes_water",
        "weak nothing pushes_water",
        "stands_still rises falls_slowly",
    ),
    "brine line": (
        {"brine_line_clear": 1e-3},
        "full",
        "motive_only",
        "strong",
        "nothing",
        "stands_still",
    ),
    "air check shut": (
        {"air_check": "shut"},
        "full",
        "motive_only",
        "strong",
        "nothing",
        "stands_still",
    ),
    "air leak": (
        {"air_hole_m2": circle_m2(4.5e-4)},
        "full",
        "motive_only motive_and_brine",
        "strong",
        "flutters nothing",
        "falls_slowly stands_still",
    ),
    "bridge": ({"salt_contact": 5e-4}, "full", "motive_and_brine", "strong", "strong", "falls"),
}

LOOKS = (
    cycled.backwash_at_drain,
    brined.drain_in_draw,
    brined.suction_at_valve,
    brined.suction_at_tank,
    brined.level_in_draw,
)


class TestSignatures:
    """TRADE section 2, "signature in the brine step"."""

    @pytest.mark.parametrize("name", SIGNATURES)
    def test_row(self, name: str) -> None:
        hurt, *wanted = SIGNATURES[name]
        at = scene(SOUND.changed(**hurt))
        for look, words in zip(LOOKS, wanted, strict=True):
            assert commonest(look, at) in words.split(), look.__name__


class TestLevelInDraw:
    """By tape, in ten minutes."""

    def test_inches_by_hand(self) -> None:
        """0.330 gpm out of an 18 in tank: 3.0 in in 10 min in clear liquid (TRADE section 3)."""
        at = scene()
        drawn = GPM.from_si(at.draw.brine_m3_s) * 10
        site = replace(at.site, brine_tank_m=IN.to_si(18), open_part=1.0)
        clear = replace(at, site=site)
        read = float(brined.level_in_draw(clear).number.split()[0])
        assert read == pytest.approx(drawn / 1.102, rel=0.25)


class TestEndOfDraw:
    """The air check and the rinse."""

    @pytest.mark.parametrize(
        ("hurt", "drop", "end"),
        [
            ({}, "drops", "air_check_closes"),
            ({"air_check": "open"}, "same_flow", "pulls_air"),
            ({"air_check": "shut"}, "same_flow", "not_reached"),
            ({"throat_clear": 0.03}, "same_flow", "not_reached"),
        ],
    )
    def test_no_fall_means_no_draw_or_air(
        self, hurt: dict[str, object], drop: str, end: str
    ) -> None:
        at = scene(SOUND.changed(**hurt))
        assert commonest(brined.flow_drop, at) == drop
        assert commonest(brined.end_of_draw, at) == end
