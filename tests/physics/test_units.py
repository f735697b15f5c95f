"""Trade units against pint, and readings as people type them."""

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinebayes.errors import UsageError
from brinebayes.physics import units
from brinebayes.physics.units import UNITS, Unit, parse, unit

#: Ours -> how pint writes it.
IN_PINT = {
    units.GPM: "gallon/minute",
    units.L_PER_MIN: "liter/minute",
    units.GAL_PER_DAY: "gallon/day",
    units.PSI: "psi",
    units.BAR: "bar",
    units.KPA: "kPa",
    units.IN_HG: "inch_Hg",
    units.IN: "inch",
    units.FT: "foot",
    units.MM: "mm",
    units.CM: "cm",
    units.M: "m",
    units.GAL: "gallon",
    units.LITRE: "liter",
    units.FT3: "foot**3",
    units.LB: "pound",
    units.KG: "kg",
    units.G: "gram",
    units.GR: "grain",
    units.GPG: "grain/gallon",
    units.MG_PER_L: "mg/liter",
    units.GR_PER_FT3: "grain/foot**3",
    units.LB_PER_FT3: "pound/foot**3",
    units.LB_PER_GAL: "pound/gallon",
    units.DEG_F: "degF",
    units.DEG_C: "degC",
    units.MS_PER_CM: "mS/cm",
    units.US_PER_CM: "uS/cm",
    units.WT_PERCENT: "percent",
    units.SECOND: "second",
    units.MINUTE: "minute",
    units.HOUR: "hour",
    units.DAY: "day",
    units.VOLT: "volt",
    units.GR_PER_LB: "grain/pound",
}

#: Not in pint: chemistry and the trade's own scales; their values stand in tests/reference.
NOT_IN_PINT = {
    units.PPM,
    units.MMOL_PER_L,
    units.DEG_DH,
    units.DEG_FH,
    units.SALOMETER,
    units.SG,
}

SI = {
    "flow": "m**3/s",
    "pressure": "Pa",
    "length": "m",
    "volume": "m**3",
    "mass": "kg",
    "concentration": "kg/m**3",
    "temperature": "K",
    "conductivity": "S/m",
    "brine strength": "dimensionless",
    "time": "s",
    "voltage": "V",
    "salt efficiency": "dimensionless",
}


class TestUnit:
    """Every unit converts both ways and is checked against an outside library."""

    registry = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)

    @pytest.mark.parametrize(("ours", "theirs"), IN_PINT.items(), ids=lambda x: str(x)[:24])
    @pytest.mark.parametrize("number", [0.6, 35.0, 212.0])
    def test_agrees_with_pint(self, ours: Unit, theirs: str, number: float) -> None:
        expected = self.registry.Quantity(number, theirs).to(SI[ours.dimension]).magnitude
        assert ours.to_si(number) == pytest.approx(expected, rel=1e-8)

    def test_every_unit_is_checked_somewhere(self) -> None:
        assert set(UNITS) == set(IN_PINT) | NOT_IN_PINT

    @given(st.sampled_from(UNITS), st.floats(-1e6, 1e6))
    def test_there_and_back(self, some: Unit, number: float) -> None:
        assert some.from_si(some.to_si(number)) == pytest.approx(number, rel=1e-9, abs=1e-9)

    @given(st.sampled_from(UNITS), st.floats(0, 1e6))
    def test_a_larger_number_is_a_larger_quantity(self, some: Unit, number: float) -> None:
        assert some.to_si(number + 1) > some.to_si(number)

    def test_shows_what_a_reader_writes(self) -> None:
        assert units.GPM.show(units.GPM.to_si(2.7132)) == "2.71 gpm"
        assert units.GR.show(units.GR.to_si(30_000)) == "30,000 gr"
        assert units.DEG_F.show(units.DEG_F.to_si(60)) == "60 °F"


class TestFindUnit:
    """Spellings and case are forgiven, unknown names are not."""

    @pytest.mark.parametrize(
        ("name", "found"),
        [
            ("GPM", units.GPM),
            ("gal / min", units.GPM),
            ("l/MIN", units.L_PER_MIN),
            ("PSI", units.PSI),
            ('"', units.IN),
            ("uS/cm", units.US_PER_CM),
            ("μS/cm", units.US_PER_CM),
            ("F", units.DEG_F),
            ("°fH", units.DEG_FH),
            ("gr", units.GR),
            ("g", units.G),
        ],
    )
    def test_spellings(self, name: str, found: Unit) -> None:
        assert unit(name) is found

    def test_no_two_units_share_a_spelling_in_any_case(self) -> None:
        words = [w.casefold() for u in UNITS for w in {u.symbol, *u.spellings}]
        assert len(words) == len(set(words))

    def test_unknown(self) -> None:
        with pytest.raises(UsageError, match=r'unknown unit "gmp" \(did you mean "gpm"\?\)'):
            unit("gmp")


