"""Faults as physical changes."""

from __future__ import annotations

from dataclasses import fields

import pytest

from brinebayes.simulation.unit import faults
from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.faults import DAMAGES
from brinebayes.simulation.unit.parts import SOUND, Parts
from brinebayes.simulation.unit.repairs import REPAIRS, Luck
from tests.simulation.unit.houses import house, shipped


def hurt(fault: str, number: int) -> Parts:
    """The parts with one fault in them."""
    return faults.damaged(SOUND, (fault,), house(), Chance(f"hurt {number}"))


def touched(parts: Parts) -> set[str]:
    """The parts that are not as they should be."""
    names = (field.name for field in fields(Parts))
    return {name for name in names if getattr(parts, name) != getattr(SOUND, name)}


class TestDamages:
    """One row per fault of the model."""

    def test_every_fault_of_the_model_has_a_row_and_no_other(self) -> None:
        assert set(DAMAGES) == set(shipped().faults)

    @pytest.mark.parametrize("fault", DAMAGES)
    def test_each_changes_parts_and_says_what(self, fault: str) -> None:
        assert DAMAGES[fault].says
        assert all(touched(hurt(fault, number)) for number in range(10))

    def test_faults_differ_in_what_they_change(self) -> None:
        """But for low and high settings no two faults are the same change of the same parts."""
        seen: dict[frozenset[str], str] = {}
        for fault in DAMAGES:
            parts = frozenset().union(*(touched(hurt(fault, number)) for number in range(20)))
            pair = {fault, seen.setdefault(parts, fault)}
            assert (
                len(pair) == 1
                or pair == {"hardness_set_wrong", "hardness_set_high"}
                or (
                    pair == {"float_shut", "float_open"}
                    or pair == {"air_check_shut", "air_check_open"}
                )
            ), pair

    def test_every_part_can_be_hurt(self) -> None:
        """No part is there for nothing; `use_reckoned` is a setting that only repairs move."""
        all_of = {part for f in DAMAGES for n in range(40) for part in touched(hurt(f, n))}
        long_run = house(drain_run="long_half_inch")
        for number in range(20):
            chance = Chance(f"hurt {number}")
            all_of |= touched(faults.damaged(SOUND, ("drain_line_long_high",), long_run, chance))
        assert {field.name for field in fields(Parts)} - all_of == {"use_reckoned"}

    @pytest.mark.parametrize(
        "fault", [f for f in DAMAGES if f not in ("other_cause", "raw_hardness_risen")]
    )
    def test_a_repair_that_the_model_names_takes_it_away(self, fault: str) -> None:
        """Some repair that the model lists for it, at the first or second try, on most units; to
        harder raw water the setting is only fitted."""
        repairs = [name for name, item in shipped().repairs.items() if fault in item.clears]
        mended = 0
        for number in range(12):
            parts = hurt(fault, number)
            luck = [Luck(Chance(f"{number} {i}"), Chance(f"{number}")) for i in range(2)]
            ways = []
            for repair in repairs:
                way = parts
                for one in luck:
                    way = REPAIRS[repair](way, one)
                ways.append(way)
            before = touched(parts) - {"stands"}
            mended += any(before - touched(way) for way in ways)
        assert mended >= 10

    def test_no_repair_takes_away_what_is_beyond_the_model(self) -> None:
        parts = hurt("other_cause", 1)
        for repair in REPAIRS.values():
            parts = repair(parts, Luck(Chance("a"), Chance("b")))
        assert parts.beyond


class TestDamaged:
    """Several faults at once."""

    def test_both_are_there(self) -> None:
        both = faults.damaged(SOUND, ("salt_bridge", "meter_stuck"), house(), Chance("x"))
        assert {"salt_contact", "meter_counts"} <= touched(both)

    def test_a_fault_is_the_same_alone_and_in_company(self) -> None:
        alone = faults.damaged(SOUND, ("salt_bridge",), house(), Chance("x"))
        both = faults.damaged(SOUND, ("meter_stuck", "salt_bridge"), house(), Chance("x"))
        assert both.salt_contact == alone.salt_contact
