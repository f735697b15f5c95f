"""Reliability against scikit-learn, and planted overconfidence."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.isotonic import IsotonicRegression
from sklearn.metrics import brier_score_loss

from brinebayes.scoring.calibration import (
    CELLS,
    GRID,
    Statements,
    cells,
    decomposition,
    isotonic,
)
from brinebayes.scoring.resampling import weights


def statements(cases: int, faults: int, seed: int, sharper: float = 1.0) -> Statements:
    """Outcomes that come true as stated; then stated with odds to the power `sharper`."""
    draw = np.random.default_rng(seed)
    right = draw.beta(0.5, 1.5, (cases, faults))
    found = draw.random((cases, faults)) < right
    odds = (right / (1.0 - right)) ** sharper
    made = Statements(100)
    units = [f"{seed} {k}" for k in range(cases)]
    made.add(odds / (1.0 + odds), found, weights(units, 100))
    return made


class TestIsotonic:
    """The best rising fit."""

    @pytest.mark.parametrize("seed", [1, 2, 3])
    def test_as_scikit_learn(self, seed: int) -> None:
        draw = np.random.default_rng(seed)
        stated = np.sort(draw.random(300))
        found = (draw.random(300) < stated).astype(float)
        count = draw.integers(1, 5, 300).astype(float)
        theirs = IsotonicRegression().fit(stated, found, sample_weight=count).predict(stated)
        assert np.allclose(isotonic(found, count), theirs, atol=1e-12)


class TestDecomposition:
    """The parts of the Brier score."""

    def test_as_scikit_learn(self) -> None:
        draw = np.random.default_rng(4)
        stated = np.sort(draw.random(500))
        found = (draw.random(500) < stated**2).astype(float)
        parts, _ = decomposition(stated, found, np.ones(500))
        fitted = IsotonicRegression().fit(stated, found).predict(stated)
        brier, best = brier_score_loss(found, stated), brier_score_loss(found, fitted)
        base = brier_score_loss(found, np.full(500, found.mean()))
        assert parts.brier == pytest.approx(brier, abs=1e-12)
        assert parts.miscalibration == pytest.approx(brier - best, abs=1e-12)
        assert parts.discrimination == pytest.approx(base - best, abs=1e-12)
        assert parts.uncertainty == pytest.approx(base, abs=1e-12)

    def test_the_parts_make_the_whole(self) -> None:
        draw = np.random.default_rng(5)
        parts, _ = decomposition(np.sort(draw.random(50)), draw.random(50), np.ones(50))
        whole = parts.miscalibration - parts.discrimination + parts.uncertainty
        assert whole == pytest.approx(parts.brier)
        assert parts.miscalibration >= 0.0
        assert parts.discrimination >= 0.0


class TestCells:
    """Where statements are added up."""

    def test_they_rise_with_what_is_stated(self) -> None:
        stated = np.sort(np.concatenate([10.0 ** -np.linspace(0, 9, 20001), [0.0, 1.0]]))
        found = cells(stated)
        assert (np.diff(found) >= 0).all()
        assert found.min() == 0
        assert found.max() == CELLS - 1

    def test_three_digits_are_kept_apart(self) -> None:
        assert len(set(cells(np.array([0.1, 0.101, 0.102, 0.0123, 0.0124, 0.999])).tolist())) == 6


class TestStatements:
    """Statements added up in cells, close to what they are one by one."""

    def test_as_one_by_one(self) -> None:
        draw = np.random.default_rng(6)
        stated = draw.beta(0.3, 2.0, (80, 30))
        found = draw.random((80, 30)) < stated
        made = Statements(5)
        made.add(stated, found, weights([str(k) for k in range(80)], 5))
        calibration = made.calibration()
        order = np.argsort(stated.ravel())
        one_by_one, _ = decomposition(
            stated.ravel()[order], found.ravel()[order].astype(float), np.ones(2400)
        )
        assert calibration.statements == 2400
        assert calibration.brier.value == pytest.approx(one_by_one.brier, abs=1e-4)
        assert calibration.miscalibration.value == pytest.approx(
            one_by_one.miscalibration, abs=3e-4
        )
        assert calibration.uncertainty.value == pytest.approx(one_by_one.uncertainty, abs=1e-6)

    def test_every_statement_is_in_one_bin(self) -> None:
        calibration = statements(50, 20, seed=7).calibration()
        assert sum(one.statements for one in calibration.bins) == 1000
        for one in calibration.bins:
            assert one.low <= one.stated <= one.high
            assert one.found.low <= one.found.value <= one.found.high

    @pytest.mark.parametrize("seed", [8, 9, 10])
    def test_statements_that_come_true_stay_within_chance(self, seed: int) -> None:
        """One in twenty records would not; these three do."""
        calibration = statements(300, 20, seed).calibration()
        assert calibration.miscalibration.value < calibration.by_chance

    def test_overconfidence_shows(self) -> None:
        """Odds squared: what is stated above a half comes true less often."""
        calibration = statements(300, 20, seed=11, sharper=2.0).calibration()
        assert calibration.miscalibration.low > calibration.by_chance
        high = [one for one in calibration.bins if one.low >= 0.65]
        assert high
        assert all(one.found.high < one.stated for one in high)
        low = [one for one in calibration.bins if one.high <= 0.1]
        assert all(one.found.low > one.stated for one in low)
        above = [
            (at, one)
            for at, one in zip(GRID, calibration.band, strict=True)
            if one and 0.7 < at < 0.9
        ]
        assert all(one.high < at for at, one in above)

    def test_underconfidence_shows_the_other_way(self) -> None:
        calibration = statements(300, 20, seed=12, sharper=0.6).calibration()
        assert calibration.miscalibration.low > calibration.by_chance
        assert all(one.found.low > one.stated for one in calibration.bins if one.low >= 0.65)
