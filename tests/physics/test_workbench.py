"""The trade's sums on their own: values, units, sources and the usual caution."""

import pytest

from brinebayes.errors import UsageError
from brinebayes.physics import workbench
from brinebayes.physics.hydraulics import Tube
from brinebayes.physics.measurement import Estimate, within
from brinebayes.physics.units import (
    FT,
    FT3,
    GAL,
    GPG,
    GPM,
    GR,
    IN,
    LB_PER_FT3,
    MINUTE,
    PSI,
)
from brinebayes.physics.workbench import Figure, Worked

HALF_INCH = Tube(FT.to_si(20), IN.to_si(0.5))


def shown(worked: Worked) -> dict[str, str]:
    """Results by name, as a reader sees them."""
    return {figure.name: figure.text for figure in worked.results}


ALL = (
    workbench.drain_tubing(GPM.to_si(2), HALF_INCH, PSI.to_si(5)),
    workbench.expected_flows(IN.to_si(9), FT3.to_si(1)),
    workbench.draw_rate(within(IN.to_si(3), 0.005), Estimate(600), Estimate(0.457), Estimate(1.0)),
    workbench.salt_dose(FT3.to_si(1), LB_PER_FT3.to_si(6), GPM.to_si(0.5), GPM.to_si(0.35)),
    workbench.days_between_regenerations(GR.to_si(30_000), GPG.to_si(20), GAL.to_si(300)),
    workbench.hardness_units(GPG.to_si(20)),
)


@pytest.mark.parametrize("worked", ALL, ids=lambda worked: worked.title)
class TestEverySum:
    """What every worked sum must carry."""

    def test_says_where_it_comes_from(self, worked: Worked) -> None:
        assert worked.formula
        assert worked.inputs
        assert worked.assumptions
        assert worked.sources

    def test_names_each_result_once(self, worked: Worked) -> None:
        names = [figure.name for figure in worked.results]
        assert len(names) == len(set(names))

    def test_every_figure_reads_as_number_and_unit(self, worked: Worked) -> None:
        for figure in (*worked.results, *worked.inputs):
            number, unit = figure.text.split(" ", 1)
            assert float(number.replace(",", "")) == pytest.approx(
                figure.unit.from_si(figure.value_si), rel=0.006, abs=0.006
            )
            assert unit.startswith(figure.unit.symbol)


class TestDrainTubing:
    """Loss per 100 ft from a published table [P], lift 0.433 psi/ft [X]."""

    def test_friction_and_lift(self) -> None:
        line = Tube(FT.to_si(100), IN.to_si(0.545), rise_m=FT.to_si(8))
        worked = workbench.drain_tubing(GPM.to_si(2), line, PSI.to_si(20))
        friction, lift, total, _ = (PSI.from_si(figure.value_si) for figure in worked.results)
        assert friction == pytest.approx(3.44, rel=0.1)
        assert lift == pytest.approx(8 * 0.433, rel=2e-3)
        assert total == pytest.approx(friction + lift)

    def test_flow_at_its_own_back_pressure_is_the_flow_asked_for(self) -> None:
        line = Tube(FT.to_si(30), IN.to_si(0.5), rise_m=FT.to_si(4))
        back = workbench.drain_tubing(GPM.to_si(2), line, PSI.to_si(20)).results[2].value_si
        again = workbench.drain_tubing(GPM.to_si(2), line, back)
        assert GPM.from_si(again.results[3].value_si) == pytest.approx(2.0, rel=1e-6)

    @pytest.mark.parametrize(
        ("feet", "inches", "warns"), [(15, 0.5, False), (25, 0.5, True), (25, 0.75, False)]
    )
    def test_twenty_feet_is_the_limit_of_half_inch(
        self, feet: float, inches: float, warns: bool
    ) -> None:
        """Common practice, no source."""
        line = Tube(FT.to_si(feet), IN.to_si(inches))
        notes = workbench.drain_tubing(GPM.to_si(2), line, PSI.to_si(20)).notes
        assert any("three-quarter inch" in note for note in notes) == warns

    def test_says_when_the_line_cannot_carry_the_flow(self) -> None:
        line = Tube(FT.to_si(20), IN.to_si(0.5), rise_m=FT.to_si(10))
        notes = workbench.drain_tubing(GPM.to_si(2), line, PSI.to_si(3)).notes
        assert "the line cannot carry this flow at this pressure" in notes

    def test_defers_to_the_local_code_on_the_air_gap(self) -> None:
        assert "local code decides" in ALL[0].notes[-1]

    def test_refuses_a_bore_of_nothing(self) -> None:
        with pytest.raises(UsageError, match="bore must be above zero, and is 0 in"):
            workbench.drain_tubing(1e-4, Tube(1.0, 0.0), 1e5)


class TestExpectedFlows:
    """A 9 in tank with 1 ft3."""

    def test_backwash_is_about_2_2_gpm(self) -> None:
        """5 gpm/ft2 [C]; the published range is 4.9 to 8.2 gpm/ft2 [P Davis, table 8-2]."""
        backwash, low, high = (GPM.from_si(f.value_si) for f in ALL[1].results[:3])
        assert backwash == pytest.approx(2.2, abs=0.05)
        assert (low, high) == pytest.approx((4.9 * 0.4418, 8.2 * 0.4418), rel=5e-3)

    def test_brine_step_and_rinse_by_resin(self) -> None:
        """0.25-0.40 [P certification column 2014] and 1.5-2 gpm/ft3 [P UFC 3-240-13FN]."""
        assert [GPM.from_si(f.value_si) for f in ALL[1].results[3:7]] == pytest.approx(
            [0.25, 0.40, 1.5, 2.0]
        )