class TestParse:
    """A reading is one plain number with its unit."""

    @pytest.mark.parametrize(
        ("text", "value_si", "dimension", "as_given"),
        [
            ("0.6 gpm", 0.6 * 231 * 0.0254**3 / 60, "flow", "gpm"),
            ("35psi", 35 * 0.45359237 * 9.80665 / 0.0254**2, "pressure", "psi"),
            (" 2.0 L/min ", 2e-3 / 60, "flow", "L/min"),
            ("3 1/4 in", 3.25 * 0.0254, "length", "in"),
            ("3-1/4 in", 3.25 * 0.0254, "length", "in"),
            ('1/2"', 0.5 * 0.0254, "length", "in"),
            (".5 bar", 5e4, "pressure", "bar"),
            ("-4 °F", 253.15, "temperature", "°F"),
            ("26.4 wt%", 0.264, "brine strength", "wt%"),
            ("1.5e1 min", 900.0, "time", "min"),
            ("0 gpm", 0.0, "flow", "gpm"),
        ],
    )
    def test_reads(self, text: str, value_si: float, dimension: str, as_given: str) -> None:
        quantity = parse(text)
        assert quantity.value_si == pytest.approx(value_si, rel=1e-12)
        assert (quantity.dimension, quantity.unit.symbol) == (dimension, as_given)

    @given(st.sampled_from(UNITS), st.floats(0, 1e9))
    def test_reads_what_was_written(self, some: Unit, number: float) -> None:
        assert parse(f"{number!r} {some.symbol}", some.dimension).number == number

    @pytest.mark.parametrize(
        ("text", "says"),
        [
            ("2,0 L/min", "write a decimal point and no comma: 2.0"),
            ("1,200 gal", "write a decimal point and no comma: 1.200 (or 1200, if that is meant)"),
            ("-3 gpm", "a flow cannot be negative here"),
            ("−3 gpm", "a flow cannot be negative here"),
            ("about 2", "write a plain number and its unit, such as 2 gpm"),
            ("about 2 gpm", "write a plain number and its unit"),
            ("~2 gpm", "write a plain number and its unit"),
            (">5 gpm", "write a plain number and its unit"),
            ("", "write a plain number and its unit"),
            ("gpm", "write a plain number and its unit"),
            ("nan gpm", "write a plain number and its unit"),
            ("1 2 gpm", "write a plain number and its unit"),
            ("1.2.3 gpm", "write a plain number and its unit"),
            ("2-3 gpm", "write the one number that was read, not a range"),
            ("2 to 3 gpm", "write the one number that was read, not a range"),
            ("2", "the unit is missing: write one of gpm, L/min"),
            ("0.6 gmp", 'unknown unit "gmp" (did you mean "gpm"?)'),
            ("0.6 xyzzy", 'unknown unit "xyzzy"'),
            ("35 psi", "psi is a pressure, and this is a flow: write one of gpm, L/min"),
            ("1/0 gpm", "a fraction over zero is no number"),
            ("1e999 gpm", "the number is too large to be a reading"),
        ],
    )
    def test_refuses_in_one_clear_line(self, text: str, says: str) -> None:
        with pytest.raises(UsageError) as refused:
            parse(text, "flow")
        assert says in str(refused.value)
        assert str(refused.value).startswith(f'"{text}": ')
        assert "\n" not in str(refused.value)

    def test_colder_than_possible(self) -> None:
        with pytest.raises(UsageError, match="colder than absolute zero"):
            parse("-500 °F")

    def test_a_rise_is_allowed_where_the_caller_says_so(self) -> None:
        assert parse("-1 in", "length", signed=True).value_si == pytest.approx(-0.0254)

    @given(st.text(max_size=20))
    def test_any_text_is_read_or_refused(self, text: str) -> None:
        try:
            parse(text)
        except UsageError as refused:
            assert str(refused)  # noqa: PT017 - either outcome is right, no other error is
