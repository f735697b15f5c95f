"""Every fault shows what the trade expects of it, and a sound unit shows nothing wrong."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from brinebayes.simulation.unit import drawing, houses, judging
from brinebayes.simulation.unit.faults import DAMAGES
from tests.simulation.unit.houses import USUAL, shipped, unit

SIGNS = yaml.safe_load((Path(__file__).parent / "signs.yaml").read_text(encoding="utf-8"))
UNITS = 10

#: What is seen on a unit that is in order, wherever it stands.
IN_ORDER = {
    "salt_trend": "goes_down",
    "salt_seen": "plenty",
    "water_in_tank": "under_salt",
    "display": "normal",
    "bypass_position": "at_service_stop",
    "valve_mark": "at_service",
    "drain_in_service": "dry_drain",
    "brine_line_seen": "sound",
    "hardness_setting": "fits",
    "dose_setting": "as_the_table",
    "step_times": "as_times",
    "regeneration_setting": "switched_on",
    "last_regeneration": "lately",
    "run_reached": "whole_run",
    "tap_hardness": "soft_tap",
    "unit_hardness": "soft_there",
    "after_bypass_hardness": "soft_after",
    "fresh_bed_hardness": "soft_fresh",
    "salt_at_tap": "fresh_tap",
    "standby_level": "as_after_refill",
    "level_creep": "steady",
    "brine_sg": "full_strength",
    "drive_watched": "right_stops",
    "backwash_at_drain": "full",
    "beads_in_drain": "no_beads",
    "backwash_line_off": "full",
    "suction_line_off": "unchanged",
    "drain_in_draw": "motive_and_brine",
    "bubbles": "none_seen",
    "level_in_draw": "falls",
    "flow_drop": "drops",
    "end_of_draw": "air_check_closes",
    "suction_at_valve": "strong",
    "suction_at_tank": "strong",
    "salt_at_drain": "salty",
    "rinse_end": "near_raw",
    "refill_rate": "right",
    "static_pressure": "normal_pressure",
    "flowing_pressure": "holds",
    "unit_loss": "small_loss",
    "meter_count": "counts",
    "supply_voltage": "normal_voltage",
    "motor_winding": "whole",
    "gears_seen": "sound_gears",
    "screen_found": "clean",
    "control_found": "clear_and_right",
    "bed_depth": "right_depth",
    "distributor_found": "whole_basket",
}


class TestSigns:
    """The trade's signatures, with the instruments' and the people's errors in them."""

    def test_every_fault_but_the_unknown_one_is_in_the_table(self) -> None:
        assert set(SIGNS) == set(DAMAGES) - {shipped().about.unknown_cause}

    @pytest.mark.parametrize("fault", SIGNS)
    def test_what_must_be_found(self, fault: str) -> None:
        units = [unit(number, fault) for number in range(UNITS)]
        for observation, (wanted, of_ten) in SIGNS[fault].items():
            outcomes = [one.answer(observation).outcome for one in units]
            found = sum(outcome in wanted for outcome in outcomes)
            assert found >= of_ten, f"{observation}: {outcomes}"

    @pytest.mark.parametrize("fault", [f for f in DAMAGES if f not in ("under_rinsed",)])
    def test_it_made_itself_felt(self, fault: str) -> None:
        """A call was made, nearly always for something that could be said."""
        said = [unit(number, fault).complaints for number in range(UNITS)]
        assert sum(bool(complaints) for complaints in said) >= 8, said


class TestSound:
    """A unit without a fault."""

    @pytest.mark.parametrize("observation", IN_ORDER)
    def test_shows_nothing_wrong(self, observation: str) -> None:
        """Slips apart: on nine of ten at least."""
        outcomes = [unit(number).answer(observation).outcome for number in range(3 * UNITS)]
        assert outcomes.count(IN_ORDER[observation]) >= 27, outcomes

    def test_has_no_symptoms(self) -> None:
        """On nine of ten: with a day of much use even a sound unit gives some hard water."""
        well = 0
        for number in range(3 * UNITS):
            one = unit(number)
            well += not judging.symptoms(one.house, one.parts, one.log, 7)
        assert well >= 27

    def test_makes_hardly_any_complaint(self) -> None:
        said = [unit(number).complaints for number in range(3 * UNITS)]
        assert sum(bool(complaints) for complaints in said) <= 7, said

    def test_works_and_proves_it(self) -> None:
        units = [unit(number) for number in range(3 * UNITS)]
        assert sum(one.works for one in units) >= 28
        assert [one.prove() for one in units].count("passed") >= 26

    def test_in_the_other_family_too(self) -> None:
        """Oracle of the geometry only: B's units are looked at here while they are sound."""
        units = [
            drawing.with_faults(shipped(), houses.B, f"sound {n}", USUAL, ()) for n in range(20)
        ]
        assert sum(one.works for one in units) >= 18
