"""Beliefs against enumeration, pyAgrum, pgmpy and published numbers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from brinebayes.errors import EvidenceConflict, UsageError
from brinebayes.network.compile import compile_network
from brinebayes.network.propagate import calibrate, log_evidence, posteriors
from brinebayes.network.tables import Network, Table, Variable
from tests.network.test_tables import YES_NO, chain
from tests.reference import enumeration
from tests.reference.asia import asia
from tests.reference.oracles import agrum_posteriors, pgmpy_posteriors
from tests.strategies import LAW, SLOW_LAW, Question, questions

NO, YES = np.array([1.0, 0.0]), np.array([0.0, 1.0])
CLOSE = 1e-9


class TestAgainstEnumeration:
    """The junction tree gives what the full joint table gives."""

    @given(questions(), st.sampled_from([0, 6, 120]), st.randoms(use_true_random=False))
    @LAW
    def test_posteriors_under_any_order(
        self, question: Question, cost: int, chance: object
    ) -> None:
        network, evidence = question.network, question.likelihoods
        assume(enumeration.evidence(network, evidence) > 0)
        order = list(network.names)
        chance.shuffle(order)  # type: ignore[attr-defined]
        tree = compile_network(network, leaves=question.leaves, order=order, clique_cost=cost)
        beliefs = calibrate(tree, evidence)
        expected = enumeration.evidence(network, evidence)
        np.testing.assert_allclose(np.exp(beliefs.log_evidence), [expected], rtol=CLOSE)
        for name in tree.names:
            np.testing.assert_allclose(
                beliefs.marginal(name)[0],
                enumeration.posterior(network, evidence, [name]),
                atol=CLOSE,
            )

    @given(questions())
    @LAW
    def test_joints_within_a_clique(self, question: Question) -> None:
        network, evidence = question.network, question.likelihoods
        assume(enumeration.evidence(network, evidence) > 0)
        tree = compile_network(network, leaves=question.leaves, clique_cost=0, tries=0)
        beliefs = calibrate(tree, evidence)
        for clique in tree.cliques:
            names = tuple(reversed(clique.names))
            np.testing.assert_allclose(
                beliefs.joint_of(names)[0],
                enumeration.posterior(network, evidence, names),
                atol=CLOSE,
            )

    @given(questions(), st.data())
    @LAW
    def test_batches(self, question: Question, data: st.DataObject) -> None:
        """Each row of a batch is what it would be alone; impossible rows are -inf and zeros."""
        network, evidence = question.network, question.likelihoods
        assume(evidence)
        tree = compile_network(network, leaves=question.leaves, clique_cost=0, tries=0)
        batched = {
            name: np.stack([row, np.ones(row.size), np.roll(row, 1)])
            if data.draw(st.booleans())
            else row
            for name, row in evidence.items()
        }
        assume(any(rows.ndim == 2 for rows in batched.values()))
        beliefs = calibrate(tree, batched)
        assert beliefs.log_evidence.shape == (3,)
        name = tree.names[0]
        logs, (marginal,) = posteriors(tree, batched, [name])
        np.testing.assert_array_equal(logs, beliefs.log_evidence)
        np.testing.assert_array_equal(log_evidence(tree, batched), logs)
        np.testing.assert_array_equal(marginal, beliefs.marginal(name))
        for i in range(3):
            one = {name: rows[i] if rows.ndim == 2 else rows for name, rows in batched.items()}
            expected = enumeration.evidence(network, one)
            if expected > 0:
                np.testing.assert_allclose(np.exp(logs[i]), expected, rtol=CLOSE)
                np.testing.assert_allclose(
                    marginal[i], enumeration.posterior(network, one, [name]), atol=CLOSE
                )
            else:
                assert logs[i] == -np.inf
                assert not marginal[i].any()

    @given(questions())
    @LAW
    def test_open_roots_take_their_prior_from_the_caller(self, question: Question) -> None:
        network, evidence = question.network, question.likelihoods
        roots = [name for name in network.roots if name not in question.leaves]
        opened = [name for name in roots if name not in evidence]
        priors = {name: network.table_of[name].values for name in opened}
        assume(enumeration.evidence(network, evidence) > 0)
        closed = calibrate(compile_network(network, leaves=question.leaves, tries=0), evidence)
        tree = compile_network(
            network, leaves=question.leaves, open_roots=opened, clique_cost=0, tries=0
        )
        beliefs = calibrate(tree, {**evidence, **priors})
        np.testing.assert_allclose(beliefs.log_evidence, closed.log_evidence, atol=CLOSE)
        for name in tree.names:
            np.testing.assert_allclose(beliefs.marginal(name), closed.marginal(name), atol=CLOSE)


class TestAgainstLibraries:
    """Two independent libraries, filled from the same doubles."""

    @given(questions())
    @SLOW_LAW
    def test_pyagrum(self, question: Question) -> None:
        network, evidence = question.network, question.likelihoods
        assume(enumeration.evidence(network, evidence) > 0)
        tree = compile_network(network, leaves=question.leaves, clique_cost=0, tries=0)
        beliefs = calibrate(tree, evidence)
        probability, expected = agrum_posteriors(network, evidence, tree.names)
        np.testing.assert_allclose(np.exp(beliefs.log_evidence), [probability], rtol=CLOSE)
        for name in tree.names:
            np.testing.assert_allclose(beliefs.marginal(name)[0], expected[name], atol=CLOSE)

    @given(questions(most=5))
    @SLOW_LAW
    def test_pgmpy(self, question: Question) -> None:
        network, evidence = question.network, question.likelihoods
        assume(enumeration.evidence(network, evidence) > 0)
        tree = compile_network(network, leaves=question.leaves, clique_cost=0, tries=0)
        beliefs = calibrate(tree, evidence)
        for name, expected in pgmpy_posteriors(network, evidence, tree.names).items():
            np.testing.assert_allclose(beliefs.marginal(name)[0], expected, atol=CLOSE)


class TestAsia:
    """Published numbers. Source: Lauritzen & Spiegelhalter 1988, to the digits given there."""

    @pytest.mark.parametrize("leaves", [(), ("xray", "dysp")])
    @pytest.mark.parametrize(
        ("evidence", "expected"),
        [
            ({}, {"tub": 0.0104, "lung": 0.055, "bronc": 0.45}),
            (
                {"asia": YES, "dysp": YES},
                {"tub": 0.08775, "lung": 0.09953, "bronc": 0.81140},
            ),
            (
                {"asia": YES, "dysp": YES, "xray": NO},
                {"tub": 0.002249, "lung": 0.002550, "bronc": 0.86276},
            ),
        ],
    )
    def test_posteriors(
        self,
        leaves: tuple[str, ...],
        evidence: dict[str, np.ndarray],
        expected: dict[str, float],
    ) -> None:
        beliefs = calibrate(compile_network(asia(), leaves=leaves, clique_cost=0), evidence)
        for name, value in expected.items():
            last_digit = 10.0 ** -len(str(value).split(".")[1])
            assert beliefs.marginal(name)[0, 1] == pytest.approx(value, abs=0.51 * last_digit)

    def test_predictions_of_leaves(self) -> None:
        beliefs = calibrate(compile_network(asia(), leaves=("xray", "dysp"), clique_cost=0), {})
        assert beliefs.marginal("xray")[0, 1] == pytest.approx(0.11029, abs=5e-6)
        assert beliefs.marginal("dysp")[0, 1] == pytest.approx(0.43597, abs=5e-6)

    @pytest.mark.parametrize(
        ("name", "ratio", "decibans"),
        [("lung", 16.4231, 12.155), ("tub", 9.6886, 9.863), ("either", 19.6, 12.923)],
    )
    def test_weight_of_evidence(self, name: str, ratio: float, decibans: float) -> None:
        """What a positive X-ray says for each cause. Source: Good 1950, on these tables."""
        tree = compile_network(asia(), leaves=("xray", "dysp"), clique_cost=0)
        before, after = (
            calibrate(tree, evidence).marginal(name)[0] for evidence in ({}, {"xray": YES})
        )
        found = (after[1] / after[0]) / (before[1] / before[0])
        assert found == pytest.approx(ratio, abs=5e-5)
        assert 10 * np.log10(found) == pytest.approx(decibans, abs=5e-4)

    @pytest.mark.parametrize(
        ("evidence", "bits"),
        [
            ({"asia": YES, "dysp": YES}, -0.04613),
            ({"asia": YES, "dysp": YES, "xray": NO}, 0.14287),
            ({"smoke": NO, "xray": YES, "dysp": NO}, 0.68947),
        ],
    )
    def test_conflict(self, evidence: dict[str, np.ndarray], bits: float) -> None:
        """log2 of the product of P(each finding) over P(all). Source: Jensen et al. 1991."""
        tree = compile_network(asia(), clique_cost=0)
        alone = sum(calibrate(tree, {n: row}).log_evidence[0] for n, row in evidence.items())
        together = calibrate(tree, evidence).log_evidence[0]
        assert (alone - together) / np.log(2) == pytest.approx(bits, abs=5e-6)


class TestNoisyOr:
    """Fever from cold, flu, malaria. Source: Russell & Norvig, noisy-OR with .6, .2, .1."""

    @pytest.mark.parametrize(
        ("present", "fever"),
        [
            ("", 0.0),
            ("cold", 0.4),
            ("flu", 0.8),
            ("malaria", 0.9),
            ("cold flu", 0.88),
            ("cold malaria", 0.94),
            ("flu malaria", 0.98),
            ("cold flu malaria", 0.988),
        ],
    )
    def test_links_with_noise_roots(self, present: str, fever: float) -> None:
        variables, tables, before = [], [], ""
        inhibitors = {"cold": 0.6, "flu": 0.2, "malaria": 0.1}
        for name, inhibitor in inhibitors.items():
            variables += [Variable(n, YES_NO) for n in (name, f"{name}.acts", f"{name}.fever")]
            tables.append(Table(name, (), [0.5, 0.5]))
            tables.append(Table(f"{name}.acts", (), [inhibitor, 1 - inhibitor]))
            parents = (name, f"{name}.acts", *([before] if before else []))
            values = np.zeros([2] * (len(parents) + 1))
            for state in np.ndindex(*values.shape[:-1]):
                values[(*state, int((state[0] and state[1]) or (state[2:] == (1,))))] = 1.0
            before = f"{name}.fever"
            tables.append(Table(before, parents, values))
        tree = compile_network(Network(variables, tables), clique_cost=0)
        evidence = {name: YES if name in present.split() else NO for name in inhibitors}
        assert calibrate(tree, evidence).marginal(before)[0, 1] == pytest.approx(fever, abs=1e-12)


class TestEvidence:
    """How evidence is entered, and what is refused."""

    @given(questions(), st.randoms(use_true_random=False))
    @LAW
    def test_the_order_of_evidence_does_not_matter(
        self, question: Question, chance: object
    ) -> None:
        network, evidence = question.network, question.likelihoods
        assume(enumeration.evidence(network, evidence) > 0)
        tree = compile_network(network, leaves=question.leaves, clique_cost=0, tries=0)
        turned = list(evidence.items())
        chance.shuffle(turned)  # type: ignore[attr-defined]
        one, other = calibrate(tree, evidence), calibrate(tree, dict(turned))
        np.testing.assert_array_equal(one.tables, other.tables)
        np.testing.assert_array_equal(one.log_evidence, other.log_evidence)

    @given(questions(), st.sampled_from([1e-200, 1e-3, 1e200]))
    @LAW
    def test_the_scale_of_a_likelihood_only_moves_the_log_evidence(
        self, question: Question, scale: float
    ) -> None:
        network, evidence = question.network, question.likelihoods
        assume(evidence)
        assume(enumeration.evidence(network, evidence) > 0)
        tree = compile_network(network, leaves=question.leaves, clique_cost=0, tries=0)
        scaled = {name: row * scale for name, row in evidence.items()}
        one, other = calibrate(tree, evidence), calibrate(tree, scaled)
        np.testing.assert_allclose(one.tables, other.tables, atol=1e-12)
        np.testing.assert_allclose(
            other.log_evidence - one.log_evidence, len(evidence) * np.log(scale), atol=1e-9
        )

    def test_sixty_contradicting_observations(self) -> None:
        """Half of sixty sharp readings say yes, half no, each wrong once in 100,000.

        Expected from counting: the likelihood is the same for both states, so the prior stays,
        and the log evidence is 30 (log m + log(1 - m)).
        """
        wrong = 1e-5
        readings = [f"r{i:02d}" for i in range(60)]
        network = Network(
            [Variable("a", YES_NO), *(Variable(name, YES_NO) for name in readings)],
            [
                Table("a", (), [0.7, 0.3]),
                *(Table(n, ("a",), [[1 - wrong, wrong], [wrong, 1 - wrong]]) for n in readings),
            ],
        )
        evidence = {name: YES if i % 2 else NO for i, name in enumerate(readings)}
        for leaves in (readings, []):
            beliefs = calibrate(compile_network(network, leaves=leaves, clique_cost=0), evidence)
            np.testing.assert_allclose(beliefs.marginal("a"), [[0.7, 0.3]], atol=1e-12)
            np.testing.assert_allclose(
                beliefs.log_evidence, [30 * (np.log(wrong) + np.log1p(-wrong))], rtol=1e-12
            )

    def test_impossible_evidence_names_what_cannot_hold_together(self) -> None:
        evidence = {"asia": YES, "tub": YES, "either": NO, "smoke": YES}
        with pytest.raises(EvidenceConflict) as caught:
            calibrate(compile_network(asia(), clique_cost=0), evidence)
        assert set(caught.value.between) == {"tub", "either"}

    def test_impossible_through_a_leaf(self) -> None:
        network = Network(
            [Variable("a", YES_NO), Variable("b", YES_NO)],
            [Table("a", (), [1.0, 0.0]), Table("b", ("a",), [[1.0, 0.0], [0.0, 1.0]])],
        )
        with pytest.raises(EvidenceConflict, match="cannot hold together: b"):
            calibrate(compile_network(network, leaves=("b",)), {"b": YES})

    @pytest.mark.parametrize(
        ("likelihoods", "says"),
        [
            ({"z": [1, 0]}, "no variable z"),
            ({"a": [1, 0, 0]}, "shape"),
            ({"a": 1.0}, "shape"),
            ({"a": [-1, 0]}, "likelihood of a: .* negative"),
            ({"b": [float("nan"), 0]}, "likelihood of b: .* not finite"),
            ({"a": [[1, 0]] * 2, "b": [[1, 0]] * 3}, "different lengths"),
        ],
    )
    def test_refuses(self, likelihoods: dict[str, object], says: str) -> None:
        tree = compile_network(chain())
        with pytest.raises(UsageError, match=says):
            calibrate(tree, likelihoods)  # type: ignore[arg-type]

    def test_an_open_root_needs_its_prior(self) -> None:
        with pytest.raises(UsageError, match="a is an open root"):
            calibrate(compile_network(chain(), open_roots=("a",)), {})

    def test_no_clique_holds_them_together(self) -> None:
        beliefs = calibrate(compile_network(chain(), clique_cost=0), {})
        with pytest.raises(UsageError, match="no clique holds a, c together"):
            beliefs.joint_of(("c", "a"))
        with pytest.raises(UsageError, match="a name is repeated among a, b, a"):
            beliefs.joint_of(("a", "b", "a"))
        with pytest.raises(UsageError, match="no variable z"):
            beliefs.marginal("z")


class TestPosteriors:
    """Many evidence sets in chunks."""

    def test_more_than_one_chunk(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr("brinebayes.network.calibration.CHUNK", 40)
        tree = compile_network(asia(), leaves=("xray", "dysp"), clique_cost=0)
        rows = np.random.default_rng(1).random((23, 2))
        log_evidence, (lung, either) = posteriors(tree, {"xray": rows}, ["lung", "either"])
        beliefs = calibrate(tree, {"xray": rows})
        np.testing.assert_allclose(log_evidence, beliefs.log_evidence, atol=1e-13)
        np.testing.assert_allclose(lung, beliefs.marginal("lung"), atol=1e-13)
        np.testing.assert_allclose(either, beliefs.marginal("either"), atol=1e-13)
