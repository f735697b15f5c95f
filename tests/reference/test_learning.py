"""Worked examples of learning, through the same code that tunes a model.

Each example is put as a little model: what is hidden there is a fault or a link that nobody sees.
"""

from __future__ import annotations

import csv
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from brinebayes.knowledge.schema import Cause, Mechanism, Model
from brinebayes.tuning.em import Fit, fit, posterior
from brinebayes.tuning.intervals import beta_interval
from brinebayes.tuning.numbers import Entry
from brinebayes.tuning.told import Told
from tests.tuning.made import in_one_chunk, model, names_of, number, observation, row, saw, spread

#: Two independent faults that leave just these calls without one: then everybody calls, and what
#: is learned is a plain network.
EVERYBODY = {"h": 0.5, "other": 0.2}
WITHOUT = 0.5 * 0.8


def learned(
    made: Model, cases: list[tuple[Told, float]], groups: tuple[str, ...], rounds: int
) -> Fit:
    """The numbers after at most so many rounds."""
    whole = in_one_chunk(made, cases)
    kept = lambda: iter([whole])  # noqa: E731
    return fit(made, kept, groups, names_of(cases), gain=1e-13, most_rounds=rounds, plain=True)


class TestLinkage:
    """Dempster, Laird & Rubin 1977, section 1: 125, 18, 20, 34 of 197 animals in four cells with
    the chances 1/2 + t/4, (1 - t)/4, (1 - t)/4, t/4; the first cell is two put together [figures
    from memory of the paper]."""

    def made(self, t: float) -> Model:
        """Half of the first cell comes from `h`; else a link that acts with t decides on a pair."""
        effect = spread({"off": 1.0 - t, "on": t})
        link = Mechanism("m", ("off", "on"), "made", causes=(Cause({"h": "absent"}, effect),))
        cells = observation(
            ("one", "two", "three", "four"),
            [
                row({"h": "present"}, {"one": 1.0}),
                row({"m": "on"}, {"one": 0.5, "four": 0.5}),
                row({}, {"two": 0.5, "three": 0.5}),
            ],
        )
        shares = {name: number(value) for name, value in EVERYBODY.items()}
        return model(shares, number(WITHOUT), {"cell": cells}, {"m": link})

    def after(self, rounds: int) -> float:
        made = self.made(0.5)
        counts = {"one": 125.0, "two": 18.0, "three": 20.0, "four": 34.0}
        cases = [(saw(made, {"cell": cell}), n) for cell, n in counts.items()]
        found = learned(made, cases, ("links",), rounds)
        return found.values["mechanisms", "m", "causes", 0, "effect"][1]

    @pytest.mark.parametrize(
        ("rounds", "value"),
        [(1, 0.608247423), (2, 0.624321050), (3, 0.626488879), (4, 0.626777322)],
    )
    def test_every_round(self, rounds: int, value: float) -> None:
        assert self.after(rounds) == pytest.approx(value, abs=5e-9)

    def test_the_limit(self) -> None:
        """The root of 197 t^2 - 15 t - 68 = 0 that the equation of the paper leads to."""
        root = (15 + np.sqrt(15**2 + 4 * 197 * 68)) / (2 * 197)
        assert root == pytest.approx(0.626821, abs=5e-7)
        assert self.after(60) == pytest.approx(root, abs=1e-8)


class TestTwoCoins:
    """Do & Batzoglou 2008, figure 1: 5, 9, 8, 4, 7 heads in five sets of ten tosses, of one of two
    coins that nobody knows [figures from memory of the paper].

    The ten tosses are ten observations. Every set is told in its ten rotations, so that each toss
    shows the same; what the two coins do is then the same for each of them.
    """

    HEADS = (5, 9, 8, 4, 7)

    def after(self, rounds: int) -> tuple[float, float]:
        toss = observation(
            ("heads", "tails"),
            [
                row({"h": "present"}, {"heads": 0.6, "tails": 0.4}),
                row({}, {"heads": 0.5, "tails": 0.5}),
            ],
        )
        shares = {name: number(value) for name, value in EVERYBODY.items()}
        made = model(shares, number(WITHOUT), {f"t{k}": toss for k in range(10)})
        cases = [
            (
                saw(
                    made,
                    {f"t{(k + turn) % 10}": "heads" if k < n else "tails" for k in range(10)},
                ),
                0.1,
            )
            for n in self.HEADS
            for turn in range(10)
        ]
        found = learned(made, cases, ("observations",), rounds)
        at = ("checks", "look", "observations", "t3", "rows")
        return found.values[(*at, 0, "gives")][0], found.values[(*at, 1, "gives")][0]

    @pytest.mark.parametrize(
        ("rounds", "first", "second"), [(1, 0.7130, 0.5813), (10, 0.7967, 0.5197)]
    )
    def test_after_so_many_rounds(self, rounds: int, first: float, second: float) -> None:
        """The paper prints two digits after the tenth round (.80 and .52)."""
        assert self.after(rounds) == pytest.approx((first, second), abs=6e-5)


