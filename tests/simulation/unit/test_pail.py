"""Flows by pail and watch."""

from __future__ import annotations

import math
from dataclasses import replace

from brinebayes.physics.units import GPM
from brinebayes.simulation.unit import cycled, flows
from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.parts import SOUND
from tests.simulation.unit.houses import scene


class TestTimed:
    """Unmarked pails are five to ten per cent off (TRADE, judged there)."""

    def test_the_same_pail_all_visit(self) -> None:
        at = scene()
        true = GPM.from_si(flows.backwash_m3_s(at.site, SOUND))
        reads = []
        for number in range(300):
            other = replace(at, luck=Chance(f"l{number}"), person=Chance("one pail"))
            reads.append(float(cycled.backwash_at_drain(other).number.split()[0]))
        spread = max(reads) / min(reads)
        assert spread < 1.2
        offs = []
        for number in range(300):
            other = replace(at, person=Chance(f"p{number}"))
            offs.append(float(cycled.backwash_at_drain(other).number.split()[0]) / true)
        sigma = math.sqrt(sum((off - 1) ** 2 for off in offs) / 300)
        assert 0.04 < sigma < 0.10
