"""Random numbers by name."""

from __future__ import annotations

from scipy import stats

from brinebayes.simulation.unit.chance import Chance


class TestUniform:
    """One number for one name."""

    def test_the_same_name_gives_the_same_number_in_any_order(self) -> None:
        chance = Chance("s")
        first = chance.uniform("a"), chance.uniform("b")
        assert (Chance("s").uniform("b"), Chance("s").uniform("a")) == first[::-1]

    def test_names_are_kept_apart(self) -> None:
        """Two words are not the one they make when joined."""
        chance = Chance("s")
        assert chance.uniform("ab", "c") != chance.uniform("a", "bc")
        assert chance.part("a").uniform("b") != chance.part("b").uniform("a")

    def test_evenly_spread(self) -> None:
        """Oracle: Kolmogorov-Smirnov test of scipy; drawn once by seed, so never flaky."""
        drawn = [Chance("even").uniform(i) for i in range(4000)]
        assert stats.kstest(drawn, "uniform").pvalue > 0.01


class TestNormal:
    """Standard normal."""

    def test_as_scipy_has_it(self) -> None:
        drawn = [Chance("normal").normal(i) for i in range(4000)]
        assert stats.kstest(drawn, "norm").pvalue > 0.01


class TestOneOf:
    """Each option as often."""

    def test_counts(self) -> None:
        drawn = [Chance("die").one_of("abc", i) for i in range(3000)]
        assert stats.chisquare([drawn.count(letter) for letter in "abc"]).pvalue > 0.01
