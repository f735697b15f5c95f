"""From cases to what would change, as a whole."""

from __future__ import annotations

from dataclasses import replace

import pytest

from brinebayes.cases.record import Case
from brinebayes.errors import DataError, NotBetterError, UsageError
from brinebayes.knowledge.schema import Model
from brinebayes.tuning.changes import Change
from brinebayes.tuning.gather import Terms
from brinebayes.tuning.numbers import Path
from brinebayes.tuning.tune import Tuning, tune
from brinebayes.tuning.write import edits
from tests.tuning.conftest import FOLDER, OTHERWISE
from tests.tuning.simulated import cases

LATER = Terms("2026-06-01")


@pytest.fixture(scope="module")
def tuned(small: Model, visits: tuple[Case, ...]) -> Tuning:
    """The usual groups, learned from all visits."""
    return tune(small, lambda: iter(visits), LATER)


def changed(tuning: Tuning, key: Path) -> Change:
    """What becomes of one number."""
    return next(one for one in tuning.changes if one.entry.key == key)


class TestTune:
    """A shop whose units are otherwise than the model says."""

    @pytest.mark.parametrize("key", list(OTHERWISE))
    def test_what_is_otherwise_is_found(self, tuned: Tuning, key: Path) -> None:
        """Most of the way from what was held to what is so, and what was held is at the end of the
        interval or beyond; how often that holds the truth is measured in `tests/bench/tuning`."""
        found, truth = changed(tuned, key), OTHERWISE[key][0]
        assert not found.stays
        assert abs(found.new[0] - truth) < 0.5 * abs(found.old[0] - truth)
        assert found.surprise > 0.9

    def test_most_of_the_rest_is_not_called_wrong(self, tuned: Tuning) -> None:
        rest = [one for one in tuned.changes if one.entry.key not in OTHERWISE]
        wrong = [one for one in rest if not one.stays and one.surprise > 1.0]
        assert len(wrong) <= len(rest) // 5

    def test_better_on_cases_kept_back(self, tuned: Tuning) -> None:
        assert tuned.accepted
        assert tuned.verdict.record.gain > 0.0
        assert tuned.verdict.record.cases == pytest.approx(75, abs=3)

    def test_numbers_without_cases_stay(self, tuned: Tuning) -> None:
        few = changed(tuned, ("checks", "hardness_test", "minutes"))
        assert few.stays == "few"
        assert few.new == few.old

    def test_a_second_time_with_the_same_cases_there_is_nothing_left(
        self, small: Model, visits: tuple[Case, ...], tuned: Tuning
    ) -> None:
        injector = small.faults["injector_clogged"]
        share = replace(injector.share, basis="learned", cases=300, learned_on="2026-01-01")
        faults = {**small.faults, "injector_clogged": replace(injector, share=share)}
        with pytest.raises(DataError, match="300 are in the numbers already"):
            tune(replace(small, faults=faults), lambda: iter(visits), LATER)

    def test_where_nothing_is_otherwise_nothing_worse_is_written(self, small: Model) -> None:
        """Numbers learned from few cases of units that are as the model says; whatever comes out,
        it is written only if it did better on the rest."""
        few = tuple(cases(small, small, 60, seed=9))
        found = tune(small, lambda: iter(few), LATER, ("shares",), 0.6)
        if found.verdict.record.gain > 0.0:
            assert found.accepted
        else:
            with pytest.raises(NotBetterError):
                edits(found, FOLDER)

    def test_few_cases_are_never_enough(self, small: Model, visits: tuple[Case, ...]) -> None:
        found = tune(small, lambda: iter(visits[:40]), LATER, ("shares",))
        assert not found.accepted
        with pytest.raises(NotBetterError, match="too few"):
            edits(found, FOLDER)

    def test_an_unknown_group(self, small: Model, visits: tuple[Case, ...]) -> None:
        with pytest.raises(UsageError, match="did you mean shares"):
            tune(small, lambda: iter(visits), LATER, ("share",))
