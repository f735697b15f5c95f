"""What is written for a reading, understood or refused in one line."""

from __future__ import annotations

import pytest

from brinebayes.errors import UsageError
from brinebayes.knowledge.schema import Instrument
from brinebayes.physics.units import FT, GAL, GPG, GPM, IN, IN_HG, PSI, WT_PERCENT
from brinebayes.readings.text import take


class TestTake:
    """Numbers, their units and their times."""

    def test_a_flow(self) -> None:
        assert take("timed_bucket", "0.6 gpm").value_si == pytest.approx(GPM.to_si(0.6))

    def test_a_bucket_as_it_was_timed(self) -> None:
        """1 gal in 30 s is 2.00 gpm."""
        taken = take("timed_bucket", "1 gal in 30 s")
        assert GPM.from_si(taken.value_si) == pytest.approx(2.0)
        assert taken.steps == ("1 gal in 30 s is 2 gpm",)

    def test_litres_stay_litres(self) -> None:
        assert take("timed_bucket", "5 L in 1 min").steps == ("5 L in 60 s is 5 L/min",)

    @pytest.mark.parametrize(
        ("text", "inches", "minutes"),
        [
            ("0.5 in in 10 min", 0.5, 10),
            ("1/2 in in 10 min", 0.5, 10),
            ('3 1/4" in 600 s', 3.25, 10),
            ("-0.5 in in 10 min", -0.5, 10),
            ("12.7 mm in 0.2 h", 0.5, 12),
            (" 2 inches  in 5 minutes ", 2.0, 5),
        ],
    )
    def test_a_fall_with_its_time(self, text: str, inches: float, minutes: float) -> None:
        taken = take("level_drop", text)
        assert IN.from_si(taken.value_si) == pytest.approx(inches)
        assert taken.seconds == pytest.approx(60 * minutes)

    def test_a_hydrometer_in_any_scale(self) -> None:
        """1.20 at 60 °F is saturation, 26.4 wt% or 100 degrees [P salometer table]."""
        for text in ("1.2025 SG", "100 salometer", "26.395 %"):
            assert WT_PERCENT.from_si(take("hydrometer", text).value_si) == pytest.approx(
                26.4, abs=0.15
            )

    def test_the_time_a_sample_stood(self) -> None:
        assert take("hydrometer", "1.12 SG after 20 min").seconds == pytest.approx(1200)
        assert take("hydrometer", "1.12 SG").seconds is None

    def test_conductivity_as_strength(self) -> None:
        """126 mS/cm is 10 % [M CRC Handbook]."""
        strength = take("conductivity", "126 mS/cm").value_si
        assert WT_PERCENT.from_si(strength) == pytest.approx(10.0, abs=0.01)

    def test_what_was_drawn(self) -> None:
        taken = take("meter_count", "3 gal of 5 gal")
        assert GAL.from_si(taken.value_si) == pytest.approx(3)
        assert taken.drawn_m3 == pytest.approx(GAL.to_si(5))

    def test_suction_and_push(self) -> None:
        assert IN_HG.from_si(take("vacuum_gauge", "20 inHg").value_si) == pytest.approx(20)
        assert PSI.from_si(take("vacuum_gauge", "-2 psi").value_si) == pytest.approx(-2)

    def test_plain_numbers(self) -> None:
        assert FT.from_si(take("length", "35 ft").value_si) == pytest.approx(35)
        assert GPG.from_si(take("hardness_kit", "51.354 mg/L").value_si) == pytest.approx(
            3, abs=1e-3
        )


class TestRefused:
    """Nothing is guessed; the line says what would be right."""

    @pytest.mark.parametrize(
        ("kind", "text", "says"),
        [
            ("timed_bucket", "0,6 gpm", "write a decimal point and no comma: 0.6"),
            ("timed_bucket", "about 2", "write a plain number and its unit"),
            ("timed_bucket", "~2 gpm", "write a plain number"),
            ("timed_bucket", "2 to 3 gpm", "not a range"),
            ("timed_bucket", "-1 gpm", "cannot be negative"),
            ("timed_bucket", "2", "one of these units: gpm, L/min"),
            ("timed_bucket", "2 psi", "one of these units: gpm, L/min"),
            ("timed_bucket", "1 gal", "say in what time, as in 1 gal in 10 min"),
            ("timed_bucket", "1 gal in 0 s", "the time must be above zero"),
            ("timed_bucket", "1 gal in 30 psi", "psi is a pressure, and this is a time"),
            ("timed_bucket", "2 gpm in 30 s", "write only the number and its unit, 2 gpm"),
            ("timed_bucket", "nan gpm", "write a plain number"),
            ("timed_bucket", "1e999 gpm", "too large"),
            ("timed_bucket", "low", "write a plain number"),
            ("timed_bucket", "", "write a number"),
            ("level_drop", "0.5 in", "say in what time, as in 0.5 in in 10 min"),
            ("level_drop", "0.5 in 10 min", "the unit is missing"),
            ("level_drop", "0.5 in after 10 min", "say in what time"),
            ("gauge", "18 psi after 2 min", "write only the number and its unit, 18 psi"),
            ("gauge", "-18 psi", "cannot be negative"),
            ("gauge", "18", "the unit is missing"),
            ("hydrometer", "1.2", "one of these units: SG; wt%"),
            ("hydrometer", "2 SG", "is no brine"),
            ("conductivity", "900 mS/cm", "more than brine"),
            ("meter_count", "3 gal of 0 gal", "must be above zero"),
            ("meter_count", "3 gal of 5 psi", "psi is a pressure"),
            ("hardness_kit", "3 gpg, 3 gpg", "unknown unit"),
            ("length", "35 ft of 1/2 in", "write only the number and its unit, 35 ft"),
        ],
    )
    def test_the_line(self, kind: Instrument, text: str, says: str) -> None:
        with pytest.raises(UsageError) as refusal:
            take(kind, text)
        assert says in str(refusal.value)
        assert "\n" not in str(refusal.value)