class TestDrawRate:
    """3.0 in in 10 min in an 18 in tank [X]."""

    @pytest.mark.parametrize(("open_part", "text"), [(1.0, "0.33 gpm"), (0.45, "0.149 gpm")])
    def test_clear_and_in_salt(self, open_part: float, text: str) -> None:
        worked = workbench.draw_rate(
            Estimate(IN.to_si(3)), Estimate(600), Estimate(IN.to_si(18)), Estimate(open_part)
        )
        assert shown(worked)["draw"] == text

    def test_shows_its_uncertainty(self) -> None:
        worked = workbench.draw_rate(
            within(IN.to_si(3), IN.to_si(0.2)),
            within(600, 3),
            Estimate(IN.to_si(18), IN.to_si(0.05)),
            Estimate(1.0),
        )
        assert shown(worked)["draw"] == "0.33 gpm ± 0.013"

    def test_a_rising_level_is_named(self) -> None:
        worked = workbench.draw_rate(
            Estimate(IN.to_si(-1)), Estimate(600), Estimate(IN.to_si(18)), Estimate(1.0)
        )
        assert worked.results[0].value_si < 0
        assert "pushed into the brine tank" in worked.notes[0]

    @pytest.mark.parametrize(("in_salt", "gpm", "u"), [(False, 0.330, 0.013), (True, 0.149, 0.017)])
    def test_by_tape(self, in_salt: bool, gpm: float, u: float) -> None:
        """0.330 +- 0.013 in clear liquid, 0.149 +- 0.017 in salt [X]."""
        worked = workbench.draw_by_tape(IN.to_si(3), 600, IN.to_si(18), in_salt)
        (draw,) = worked.results
        assert GPM.from_si(draw.value_si) == pytest.approx(gpm, abs=5e-4)
        assert draw.u_si is not None
        assert GPM.from_si(draw.u_si) == pytest.approx(u, abs=6e-4)

    @pytest.mark.parametrize(
        ("seconds", "open_part", "says"),
        [
            (0.0, 1.0, "time must be above zero, and is 0 min"),
            (60.0, 0.0, "the open part must be above 0 and at most 1, and is 0"),
            (60.0, 45.0, "the open part must be above 0 and at most 1, and is 45"),
        ],
    )
    def test_refuses(self, seconds: float, open_part: float, says: str) -> None:
        with pytest.raises(UsageError, match=says):
            workbench.draw_rate(
                Estimate(0.1), Estimate(seconds), Estimate(0.45), Estimate(open_part)
            )


class TestSaltDose:
    """1.5 ft3 at 6 lb/ft3 [X]: 9 lb, 3.01 gal of refill in 6.0 min, 3.40 gal of brine."""

    def test_worked_example(self) -> None:
        worked = workbench.salt_dose(
            FT3.to_si(1.5), LB_PER_FT3.to_si(6), GPM.to_si(0.5), GPM.to_si(0.35)
        )
        values = {f.name: f.unit.from_si(f.value_si) for f in worked.results}
        assert values["salt"] == pytest.approx(9.0)
        assert values["refill water"] == pytest.approx(3.01, abs=0.01)
        assert values["refill time"] == pytest.approx(6.0, abs=0.05)
        assert values["brine"] == pytest.approx(3.40, abs=0.01)
        assert values["draw time"] == pytest.approx(9.7, abs=0.05)
        # A third of the way from 20,000 at 5 lb to 24,000 at 8 lb [P trade journal 2015].
        assert values["capacity"] == pytest.approx(1.5 * (20_000 + 4_000 / 3))

    def test_refuses_a_dose_that_nothing_is_known_of(self) -> None:
        with pytest.raises(UsageError, match="not at 20 lb/ft³"):
            workbench.salt_dose(1.0, LB_PER_FT3.to_si(20), 1e-5, 1e-5)


class TestDays:
    """4 people x 75 gal x 20 gpg on 30,000 gr less a day's reserve [X]: 1,200 gal, 4 days."""

    def test_worked_example(self) -> None:
        assert shown(ALL[4]) == {
            "hardness removed a day": "6,000 gr",
            "water between regenerations": "1,200 gal",
            "days": "4 d",
        }

    def test_says_when_the_unit_is_too_small(self) -> None:
        worked = workbench.days_between_regenerations(
            GR.to_si(5_000), GPG.to_si(20), GAL.to_si(300)
        )
        assert worked.results[2].value_si == 0.0
        assert "too small" in worked.notes[0]


class TestHardness:
    """20 gpg in every unit, from the published 17.118 mg/L, 0.17103 mmol/L and 7.86 mg/L [P]."""

    def test_units_and_sodium(self) -> None:
        values = [f.unit.from_si(f.value_si) for f in ALL[5].results]
        expected = [20, 342.36, 3.4206, 342.36 / 17.848, 34.236, 157.2]
        assert values == pytest.approx(expected, rel=1e-3)

    def test_refers_to_a_physician(self) -> None:
        assert "physician" in ALL[5].notes[0]

    def test_refuses_negative(self) -> None:
        with pytest.raises(UsageError, match="cannot be negative"):
            workbench.hardness_units(-0.1)


def test_minutes_are_shown_as_minutes() -> None:
    """A figure shows its value in its own unit, whatever SI holds."""
    assert Figure("time", MINUTE.to_si(6), MINUTE).text == "6 min"