class TestShares:
    """One probability and one distribution, updated."""

    def test_beta(self) -> None:
        """437 of 980 with a uniform prior (Gelman et al., Bayesian Data Analysis, section 2.4, the
        sex ratio with placenta praevia) [figures from memory of the book]."""
        uniform = Entry("misreadings", "checks.yaml", ("x",), (), (0.5,), 2.0)
        (mean,) = posterior(uniform, np.array([437.0, 543.0]))
        assert mean == pytest.approx(438 / 982)
        assert round(mean, 4) == 0.4460
        assert np.sqrt(mean * (1 - mean) / 983) == pytest.approx(0.01585, abs=5e-6)
        assert beta_interval(mean, 982.0) == pytest.approx((0.4151, 0.4772), abs=5e-5)

    def test_dirichlet(self) -> None:
        """(alpha_k + n_k) / (S + N), the textbook update."""
        entry = Entry("links", "mechanisms.yaml", ("x",), ("a", "b", "c"), (0.5, 0.3, 0.2), 10.0)
        found = posterior(entry, np.array([1.0, 0.0, 9.0]))
        assert found == pytest.approx((6 / 20, 3 / 20, 11 / 20))


class TestAgainstPyAgrum:
    """EM on partly missing records against pyAgrum's own."""

    def records(self) -> list[dict[str, str]]:
        """Drawn once from a network with other numbers; every third value is missing."""
        draw = np.random.default_rng(7)
        found = []
        for _ in range(300):
            f, g = draw.random() < 0.35, draw.random() < 0.55
            a = draw.choice(3, p=[[0.7, 0.2, 0.1], [0.1, 0.3, 0.6]][int(f)])
            b = draw.random() < [[0.1, 0.6], [0.5, 0.9]][int(f)][int(g)]
            whole = {
                "f": "present" if f else "absent",
                "g": "present" if g else "absent",
                "a": f"a{a}",
                "b": "yes" if b else "no",
            }
            found.append({name: v for name, v in whole.items() if draw.random() > 1 / 3})
        return found

    def made(self) -> Model:
        """Two faults that everybody calls about, and two observations with full tables."""
        first = observation(
            ("a0", "a1", "a2"),
            [
                row({"f": "absent"}, {"a0": 0.5, "a1": 0.3, "a2": 0.2}),
                row({"f": "present"}, {"a0": 0.2, "a1": 0.3, "a2": 0.5}),
            ],
        )
        second = observation(
            ("no", "yes"),
            [
                row({"f": f, "g": g}, {"no": 1 - p, "yes": p})
                for (f, g), p in zip(
                    product(("absent", "present"), repeat=2), (0.2, 0.5, 0.6, 0.8), strict=True
                )
            ],
        )
        shares = {"f": number(0.4), "g": number(0.5)}
        return model(shares, number(0.6 * 0.5), {"a": first, "b": second})

    def test_the_same_numbers(self, tmp_path: Path) -> None:
        gum = pytest.importorskip("pyagrum")
        records = self.records()
        made = self.made()
        found = learned(
            made, [(saw(made, one), 1.0) for one in records], ("shares", "observations"), 3000
        )
        table = tmp_path / "records.csv"
        with table.open("w", newline="") as file:
            writer = csv.DictWriter(file, ["f", "g", "a", "b"], restval="?")
            writer.writeheader()
            writer.writerows(records)
        net = gum.fastBN("f{absent|present}->a{a0|a1|a2};f->b{no|yes};g{absent|present}->b")
        learner = gum.BNLearner(str(table), net, ["?"])
        learner.useEM(1e-9)
        oracle = learner.learnParameters(net.dag())
        ours = found.values
        at = ("checks", "look", "observations")
        f, g = ours["faults", "f", "share"][0], ours["faults", "g", "share"][0]
        assert oracle.cpt("f")[:].tolist()[1] == pytest.approx(f, abs=2e-4)
        assert oracle.cpt("g")[:].tolist()[1] == pytest.approx(g, abs=2e-4)
        for place, state in enumerate(("absent", "present")):
            row_ = ours[(*at, "a", "rows", place, "gives")]
            assert oracle.cpt("a")[{"f": state}].tolist() == pytest.approx(row_, abs=2e-4)
        pairs = product(("absent", "present"), repeat=2)
        for place, (f_state, g_state) in enumerate(pairs):
            row_ = ours[(*at, "b", "rows", place, "gives")]
            theirs = oracle.cpt("b")[{"f": f_state, "g": g_state}].tolist()
            assert theirs == pytest.approx(row_, abs=2e-4)


class TestLinks:
    """A link with one cause."""

    def test_what_is_seen_whole_is_counted(self) -> None:
        link = Mechanism(
            "m",
            ("off", "on"),
            "made",
            causes=(Cause({"h": "present"}, spread({"off": 0.5, "on": 0.5})),),
        )
        shares = {name: number(value) for name, value in EVERYBODY.items()}
        seen = observation(("no", "yes"), [row({"m": "on"}, {"yes": 1.0}), row({}, {"no": 1.0})])
        made = model(shares, number(WITHOUT), {"o": seen}, {"m": link})
        cases = [
            (saw(made, {"h": "present", "o": "yes"}), 7.0),
            (saw(made, {"h": "present", "o": "no"}), 3.0),
            (saw(made, {"h": "absent", "o": "no"}), 40.0),
        ]
        found = learned(made, cases, ("links",), 5)
        assert found.values["mechanisms", "m", "causes", 0, "effect"] == pytest.approx((0.3, 0.7))
