"""Joints of targets and outcomes against enumeration and two libraries."""

from __future__ import annotations

import pickle
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from brinebayes.errors import UsageError
from brinebayes.network.compile import compile_network
from brinebayes.network.propagate import Joints, answer, calibrate, joints, prepare
from tests.bench.networks import evidence_sets, sketch
from tests.network.test_tables import chain
from tests.reference import enumeration
from tests.reference.asia import asia
from tests.reference.oracles import agrum_posteriors, pgmpy_posteriors
from tests.strategies import LAW, SLOW_LAW, Question, questions

CLOSE = 1e-9


def expected_joint(question: Question, leaf: str, target: str) -> np.ndarray:
    """P(outcome, target state | evidence) by enumeration; a leaf seen before is read again."""
    network, evidence = question.network, question.likelihoods
    if leaf not in question.leaves:
        if leaf == target:
            return np.diag(enumeration.posterior(network, evidence, [leaf]))
        return enumeration.posterior(network, evidence, [leaf, target])
    table = network.table_of[leaf]
    names = tuple(dict.fromkeys((*table.parents, target)))
    joint = enumeration.posterior(network, evidence, names)
    letters = {name: chr(97 + i) for i, name in enumerate(names)}
    parents = "".join(letters[name] for name in table.parents)
    subscripts = f"{parents}z,{''.join(letters.values())}->z{letters[target]}"
    return np.einsum(subscripts, table.values, joint)


class TestAgainstEnumeration:
    """Every outcome of every leaf with every target, whatever the shape of the tree."""

    @given(questions(), st.sampled_from([0, 6, 20, 120]), st.data())
    @LAW
    def test_all_at_once(self, question: Question, cost: int, data: st.DataObject) -> None:
        network, evidence = question.network, question.likelihoods
        assume(enumeration.evidence(network, evidence) > 0)
        tree = compile_network(network, leaves=question.leaves, clique_cost=cost, tries=0)
        targets = data.draw(st.lists(st.sampled_from(tree.names), unique=True))
        leaves = data.draw(st.lists(st.sampled_from(network.names), unique=True))
        # Whether matrices between separators are kept whole or in blocks must not matter.
        with patch("brinebayes.network.preparing.DENSE", data.draw(st.sampled_from([0, 4_000]))):
            found = joints(tree, calibrate(tree, evidence), targets, leaves)
        for leaf in leaves:
            for target in targets:
                expected = expected_joint(question, leaf, target)
                np.testing.assert_allclose(found.of(leaf, target), expected, atol=CLOSE)
                np.testing.assert_allclose(
                    found.values[found.rows[leaf], found.columns[target]],
                    expected[:, 1:],
                    atol=CLOSE,
                )
                np.testing.assert_allclose(
                    found.outcomes[found.rows[leaf]], expected.sum(axis=1), atol=CLOSE
                )
                np.testing.assert_allclose(
                    found.now[found.columns[target]], expected.sum(axis=0)[1:], atol=CLOSE
                )

    @given(questions())
    @LAW
    def test_outcomes_add_up_to_what_is_believed_now(self, question: Question) -> None:
        network, evidence = question.network, question.likelihoods
        assume(enumeration.evidence(network, evidence) > 0)
        tree = compile_network(network, leaves=question.leaves, clique_cost=0, tries=0)
        found = joints(tree, calibrate(tree, evidence), tree.names, network.names)
        for leaf in network.names:
            np.testing.assert_allclose(
                found.values[found.rows[leaf]].sum(axis=0), found.now, atol=CLOSE
            )
            np.testing.assert_allclose(found.outcomes[found.rows[leaf]].sum(), 1.0, atol=CLOSE)


class TestAgainstLibraries:
    """The posterior of every target after every possible outcome, asked one by one."""

    @given(questions(zeros=False))
    @SLOW_LAW
    def test_pyagrum(self, question: Question) -> None:
        network, evidence = question.network, question.likelihoods
        assume(enumeration.evidence(network, evidence) > 0)
        tree = compile_network(network, leaves=question.leaves, clique_cost=0, tries=0)
        found = joints(tree, calibrate(tree, evidence), tree.names, network.names)
        before, _ = agrum_posteriors(network, evidence, [])
        for leaf in (name for name in network.names if name not in evidence):
            for outcome, hit in enumerate(np.eye(len(network.states(leaf)))):
                probability = found.outcomes[found.rows[leaf]][outcome]
                if probability == 0:
                    continue
                after, posterior = agrum_posteriors(network, {**evidence, leaf: hit}, tree.names)
                assert probability == pytest.approx(after / before, abs=CLOSE)
                for target in tree.names:
                    np.testing.assert_allclose(
                        found.of(leaf, target)[outcome] / probability,
                        posterior[target],
                        atol=CLOSE,
                    )

    @given(questions(most=4, zeros=False))
    @SLOW_LAW
    def test_pgmpy(self, question: Question) -> None:
        network, evidence = question.network, question.likelihoods
        assume(enumeration.evidence(network, evidence) > 0)
        tree = compile_network(network, leaves=question.leaves, clique_cost=0, tries=0)
        unseen = [name for name in network.names if name not in evidence]
        assume(unseen)
        leaf = unseen[-1]
        found = joints(tree, calibrate(tree, evidence), tree.names, [leaf])
        for outcome, hit in enumerate(np.eye(len(network.states(leaf)))):
            if found.outcomes[outcome] == 0:
                continue
            posterior = pgmpy_posteriors(network, {**evidence, leaf: hit}, tree.names)
            for target in tree.names:
                after = found.of(leaf, target)[outcome] / found.outcomes[outcome]
                np.testing.assert_allclose(after, posterior[target], atol=CLOSE)


