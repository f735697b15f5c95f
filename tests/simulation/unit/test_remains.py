"""What of a fault is left."""

from __future__ import annotations

import pytest

from brinebayes.simulation.unit import faults, remains
from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.parts import SOUND
from tests.simulation.unit.houses import house


class TestStillThere:
    """Told by the parts that a fault changes."""

    def test_every_fault_is_known_by_its_parts(self) -> None:
        assert set(remains.OWNS) == set(faults.DAMAGES)

    @pytest.mark.parametrize("fault", faults.DAMAGES)
    def test_there_when_put_in_and_not_on_a_sound_unit(self, fault: str) -> None:
        for number in range(10):
            parts = faults.damaged(SOUND, (fault,), house(), Chance(f"remains {number}"))
            assert remains.still_there(fault, parts, parts)
            assert not remains.still_there(fault, parts, SOUND)


class TestHarmed:
    """Something that was in order and is not any more."""

    def test_only_since(self) -> None:
        pinched = SOUND.changed(jet_seal_m2=1e-6)
        assert remains.harmed("injector_seal_leak", SOUND, pinched)
        assert not remains.harmed("injector_seal_leak", pinched, pinched)
