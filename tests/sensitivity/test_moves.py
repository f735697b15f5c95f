"""Numbers move as far as their weights leave open; beta and Dirichlet against scipy."""

from __future__ import annotations

from math import exp, log, sqrt

import numpy as np
import pytest
from scipy import stats

from brinebayes.knowledge.schema import Model
from brinebayes.sensitivity.moves import drawn, is_factor, movable, moved, possible
from brinebayes.tuning.numbers import Entry


def one(model: Model, group: str, states: int = 0, factor: bool = False) -> Entry:
    """The first number of a group with at least so many states."""
    return next(
        e
        for e in movable(model)
        if e.group == group and len(e.states) >= states and is_factor(e) == factor
    )


class TestMoved:
    """One number by one standard deviation."""

    def test_a_misreading_as_a_beta(self, small: Model) -> None:
        entry = one(small, "misreadings")
        (value,), w = entry.value, entry.weight
        sd = stats.beta(w * value, w * (1.0 - value)).std()
        values, to = moved(small, entry, 1.0)
        assert to == pytest.approx(value + sd)
        assert values == {entry.key: (to,)}

    def test_the_likeliest_state_of_a_row_as_a_dirichlet(self, small: Model) -> None:
        entry = one(small, "observations", states=2)
        alpha = entry.weight * np.array(entry.value)
        place = int(np.argmax(entry.value))
        sd = sqrt(stats.dirichlet(alpha).var()[place])
        values, to = moved(small, entry, -1.0)
        assert to == pytest.approx(entry.value[place] - sd)
        assert sum(values[entry.key]) == pytest.approx(1.0)
        others = [v for k, v in enumerate(values[entry.key]) if k != place]
        before = [v for k, v in enumerate(entry.value) if k != place]
        assert np.allclose(np.array(others) / before, others[0] / before[0])

    def test_a_share_by_its_log_odds(self, small: Model) -> None:
        entry = one(small, "shares")
        (value,) = entry.value
        _, to = moved(small, entry, 1.0)
        assert log(to / (1.0 - to)) == pytest.approx(
            log(value / (1.0 - value)) + 2.0 / sqrt(entry.weight)
        )

    def test_a_factor_by_its_logarithm(self, small: Model) -> None:
        entry = one(small, "shares", factor=True)
        _, to = moved(small, entry, -1.0)
        assert to == pytest.approx(entry.value[0] * exp(-2.0 / sqrt(entry.weight)))

    def test_other_kinds_of_site_give_way(self, small: Model) -> None:
        entry = one(small, "sites")
        values, to = moved(small, entry, 1.0)
        assert values[entry.key] == (to,)
        assert sum(v for (v,) in values.values()) == pytest.approx(1.0)

    def test_every_number_stays_a_number_of_a_model(self, small: Model) -> None:
        for entry in movable(small):
            for by in (-3.0, 3.0):
                for values in moved(small, entry, by)[0].values():
                    assert all(v > 0.0 for v in values)
                    assert is_factor(entry) or all(v <= 1.0 for v in values)


class TestDrawn:
    """All numbers at once."""

    def test_means_and_spreads_are_those_of_the_weights(self, small: Model) -> None:
        numbers = [one(small, "misreadings"), one(small, "observations", states=2)]
        draw = np.random.default_rng(1)
        found = [drawn(small, numbers, draw) for _ in range(4000)]
        for entry in numbers:
            values = np.array([each[entry.key] for each in found])
            alpha = entry.weight * np.array(entry.value)
            if len(entry.value) == 1:
                alpha = np.array([alpha[0], entry.weight - alpha[0]])
            theirs = stats.dirichlet(alpha)
            width = len(entry.value)
            sd = np.sqrt(theirs.var())[:width]
            assert np.allclose(values.mean(axis=0), theirs.mean()[:width], atol=0.06 * sd.max())
            assert np.allclose(values.std(axis=0), sd, rtol=0.06)

    def test_sites_and_rows_sum_to_one(self, small: Model) -> None:
        numbers = movable(small)
        found = drawn(small, numbers, np.random.default_rng(2))
        for entry in numbers:
            if len(entry.value) > 1:
                assert sum(found[entry.key]) == pytest.approx(1.0)
        for condition in small.site:
            shares = [v for k, (v, *_) in found.items() if k[:2] == ("site", condition)
                      and k[-1] == "share"]  # fmt: skip
            assert sum(shares) == pytest.approx(1.0)


class TestPossible:
    """Shares that do not fit together make no model."""

    def test_too_few_faults_for_the_calls(self, small: Model) -> None:
        shares = {("faults", name, "share"): (1e-6,) for name in small.faults}
        assert possible(small, shares) is None
        assert possible(small, {}) is not None
