"""The advice against the exact optimum, on a sample; the whole table is `tests.bench.decisions`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.decisions import families, regret
from tests.decisions.regret import Case

SEEDS = range(3)
#: Two checks that tell nothing but together; a repair that is worth it for what its proof says.
HARD = (("pairs", 62), ("setups", 18))


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    """Three seeds of every family and some hard ones, those left out that are too large."""
    patch = pytest.MonkeyPatch()
    patch.setenv("BRINEBAYES_CACHE", "off")
    compared = {name: regret.POLICIES[name] for name in ("search", "repairs alone")}
    seeds = [(family, seed) for family in families.FAMILIES for seed in SEEDS]
    found = [regret.measure(family, seed, compared) for family, seed in (*seeds, *HARD)]
    patch.undo()
    return [case for case in found if case.solved]


class TestSearch:
    """The bounds of the whole table hold on the sample too."""

    def test_enough_are_solved(self, cases: list[Case]) -> None:
        assert len(cases) >= 12

    def test_regret(self, cases: list[Case]) -> None:
        found = [case.regret("search") for case in cases]
        mean, high, worst = regret.TARGET
        assert np.mean(found) <= mean
        assert np.percentile(found, 95) <= high
        assert max(found) <= worst

    def test_never_worse_than_repairs_alone(self, cases: list[Case]) -> None:
        """Nor below the optimum, but for what the bounds leave open."""
        for case in cases:
            most = case.costs["repairs alone"] * (1.0 + regret.SOLVED)
            assert case.low - 1e-6 <= case.costs["search"] <= most, (case.family, case.seed)


class TestMeasure:
    """What is measured, kept and shown."""

    def test_what_was_solved_is_kept(self, tmp_path: Path) -> None:
        found = regret.solved("harmful", 0, tmp_path)
        assert regret.solved("harmful", 0, tmp_path) == found
        assert len(list(tmp_path.iterdir())) == 1

    def test_lines(self) -> None:
        """Mean, 95th percentile and worst; what was not solved is left out and counted."""
        made = [Case("random", seed, 100.0, 100.1, 50.0, {"a": 100.0 + seed}) for seed in range(5)]
        made.append(Case("random", 9, 50.0, 80.0, 40.0, {}))
        line = next(line for line in regret.lines(made) if line.family == "all")
        assert (line.policy, line.models) == ("a", 5)
        assert (line.mean, line.worst) == pytest.approx((0.02, 0.04))
        assert line.p95 == pytest.approx(0.038)
        assert "1 of 6 models were too large" in regret.table(made)
