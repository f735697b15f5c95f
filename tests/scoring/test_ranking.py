"""The figures of a ranking against scikit-learn."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.metrics import (
    brier_score_loss,
    label_ranking_average_precision_score,
    log_loss,
    top_k_accuracy_score,
)

from brinebayes.scoring.ranking import FIGURES, by_case, by_fault, places

NAMES = list(FIGURES)


def random(cases: int, faults: int, several: bool, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Probabilities and what was found, one fault or up to three in each case."""
    draw = np.random.default_rng(seed)
    stated = draw.random((cases, faults)) * 0.98 + 0.01
    found = np.zeros((cases, faults), dtype=bool)
    for row in found:
        row[draw.choice(faults, int(draw.integers(1, 4)) if several else 1, replace=False)] = True
    return stated, found


def figure(name: str, stated: np.ndarray, found: np.ndarray) -> float:
    """A figure over all cases."""
    return float(by_case(stated, found)[:, NAMES.index(name)].mean())


class TestByCase:
    """One number of each kind a case."""

    @pytest.mark.parametrize(("name", "k"), [("top_1", 1), ("top_3", 3)])
    def test_top_k_is_that_of_scikit_learn(self, name: str, k: int) -> None:
        stated, found = random(300, 12, several=False, seed=1)
        truth = found.argmax(axis=1)
        shares = stated / stated.sum(axis=1, keepdims=True)
        theirs = top_k_accuracy_score(truth, shares, k=k, labels=np.arange(12))
        assert figure(name, shares, found) == pytest.approx(theirs, abs=1e-12)

    def test_reciprocal_rank_is_that_of_scikit_learn(self) -> None:
        """With one true label average precision is the reciprocal rank."""
        stated, found = random(300, 12, several=False, seed=2)
        theirs = label_ranking_average_precision_score(found, stated)
        assert figure("reciprocal_rank", stated, found) == pytest.approx(theirs, abs=1e-12)

    def test_ties_count_against_the_ranking_as_in_scikit_learn(self) -> None:
        stated, found = random(200, 6, several=False, seed=3)
        stated = np.round(stated, 1)
        theirs = label_ranking_average_precision_score(found, stated)
        assert figure("reciprocal_rank", stated, found) == pytest.approx(theirs, abs=1e-12)

    @pytest.mark.parametrize(("name", "k"), [("top_1", 1), ("top_3", 3)])
    def test_several_faults_each_count_their_part_without_the_others(
        self, name: str, k: int
    ) -> None:
        """The rule said in other words: a case for each fault, the others taken out of it."""
        stated, found = random(200, 9, several=True, seed=4)
        truth, rows, weights = [], [], []
        for values, there in zip(stated, found, strict=True):
            for fault in np.flatnonzero(there):
                alone = values.copy()
                alone[there] = -1.0
                alone[fault] = values[fault]
                truth.append(fault)
                rows.append(alone)
                weights.append(1.0 / there.sum())
        theirs = top_k_accuracy_score(
            truth, np.array(rows), k=k, sample_weight=weights, labels=np.arange(9)
        )
        assert figure(name, stated, found) == pytest.approx(theirs, abs=1e-12)

    def test_log_score_and_brier_are_those_of_scikit_learn_summed_over_faults(self) -> None:
        stated, found = random(250, 7, several=True, seed=5)
        pairs = list(zip(found.T, stated.T, strict=True))
        logs = sum(log_loss(y, p, labels=[False, True]) for y, p in pairs)
        squares = sum(brier_score_loss(y, p) for y, p in pairs)
        assert figure("log_score", stated, found) == pytest.approx(logs, abs=1e-9)
        assert figure("brier", stated, found) == pytest.approx(squares, abs=1e-12)

    @pytest.mark.parametrize(
        ("name", "last", "expected"), [("brier", 0.3, 0.0375), ("log_score", 0.35, 0.216162)]
    )
    def test_the_worked_examples_of_scikit_learn(
        self, name: str, last: float, expected: float
    ) -> None:
        """Its documentation: outcomes 0, 1, 1, 0 stated with .1, .9, .8 and .3 (Brier) or .35 (log
        loss)."""
        stated = np.array([[0.1, 0.9, 0.8, last]])
        found = np.array([[False, True, True, False]])
        assert figure(name, stated, found) / 4 == pytest.approx(expected, abs=5e-7)

    def test_what_was_held_impossible_costs_much_and_not_everything(self) -> None:
        stated, found = np.array([[0.0, 0.5]]), np.array([[True, False]])
        assert figure("log_score", stated, found) == pytest.approx(np.log(1e6) + np.log(2.0))

    def test_the_leader(self) -> None:
        stated = np.array([[0.2, 0.7, 0.1], [0.6, 0.1, 0.3]])
        found = np.array([[True, False, False], [True, False, False]])
        assert figure("leader_chance", stated, found) == pytest.approx(0.65)
        assert figure("leader_found", stated, found) == pytest.approx(0.5)


class TestPlaces:
    """The place of each confirmed fault."""

    def test_another_confirmed_fault_above_does_not_push_down(self) -> None:
        stated = np.array([[0.9, 0.8, 0.7, 0.6]])
        found = np.array([[True, False, True, True]])
        case, fault, place = places(stated, found)
        assert case.tolist() == [0, 0, 0]
        assert fault.tolist() == [0, 2, 3]
        assert place.tolist() == [1.0, 2.0, 2.0]


class TestByFault:
    """Every confirmed fault by itself."""

    def test_log_score_and_brier_of_that_fault_alone(self) -> None:
        stated = np.array([[0.5, 0.25]])
        _, _, values = by_fault(stated, np.array([[False, True]]))
        assert values[0, NAMES.index("log_score")] == pytest.approx(np.log(4.0))
        assert values[0, NAMES.index("brier")] == pytest.approx(0.5625)
        assert values[0, NAMES.index("top_1")] == 0.0