class TestLargeNetwork:
    """On a network of the shipped model's shape enumeration is out of reach; calibration is not."""

    def test_equals_calibrating_once_per_outcome(self) -> None:
        made = sketch(2)
        network = made.network
        tree = compile_network(network, leaves=made.checks, tries=0)
        ask = prepare(tree, made.faults, made.checks)
        for evidence in evidence_sets(network, made.checks, 3, 12, seed=4):
            hard = {
                name: np.eye(len(network.states(name)))[state] for name, state in evidence.items()
            }
            before = calibrate(tree, hard)
            found = answer(before, ask)
            for leaf in [name for name in made.checks if name not in evidence][::7]:
                each = np.eye(len(network.states(leaf)))
                rest = {name: np.tile(row, (len(each), 1)) for name, row in hard.items()}
                after = calibrate(tree, {**rest, leaf: each})
                chance = np.exp(after.log_evidence - before.log_evidence)
                np.testing.assert_allclose(found.outcomes[found.rows[leaf]], chance, rtol=CLOSE)
                for target in made.faults[::5]:
                    np.testing.assert_allclose(
                        found.values[found.rows[leaf], found.columns[target]][:, 0] / chance,
                        after.marginal(target)[:, 1],
                        rtol=CLOSE,
                    )


class TestRareOutcomes:
    """Nothing is subtracted on the way: what is rare keeps its digits."""

    def test_relative_accuracy(self) -> None:
        tree = compile_network(asia(), leaves=("xray", "dysp"), clique_cost=0)
        tiny = np.array([1.0, 1e-14])
        beliefs = calibrate(tree, {"asia": tiny, "smoke": tiny})
        found = joints(tree, beliefs, ["asia", "smoke"], ["xray", "dysp", "tub"])
        for leaf in ("xray", "dysp", "tub"):
            for target in ("asia", "smoke"):
                expected = enumeration.posterior(
                    asia(), {"asia": tiny, "smoke": tiny}, [leaf, target]
                )
                np.testing.assert_allclose(
                    found.values[found.rows[leaf], found.columns[target]],
                    expected[:, 1:],
                    rtol=1e-12,
                )


class TestAsk:
    """A prepared question is kept beside its tree."""

    def test_pickle(self) -> None:
        tree = compile_network(asia(), leaves=("xray", "dysp"), clique_cost=0)
        ask = prepare(tree, ["tub", "lung"], ["xray", "dysp"])
        again = pickle.loads(pickle.dumps(ask))
        beliefs = calibrate(tree, {})
        np.testing.assert_array_equal(answer(beliefs, again).values, answer(beliefs, ask).values)

    def test_nothing_asked(self) -> None:
        tree = compile_network(chain())
        found = joints(tree, calibrate(tree, {}), [], [])
        assert isinstance(found, Joints)
        assert found.values.shape == (0, 0)
        assert joints(tree, calibrate(tree, {}), ["a"], []).now == pytest.approx([0.1])
        assert joints(tree, calibrate(tree, {}), [], ["a"]).outcomes == pytest.approx([0.9, 0.1])

    def test_refuses(self) -> None:
        tree = compile_network(chain(), leaves=("c",))
        with pytest.raises(UsageError, match="no variable z"):
            prepare(tree, [], ["z"])
        with pytest.raises(UsageError, match="c is not a variable of the tree"):
            prepare(tree, ["c"], [])
        with pytest.raises(UsageError, match="not of a batch"):
            answer(calibrate(tree, {"a": [[1.0, 0.0]]}), prepare(tree, ["a"], ["c"]))
        other = compile_network(asia())
        with pytest.raises(UsageError, match="another tree"):
            answer(calibrate(other, {}), prepare(tree, ["a"], ["c"]))
