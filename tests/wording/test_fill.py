"""Numbers and templates as a reader meets them."""

from __future__ import annotations

import string

import pytest

from brinebayes.wording.fill import fill, minutes, money, share, templates


class TestShare:
    """Whole per cent, and never a certainty that is none."""

    @pytest.mark.parametrize(
        ("value", "text"),
        [
            (0.0, "0 %"),
            (0.004, "under 1 %"),
            (0.01, "1 %"),
            (0.456, "46 %"),
            (0.99, "99 %"),
            (0.9951, "over 99 %"),
            (1.0, "100 %"),
        ],
    )
    def test_words(self, value: float, text: str) -> None:
        assert share(value) == text


class TestMinutes:
    """Waiting is named only where there is any."""

    def test_without_waiting(self) -> None:
        assert minutes(9.4, 0.0) == "9 min"

    def test_with_waiting(self) -> None:
        assert minutes(4.0, 12.0) == "4 min + 12 min waiting"


class TestFill:
    """Places are written by their names."""

    def test_shares_money_and_words(self) -> None:
        values: dict[str, str | float] = {
            "first_share": 0.5,
            "expected_cost": 12.6,
            "bits": 0.51,
            "currency": "EUR",
            "who": "x",
        }
        text = fill("{who} {first_share} {expected_cost} {bits}", values)
        assert text == f"x 50 % {money(12.6, 'EUR')} 0.5"

    def test_every_template_names_only_places_that_a_reason_can_fill(self) -> None:
        known = {
            "leader", "leader_share", "works", "works_after", "bits", "expected_cost", "currency",
            "target", "target_share", "unknown_share", "saves",
            "first_outcome", "first_fault", "first_share",
            "second_outcome", "second_fault", "second_share",
        }  # fmt: skip
        for template in templates()["reasons"].values():
            places = {name for _, name, _, _ in string.Formatter().parse(template) if name}
            assert places <= known, template
