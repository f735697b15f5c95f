"""Numbers of the site: as told, or as sites usually are, and never guessed."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from brinebayes.errors import UsageError
from brinebayes.knowledge.reading import read_model
from brinebayes.physics.units import FT3, GPG, IN
from brinebayes.readings.site import USUAL_RESIN_FACTOR, check, known
from tests.situations.situations import shipped

SMALL = read_model(Path(__file__).parents[1] / "models" / "small")


class TestKnown:
    """What goes into a comparison."""

    def test_a_told_measure_is_as_sure_as_its_telling(self) -> None:
        found = known(SMALL, ["raw_hardness"], {"raw_hardness": "20 gpg"})["raw_hardness"]
        assert GPG.from_si(found.value_si) == pytest.approx(20)
        assert found.sigma == pytest.approx(math.log(1.05))
        assert found.told

    def test_an_untold_one_is_as_wide_as_the_model_says(self) -> None:
        found = known(SMALL, ["raw_hardness"], {})["raw_hardness"]
        assert GPG.from_si(found.value_si) == pytest.approx(12)
        assert found.sigma == pytest.approx(math.log(1.8))
        assert not found.told
        assert "not told" in found.says

    def test_words_have_their_values(self) -> None:
        found = known(SMALL, ["level_zone"], {"level_zone": "salt"})["level_zone"]
        assert (found.value_si, found.sigma) == (0.45, pytest.approx(math.log(1.15)))

    def test_words_that_were_not_told_are_a_mixture(self) -> None:
        """Mean and variance of ln x: 0.75 of ln 0.45 +- ln 1.15, 0.25 of 0 +- ln 1.01, by the law
        of total variance."""
        a, b = math.log(0.45), 0.0
        mean = 0.75 * a + 0.25 * b
        variance = 0.75 * math.log(1.15) ** 2 + 0.25 * math.log(1.01) ** 2
        variance += 0.75 * 0.25 * (a - b) ** 2
        found = known(SMALL, ["level_zone"], {})["level_zone"]
        assert math.log(found.value_si) == pytest.approx(mean)
        assert found.sigma == pytest.approx(math.sqrt(variance))

    def test_what_the_model_lacks_is_left_out(self) -> None:
        assert known(SMALL, ["tank_diameter"], {}) == {}

    def test_a_figure_that_nobody_told_is_left_out(self) -> None:
        assert known(shipped(), ["backwash_figure"], {}) == {}

    def test_the_tank_tells_its_resin(self) -> None:
        """10 in holds 1.5 ft3 [common practice, no source]."""
        found = known(shipped(), ["resin_volume"], {"tank_diameter": "10 in"})["resin_volume"]
        assert FT3.from_si(found.value_si) == pytest.approx(1.5)
        assert found.sigma == pytest.approx(math.log(USUAL_RESIN_FACTOR))

    def test_resin_that_was_told_outweighs_the_tank(self) -> None:
        told = {"tank_diameter": "10 in", "resin_volume": "1 ft3"}
        found = known(shipped(), ["resin_volume"], told)["resin_volume"]
        assert FT3.from_si(found.value_si) == pytest.approx(1.0)

    def test_any_unit_of_its_kind_will_do(self) -> None:
        found = known(shipped(), ["tank_diameter"], {"tank_diameter": "25.4 cm"})
        assert IN.from_si(found["tank_diameter"].value_si) == pytest.approx(10)


class TestRefused:
    """A value that cannot be is refused in one line."""

    @pytest.mark.parametrize(
        ("name", "text", "says"),
        [
            ("tank_diameter", "10 kg", "kg is a mass, and this is a length"),
            ("tank_diameter", "10", "the unit is missing"),
            ("tank_diameter", "10,5 in", "no comma: 10.5"),
            ("tank_diameter", "100 in", "is not between 5 and 24 in; look again"),
            ("tank_diameter", "-10 in", "cannot be negative"),
            ("inlet_pressure", "0 psi", "is not between 1 and 150 psi"),
            ("level_zone", "mud", "is none of its words"),
            ("level_zone", "0.45", "is none of its words"),
            ("level_zone", "slat", "did you mean salt?"),
            ("tank_diametre", "10 in", "did you mean tank_diameter?"),
        ],
    )
    def test_the_line(self, name: str, text: str, says: str) -> None:
        with pytest.raises(UsageError) as refusal:
            check(shipped(), name, text)
        assert says in str(refusal.value)

    def test_a_drain_that_runs_down_is_told_with_a_minus(self) -> None:
        check(shipped(), "drain_rise", "-6 ft")

    def test_both_ends_of_the_range_may_be_told(self) -> None:
        check(shipped(), "tank_diameter", "24 in")
        check(shipped(), "tank_diameter", "60.96 cm")
