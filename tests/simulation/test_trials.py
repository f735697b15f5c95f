"""Runs that can be stopped and go on, and intervals as scipy has them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from brinebayes.checking.ready import ready
from brinebayes.errors import UsageError
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.simulation import trials
from brinebayes.simulation.visits import Served

SMALL = Path(__file__).resolve().parent.parent / "models" / "small"
TOLD = ("valve",)


@pytest.fixture(scope="module")
def small() -> CheckedModel:
    return ready(SMALL)


def trial(visits: int, seed: int = 1) -> trials.Trial:
    return trials.Trial("model", range(visits), seed, TOLD)


def served(policy: str, visit: int, cost: float) -> Served:
    return Served(policy, visit, cost, 1.0, 0.0, 0, 0, 0, 0, "finish", True, ("finish",))


class TestRun:
    """Every policy on every visit, once."""

    def test_goes_on_where_it_was_stopped(self, small: CheckedModel, tmp_path: Path) -> None:
        compared = list(trials.choosers().values())
        whole = trials.run(small, compared, trial(4))
        path = tmp_path / "visits.jsonl"
        trials.run(small, compared, trial(2), path)
        # As if the machine had stopped in the middle of a line.
        path.write_text(path.read_text("utf-8")[:-20], "utf-8")
        seen = []
        again = trials.run(
            small, compared, trial(4), path, lambda done, all: seen.append((done, all))
        )
        assert again == whole
        assert seen == [(1, 4), (2, 4), (3, 4), (4, 4)]
        assert len(path.read_text("utf-8").splitlines()) == 1 + 4 * len(compared)

    def test_refuses_the_file_of_another_run(self, small: CheckedModel, tmp_path: Path) -> None:
        path = tmp_path / "visits.jsonl"
        compared = [trials.choosers()["fixed order"]]
        trials.run(small, compared, trial(1), path)
        with pytest.raises(UsageError, match="another model, seed, site or kind of unit"):
            trials.run(small, compared, trial(1, seed=2), path)

    def test_nobody_is_much_better_than_who_knows_the_cause(self, small: CheckedModel) -> None:
        found = trials.run(small, list(trials.choosers().values()), trial(60, seed=5))
        more = trials.differences(found, "cause known")
        assert all(figure.high > 0.0 for figure in more.values())


class TestFigures:
    """Means with bootstrap intervals, paired by visit."""

    def test_interval_is_that_of_scipy(self) -> None:
        values = np.random.default_rng(1).gamma(2.0, 50.0, 400)
        mine = trials.interval(values)
        theirs = stats.bootstrap(
            (values,), np.mean, n_resamples=20_000, method="percentile", random_state=3
        ).confidence_interval
        assert mine.mean == pytest.approx(values.mean())
        assert mine.low == pytest.approx(theirs.low, rel=0.01)
        assert mine.high == pytest.approx(theirs.high, rel=0.01)

    def test_differences_are_paired(self) -> None:
        """One is always ten dearer: the interval of the difference has no width."""
        visits = [10.0, 250.0, 30.0]
        items = [served("a", i, cost) for i, cost in enumerate(visits)]
        items += [served("b", i, cost + 10.0) for i, cost in enumerate(visits)]
        figure = trials.differences(items, "a")["b"]
        assert (figure.mean, figure.low, figure.high) == pytest.approx((10.0, 10.0, 10.0))

    def test_the_part_of_a_gap(self) -> None:
        """From 100 to 20, a policy at 40 goes three quarters of the way; visits count together."""
        items = [served("fixed", 0, 150.0), served("fixed", 1, 50.0)]
        items += [served("mine", 0, 50.0), served("mine", 1, 30.0)]
        items += [served("best", 0, 30.0), served("best", 1, 10.0)]
        figure = trials.gap_closed(items, "mine", "fixed", "best")
        assert figure.mean == pytest.approx(0.75)
        # One visit alone closes 100 of 120 or 20 of 40.
        assert (figure.low, figure.high) == pytest.approx((0.5, 100 / 120))
        with pytest.raises(UsageError, match="no visit was served"):
            trials.gap_closed(items, "mine", "fixed", "other")

    def test_every_measure_of_every_policy(self) -> None:
        found = trials.figures([served("a", 0, 5.0), served("b", 0, 7.0)])
        assert found["b"]["cost"].mean == 7.0
        assert set(found["a"]) == set(trials.MEASURES)

    def test_call_backs_of_those_finished(self) -> None:
        """Of four visits one is passed on; of the other three one comes back."""
        ends = [("finish", True), ("finish", False), ("finish", True), ("escalate", False)]
        items = [
            replace(served("a", visit, 1.0), end=end, works=works)
            for visit, (end, works) in enumerate(ends)
        ]
        found = trials.figures(items)["a"]
        assert found["called back"].mean == pytest.approx(1 / 4)
        assert found["came back"].mean == pytest.approx(1 / 3)

    def test_nothing_finished_has_no_mean(self) -> None:
        found = trials.figures([replace(served("a", 0, 5.0), end="escalate", works=False)])
        assert np.isnan(found["a"]["came back"].mean)
