"""How sure a learned number is."""

from __future__ import annotations

import pytest

from brinebayes.knowledge.schema import Model
from brinebayes.tuning.chunk import chunk
from brinebayes.tuning.em import fit
from brinebayes.tuning.intervals import Known, beta_interval, intervals, narrower
from brinebayes.tuning.told import Told
from tests.tuning.made import model, names_of, number, observation, row, saw

#: Two faults that everybody calls about.
SHARES = {"a": number(0.5), "b": number(0.2)}


def made(weight: float) -> Model:
    """What is seen tells the fault for sure; how often that is so is to be learned."""
    seen = observation(
        ("x", "y"),
        [row({"a": "present"}, {"x": 0.7, "y": 0.3}, weight), row({}, {"y": 1.0}, weight)],
    )
    return model(SHARES, number(0.4), {"o": seen})


def weight_of(cases: list[tuple[Told, float]], prior: float) -> float:
    """Equivalent sample size of the row's first outcome."""
    one = made(prior)
    whole = chunk(one, cases)
    found = fit(one, lambda: iter([whole]), ("observations",), names_of(cases))
    known = intervals(found)
    return known["checks", "look", "observations", "o", "rows", 0, "gives"][0].weight


class TestIntervals:
    """Information in whole and in partial records."""

    def test_whole_records_count_one_each(self) -> None:
        one = made(10.0)
        cases = [
            (saw(one, {"a": "present", "o": "x"}), 70.0),
            (saw(one, {"a": "present", "o": "y"}), 30.0),
            (saw(one, {"a": "absent", "o": "y"}), 100.0),
        ]
        assert weight_of(cases, 10.0) == pytest.approx(110.0, rel=1e-6)

    def test_what_never_came_about_counts_too(self) -> None:
        """Beta(7, 3) and a hundred records without: Beta(7, 103)."""
        one = made(10.0)
        cases = [
            (saw(one, {"a": "present", "o": "y"}), 100.0),
            (saw(one, {"a": "absent", "o": "y"}), 100.0),
        ]
        assert weight_of(cases, 10.0) == pytest.approx(110.0, rel=1e-6)

    def test_partial_records_count_less(self) -> None:
        """Of the ys nobody knows whether the fault was there."""
        one = made(10.0)
        cases = [(saw(one, {"o": "x"}), 35.0), (saw(one, {"o": "y"}), 65.0)]
        # By hand: P(x) = t/2, so the information on t is that of a share of t/2: with t = .7,
        # n (1/2)^2 / (.35 * .65), which is a share of a complete row's 1 / (.7 * .3) a case.
        wanted = 10.0 + 100.0 * (0.25 / (0.35 * 0.65)) * (0.7 * 0.3)
        assert weight_of(cases, 10.0) == pytest.approx(wanted, rel=0.02)


class TestBetaInterval:
    """Against scipy's own quantiles."""

    def test_quantiles(self) -> None:
        from scipy.stats import beta

        for mean, weight in ((0.03, 12.0), (0.5, 4.0), (0.9, 300.0)):
            low, high = beta.ppf([0.025, 0.975], mean * weight, (1 - mean) * weight)
            assert beta_interval(mean, weight) == pytest.approx((low, high))

    def test_what_is_sure_has_no_width(self) -> None:
        assert beta_interval(1.0, 20.0) == (1.0, 1.0)


class TestNarrower:
    """A value that has moved does not decide, the information does."""

    def test_more_cases(self) -> None:
        then = Known(*beta_interval(0.05, 12.0), 12.0)
        assert narrower(Known(*beta_interval(0.05, 60.0), 60.0), then)
        assert not narrower(then, then)
        assert not narrower(Known(*beta_interval(0.05, 14.0), 14.0), then)

    def test_wherever_the_value_goes(self) -> None:
        """Plainly the first is narrower and the second wider; both rest on as many cases."""
        then = Known(*beta_interval(0.05, 12.0), 12.0)
        for mean in (0.002, 0.4):
            assert narrower(Known(*beta_interval(mean, 30.0), 30.0), then)
            assert not narrower(Known(*beta_interval(mean, 13.0), 13.0), then)
