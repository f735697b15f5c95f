"""States over time: paths of faults by hand, chains against their definition."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Cause, Mechanism, Model, Spread
from brinebayes.network.paths import Paths, decide, fault_paths, reached, take_step
from tests.strategies import number


@pytest.fixture(scope="module")
def small() -> Model:
    return read_model(Path(__file__).resolve().parents[1] / "models" / "small")


def ways(
    model: Model, fault: str, done: tuple[str, ...], epochs: tuple[int, ...]
) -> dict[str, float]:
    """Path -> P(path | first state)."""
    paths, chances = fault_paths(model, fault, done, epochs)
    return dict(zip(paths.labels, chances.tolist(), strict=True))


class TestFaultPaths:
    """Numbers from the files of the small model: cleaning the injector clears with .92 and shares
    its luck, and wears the seals with .02; new seals clear with .95, the injector with .3."""

    def test_never_touched(self, small: Model) -> None:
        assert ways(small, "other_cause", (), (0,)) == {"absent": 1.0, "present": 1.0}

    def test_one_try(self, small: Model) -> None:
        found = ways(small, "injector_clogged", ("clean_injector",), (0, 1))
        assert found == pytest.approx(
            {"absent>absent": 1.0, "present>absent": 0.92, "present>present": 0.08}
        )

    def test_two_tries_with_shared_luck(self, small: Model) -> None:
        done = ("clean_injector", "clean_injector")
        found = ways(small, "injector_clogged", done, (0, 1, 2))
        assert found == pytest.approx(
            {
                "absent>absent>absent": 1.0,
                "present>absent>absent": 0.92,
                "present>present>present": 0.08,
            }
        )

    def test_two_tries_with_fresh_luck(self, small: Model) -> None:
        done = ("replace_seals", "replace_seals")
        found = ways(small, "injector_clogged", done, (0, 1, 2))
        assert found["present>present>present"] == pytest.approx(0.7 * 0.7)
        assert found["present>present>absent"] == pytest.approx(0.7 * 0.3)
        assert found["present>absent>absent"] == pytest.approx(0.3)

    def test_harm(self, small: Model) -> None:
        found = ways(small, "seals_worn", ("clean_injector",), (0, 1))
        assert found == pytest.approx(
            {"absent>absent": 0.98, "absent>present": 0.02, "present>present": 1.0}
        )

    def test_a_repair_may_clear_and_harm_the_same_fault(self, small: Model) -> None:
        """Present again if it failed (.1), or succeeded (.9) and did harm (.2)."""
        repair = replace(
            small.repairs["clear_brine_line"], harms={"brine_line_blocked": number(0.2)}
        )
        model = replace(small, repairs={**small.repairs, "clear_brine_line": repair})
        found = ways(model, "brine_line_blocked", ("clear_brine_line",), (0, 1))
        assert found["present>present"] == pytest.approx(0.1 + 0.9 * 0.2)
        assert found["absent>present"] == pytest.approx(0.2)

    def test_harm_that_is_certain_keeps_the_path_without_the_fault(self, small: Model) -> None:
        repair = replace(small.repairs["clear_brine_line"], harms={"seals_worn": number(1.0)})
        model = replace(small, repairs={**small.repairs, "clear_brine_line": repair})
        found = ways(model, "seals_worn", ("clear_brine_line",), (0, 1))
        assert next(iter(found)) == "absent>absent"
        assert found["absent>absent"] == 0.0


def spread(**of: float) -> Spread:
    return Spread(of, "judgement", 10, "invented")


class TestSteps:
    """One step of a chain."""

    def test_noisy_or_by_russell_and_norvig(self) -> None:
        """Three causes with inhibitors .6, .2, .1 (Russell & Norvig, fever): .4, .8, .9 alone,
        pairs .88, .94, .98, all three .988."""
        inhibitors = (0.6, 0.2, 0.1)
        causes = tuple(
            Cause({f"f{j}": "present"}, spread(no=q, yes=1.0 - q)) for j, q in enumerate(inhibitors)
        )
        fever = Mechanism("fever", ("no", "yes"), "invented", causes=causes)
        fault = Paths.single(("absent", "present"))
        before: tuple[str, Paths] | None = None
        chance = np.ones((1, 2)) * [1.0, 0.0]
        tables = []
        for j in range(3):
            parents = {f"f{j}": (fault, [0])}
            step, paths = take_step("fever", fever, (j,), False, (0,), before, parents, f"c{j}")
            widths = [2, 2] if before else [2]
            tables.append(step.table(widths, len(paths)))
            before = (f"c{j}", paths)
        expected = {
            (1, 0, 0): 0.4, (0, 1, 0): 0.8, (0, 0, 1): 0.9,
            (1, 1, 0): 0.88, (1, 0, 1): 0.94, (0, 1, 1): 0.98, (1, 1, 1): 0.988, (0, 0, 0): 0.0,
        }  # fmt: skip
        for present, fever_then in expected.items():
            chance = tables[0][present[0]]
            chance = chance @ tables[1][:, present[1]]
            chance = chance @ tables[2][:, present[2]]
            assert chance[1] == pytest.approx(fever_then, abs=1e-12)

    def test_the_same_noise_acts_in_every_epoch(self) -> None:
        """A fault that stays keeps its effect: there is no path on which it acts only once."""
        causes = (Cause({"f": "present"}, spread(no=0.5, yes=0.5)),)
        mechanism = Mechanism("m", ("no", "yes"), "invented", causes=causes)
        fault = Paths.of(("absent", "present"), (0, 1), np.array([[0, 0], [1, 0], [1, 1]], np.int8))
        step, paths = take_step(
            "m", mechanism, (0,), False, (0, 1), None, {"f": (fault, [0, 1])}, "m"
        )
        assert paths.labels == ("no>no", "yes>no", "yes>yes")
        np.testing.assert_allclose(
            step.table([3], 3), [[1.0, 0.0, 0.0], [0.5, 0.5, 0.0], [0.5, 0.0, 0.5]]
        )

    def test_a_leak_joins_the_first_link(self) -> None:
        """Independent leak: 1 - (1 - .1)(1 - .5) = .55."""
        causes = (Cause({"f": "present"}, spread(no=0.5, yes=0.5)),)
        mechanism = Mechanism(
            "m", ("no", "yes"), "invented", causes=causes, leak=spread(no=0.9, yes=0.1)
        )
        fault = Paths.single(("absent", "present"))
        step, _ = take_step("m", mechanism, (0,), True, (0,), None, {"f": (fault, [0])}, "m")
        np.testing.assert_allclose(step.table([2], 2)[:, 1], [0.1, 0.55])


class TestReached:
    """Only paths that occur."""

    def test_one_epoch_keeps_every_state(self) -> None:
        which, paths = reached(("a", "b", "c"), (0,), np.zeros((2, 1), dtype=np.int8))
        assert paths.labels == ("a", "b", "c")
        assert which.tolist() == [0, 0]

    def test_a_decision_follows_its_parents_epoch_by_epoch(self) -> None:
        parent = Paths.of(("x", "y"), (0, 1), np.array([[0, 0], [1, 0]], np.int8))
        other = Paths.single(("p", "q"))
        place = np.array([[0, 1], [2, 2]])
        which, paths = decide(("a", "b", "c"), (0, 1), [(parent, [0, 1]), (other, [0, 0])], place)
        labels = [[paths.labels[k] for k in row] for row in which.tolist()]
        assert labels == [["a>a", "b>b"], ["c>a", "c>b"]]
