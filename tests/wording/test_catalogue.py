"""What a model holds, listed: numbers say in what unit they may be told."""

from __future__ import annotations

from brinebayes.wording.catalogue import listing, listing_text
from tests.situations.situations import shipped


class TestListing:
    """Measures, and observations that take a number."""

    def test_measures_with_their_range_or_their_words(self) -> None:
        rows = {row["id"]: row for row in listing(shipped(), "measures")}
        assert rows["tank_diameter"]["number"] == "from 5 to 24 in"
        assert rows["level_zone"]["values"] == {"salt": "in the salt", "clear": "in clear liquid"}
        assert "number" not in rows["level_zone"]

    def test_observations_that_take_a_number_say_so(self) -> None:
        rows = {row["id"]: row for row in listing(shipped(), "observations")}
        assert rows["static_pressure"]["number"] == "a number in psi may be told"
        assert "number" not in rows["bubbles"]

    def test_in_text(self) -> None:
        text = listing_text(listing(shipped(), "measures"))
        assert "inlet_pressure: Standing pressure at the inlet\n    = from 1 to 150 psi\n" in text
        assert max(map(len, text.splitlines())) <= 80
