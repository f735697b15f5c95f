"""The invented cases: what is in them, and that they come from their script."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache

import pytest

from brinebayes.cases.find import checked
from brinebayes.cases.lines import read_cases, to_line
from brinebayes.cases.record import Case
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.shipped import case_file, model_folder
from brinebayes.network.odds import base
from brinebayes.visit.events import CouldNot, Undo
from tests.cases.harbour import town as differences
from tests.cases.harbour.__main__ import PATH
from tests.cases.harbour.town import town
from tests.cases.harbour.visits import COUNT, case


@cache
def model() -> Model:
    """The shipped model."""
    return read_model(model_folder())


@cache
def cases() -> tuple[Case, ...]:
    """All of them."""
    return tuple(read_cases(PATH))


class TestFile:
    """The shipped file."""

    def test_it_is_found_by_its_name(self) -> None:
        assert case_file("harbour") == PATH

    def test_all_of_them_are_labelled_and_known_to_the_model(self) -> None:
        assert len(cases()) == COUNT >= 300
        assert all(one.invented for one in cases())
        assert checked(model(), cases()).problems == ()

    def test_nobody_calls_without_a_word(self) -> None:
        assert all(one.complaints for one in cases())

    def test_they_are_as_uneven_as_a_shops_own(self) -> None:
        """Not everything is found, checked, proven or known."""
        confirmed = Counter(min(len(one.confirmed), 2) for one in cases())
        assert min(confirmed[0], confirmed[1], confirmed[2]) >= 10
        assert {f.how for one in cases() for f in one.confirmed} == {
            *("seen", "repaired_and_proven", "repaired_only", "judged")
        }
        assert len({one.ended for one in cases()}) == 5
        assert min(Counter(one.call_back for one in cases()).values()) >= 10
        events = [event for one in cases() for event in one.events]
        assert sum(isinstance(event, CouldNot) for event in events) > 10
        assert sum(isinstance(event, Undo) for event in events) > 5
        assert len({one.technician for one in cases()}) == 6

    @pytest.mark.parametrize("number", range(1, COUNT + 1, 30))
    def test_the_script_makes_the_same_lines(self, number: int) -> None:
        """Written anew by `python -m tests.cases.harbour` after a change of the model's numbers.

        A change that touches no number (a note, a name) leaves all but the hash as it is.
        """
        line = PATH.read_text(encoding="utf-8").splitlines(keepends=True)[number - 1]
        made = case(model(), town(model()), number)
        assert to_line(replace(made, model=cases()[number - 1].model)) == line


class TestTown:
    """The harbour is the model but for the differences that are stated."""

    def test_every_name_exists(self) -> None:
        known = model()
        assert set(differences.SHARES) <= set(known.faults)
        assert set(differences.MINUTES) <= set(known.checks)
        for condition, shares in differences.SITES.items():
            assert set(shares) < set(known.site[condition].values)
        for repair, fault in differences.CLEARS:
            assert fault in known.repairs[repair].clears
        for observation in differences.MISREAD:
            assert known.observation(observation)

    def test_shares_of_sites_sum_to_one(self) -> None:
        for condition in town(model()).site.values():
            total = sum(value.share.value for value in condition.values.values())
            assert total == pytest.approx(1.0, abs=1e-9)

    def test_there_are_odds_that_give_its_shares(self) -> None:
        harbour = town(model())
        odds = base(harbour)
        share = harbour.faults["salt_bridge"].share.value
        assert share == 2.0 * model().faults["salt_bridge"].share.value
        assert odds.before["salt_bridge"] / odds.call == pytest.approx(share, rel=1e-9)
