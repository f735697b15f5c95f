"""Repairs as changes of the parts."""

from __future__ import annotations

from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.parts import SOUND
from brinebayes.simulation.unit.repairs import REPAIRS, Luck
from tests.simulation.unit.houses import shipped


def luck(number: int, kind: int = 0) -> Luck:
    """The luck of one try on one unit."""
    return Luck(Chance(f"try {number}"), Chance(f"kind {kind}"))


class TestRepairs:
    """One row per repair of the model."""

    def test_every_repair_of_the_model_has_a_row_and_no_other(self) -> None:
        assert set(REPAIRS) == set(shipped().repairs)

    def test_a_sound_unit_is_hurt_seldom(self) -> None:
        """Harm on reassembly: about one in fifty (judged), never more than one in fifteen."""
        for name, work in REPAIRS.items():
            hurt = sum(work(SOUND, luck(i, i)) != SOUND for i in range(200))
            if name != "enlarge_drain_line":
                assert hurt <= 13, name

    def test_what_cleaning_does_not_move_it_does_not_move_the_next_time(self) -> None:
        clogged = SOUND.changed(nozzle_clear=0.1)
        for kind in range(60):
            tries = {REPAIRS["clean_injector"](clogged, luck(i, kind)).nozzle_clear for i in "abc"}
            assert len(tries) == 1

    def test_power_comes_back_where_it_was_lost(self) -> None:
        """A new transformer is no help for a dead socket, and the other way round."""
        dark = SOUND.changed(power=0.0)
        ways = ("bring_power_back", "replace_transformer", "call_electrician")
        helped = [[REPAIRS[w](dark, luck(0, kind)).power == 1 for w in ways] for kind in range(80)]
        assert all(any(each) for each in helped)
        assert not any(each[0] and each[1] for each in helped)

    def test_a_drive_that_runs_again_brings_the_valve_home(self) -> None:
        stuck = SOUND.changed(motor_dead=True, stands="rinse")
        assert REPAIRS["replace_motor"](stuck, luck(1)).stands == "service"
        still = SOUND.changed(gears_broken=True, motor_dead=True, stands="rinse")
        assert REPAIRS["replace_motor"](still, luck(1)).stands == "rinse"

    def test_settings_follow_today_s_water_and_use(self) -> None:
        changed = REPAIRS["set_hardness"](SOUND.changed(raw=1.5, use=2.0), luck(0))
        assert (changed.hardness_set, changed.use_reckoned) == (1.5, 2.0)
