"""A metric shop is shown other units, and every number means what it meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from brinebayes.errors import UsageError
from brinebayes.knowledge.metric import metric
from brinebayes.knowledge.reading import read_model
from brinebayes.physics import units
from brinebayes.readings import site
from brinebayes.readings.interpret import interpret

SHIPPED = read_model(Path(__file__).resolve().parents[2] / "models" / "softener")
SHOWN = metric(SHIPPED)
METHODS = {
    name: item.reading
    for check in SHIPPED.checks.values()
    for name, item in check.observations.items()
    if item.reading
}
#: Instrument -> what follows the number.
TAILS = {"level_drop": " in 10 min", "meter_count": " of 5 gal"}
#: Instrument -> the unit it is read in, where what it tells is shown in another.
READ_IN = {"conductivity": "mS/cm"}
#: Shares of the largest number that may be read.
SHARES = (0.02, 0.1, 0.3, 0.8)


class TestMetric:
    """Only the unit in which a number is shown changes."""

    @pytest.mark.parametrize("share", SHARES)
    @pytest.mark.parametrize("name", METHODS)
    def test_a_reading_says_the_same(self, name: str, share: float) -> None:
        method = METHODS[name]
        number = share * method.greatest.value
        unit = READ_IN.get(method.kind, method.unit)
        text = f"{number:.4g} {unit}{TAILS.get(method.kind, '')}"
        before, after = interpret(SHIPPED, name, text), interpret(SHOWN, name, text)
        assert after.likelihood == pytest.approx(before.likelihood, rel=1e-9)
        assert after.outcome == before.outcome
        assert (after.challenge is None) == (before.challenge is None)
        assert after.not_told == before.not_told

    @pytest.mark.parametrize("name", METHODS)
    def test_no_unit_of_the_old_kind_is_shown(self, name: str) -> None:
        """What was typed stands as typed; the rest is metric."""
        method = SHOWN.checks[_check_of(name)].observations[name].reading
        assert method is not None
        assert units.unit(method.unit) not in units.US

    @pytest.mark.parametrize("name", [n for n, item in SHIPPED.measures.items() if item.unit])
    def test_a_measure_keeps_its_limits(self, name: str) -> None:
        """The least that was allowed still is, a little less is not."""
        old, new = SHIPPED.measures[name], SHOWN.measures[name]
        assert units.unit(new.unit) not in units.US
        assert old.least is not None
        assert old.greatest is not None
        site.check(SHOWN, name, f"{old.least.value:.10g} {old.unit}")
        site.check(SHOWN, name, f"{old.greatest.value:.10g} {old.unit}")
        with pytest.raises(UsageError, match=f"not between .* and .* {new.unit}"):
            site.check(SHOWN, name, f"{2 * old.greatest.value:.10g} {old.unit}")

    def test_an_expected_flow_in_litres(self) -> None:
        """2 gpm are 7.57 L/min by the definition of the gallon (231 cubic inches)."""
        found = interpret(SHOWN, "backwash_at_drain", "2 gpm", {"tank_diameter": "25 cm"})
        assert found.unit == "L/min"
        assert found.value == pytest.approx(2 * 231 * 0.0254**3 * 1000)
        assert "gpm expected" not in found.says
        assert "L/min expected" in found.says


def _check_of(observation: str) -> str:
    return next(n for n, check in SHIPPED.checks.items() if observation in check.observations)
