"""Networks through pgmpy and back, and published ones compiled and held against two libraries."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given

from brinebayes.errors import ModelError
from brinebayes.network.compile import compile_network
from brinebayes.network.exchange import (
    from_pgmpy,
    read_bif,
    read_xmlbif,
    to_pgmpy,
    write_xmlbif,
)
from brinebayes.network.propagate import answer, calibrate, prepare
from brinebayes.network.tables import Network, Table, Variable
from tests.bench.networks import evidence_sets, sketch
from tests.reference.asia import asia
from tests.reference.oracles import agrum_posteriors, pgmpy_posteriors
from tests.reference.published import NETWORKS, UnavailableError, published
from tests.strategies import SLOW_LAW, networks

CLOSE = 1e-9


def assert_same(one: Network, other: Network) -> None:
    """The same variables, states, parents and doubles, whatever the order of the variables."""
    assert set(one.names) == set(other.names)
    for name in one.names:
        assert one.states(name) == other.states(name)
        assert one.parents(name) == other.parents(name)
        np.testing.assert_allclose(
            one.table_of[name].values, other.table_of[name].values, rtol=0, atol=1e-12
        )


class TestPgmpy:
    """There and back again."""

    @given(networks())
    @SLOW_LAW
    def test_round_trip(self, network: Network) -> None:
        model = to_pgmpy(network)
        assert model.check_model()
        again, changes = from_pgmpy(model)
        assert_same(network, again)
        assert changes == ()

    def test_rounding_is_mended_and_reported(self) -> None:
        model = to_pgmpy(asia())
        cpd = model.get_cpds("smoke")
        cpd.values[0] += 1e-7
        network, changes = from_pgmpy(model)
        assert network.table_of["smoke"].values.sum() == pytest.approx(1.0, abs=1e-15)
        assert len(changes) == 1
        assert "smoke" in changes[0]
        assert "1.0e-07" in changes[0]

    def test_more_than_rounding_is_refused(self) -> None:
        model = to_pgmpy(asia())
        model.get_cpds("smoke").values[0] += 1e-4
        with pytest.raises(ModelError, match=r"table of smoke: .* off from 1 by 1\.0e-04"):
            from_pgmpy(model)

    def test_a_missing_table_is_refused(self) -> None:
        model = to_pgmpy(asia())
        model.remove_cpds("smoke")
        with pytest.raises(ModelError, match="variable smoke: has no table"):
            from_pgmpy(model)

    def test_parents_with_their_states_in_another_order(self) -> None:
        from pgmpy.factors.discrete import TabularCPD

        model = to_pgmpy(asia())
        old = model.get_cpds("xray")
        model.remove_cpds(old)
        model.add_cpds(
            TabularCPD(
                "xray",
                2,
                np.asarray(old.values)[:, ::-1],
                evidence=["either"],
                evidence_card=[2],
                state_names={"xray": ["no", "yes"], "either": ["yes", "no"]},
            )
        )
        assert_same(from_pgmpy(model)[0], asia())


class TestXmlbif:
    """Written and read back: the same ids, states and doubles."""

    @given(networks())
    @SLOW_LAW
    def test_round_trip(self, network: Network) -> None:
        import tempfile

        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "network.xml"
            write_xmlbif(network, path)
            again, changes = read_xmlbif(path)
        assert_same(network, again)
        assert changes == ()

    def test_a_large_network(self, tmp_path: Path) -> None:
        network = sketch(1).network
        write_xmlbif(network, tmp_path / "network.xml")
        assert_same(network, read_xmlbif(tmp_path / "network.xml")[0])

    @pytest.mark.parametrize(
        ("name", "states", "says"),
        [
            ("a", ("is wet", "dry"), "'is wet' would be rewritten"),
            ("a", ("1,5", "2"), "would be rewritten"),
            (" a", ("x", "y"), "would not survive"),
            ("a\n", ("x", "y"), "would not survive"),
        ],
    )
    def test_refuses_what_would_not_come_back(
        self, tmp_path: Path, name: str, states: tuple[str, ...], says: str
    ) -> None:
        network = Network([Variable(name, states)], [Table(name, (), [0.5, 0.5])])
        with pytest.raises(ModelError, match=says):
            write_xmlbif(network, tmp_path / "network.xml")
        assert not (tmp_path / "network.xml").exists()


class TestBif:
    """A BIF file as a person would write it."""

    def test_reads(self, tmp_path: Path) -> None:
        path = tmp_path / "two.bif"
        path.write_text(
            "network two {\n}\n"
            "variable rain {\n  type discrete [ 2 ] { yes, no };\n}\n"
            "variable wet {\n  type discrete [ 3 ] { dry, damp, soaked };\n}\n"
            "probability ( rain ) {\n  table 0.2, 0.8;\n}\n"
            "probability ( wet | rain ) {\n  (yes) 0.1, 0.2, 0.7;\n  (no) 0.9, 0.1, 0.0;\n}\n"
        )
        network, changes = read_bif(path)
        assert changes == ()
        assert network.states("wet") == ("dry", "damp", "soaked")
        assert network.table_of["wet"].values.tolist() == [[0.1, 0.2, 0.7], [0.9, 0.1, 0.0]]


def test_pgmpy_is_not_imported_with_the_module() -> None:
    """It takes seconds; nothing on the way to an answer about a visit may import it."""
    program = (
        "import sys, brinebayes.network.exchange, brinebayes.network.propagate\n"
        "print([name for name in ('pgmpy', 'pandas', 'networkx', 'scipy') if name in sys.modules])"
    )
    said = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert said.stdout.strip() == "[]", said.stderr


@pytest.fixture(params=sorted(NETWORKS))
def known(request: pytest.FixtureRequest) -> tuple[str, Network, tuple[str, ...]]:
    """A published network by name; skipped when it cannot be had."""
    try:
        return (request.param, *published(request.param))
    except UnavailableError as reason:
        pytest.skip(str(reason))


class TestPublished:
    """Published networks, read through pgmpy, against both libraries on the same doubles."""

    def test_as_published(self, known: tuple[str, Network, tuple[str, ...]]) -> None:
        name, network, changes = known
        assert len(network.names) == NETWORKS[name]
        assert all("divided by sum" in change for change in changes)

    def test_posteriors_and_joints(self, known: tuple[str, Network, tuple[str, ...]]) -> None:
        _, network, _ = known
        leaves = [name for name in network.names if not network.children(name)]
        tree = compile_network(network, leaves=leaves, tries=1)
        ask = prepare(tree, network.roots, leaves)
        for evidence in evidence_sets(network, tuple(leaves), 3, 8, seed=7):
            hard = {n: np.eye(len(network.states(n)))[state] for n, state in evidence.items()}
            beliefs = calibrate(tree, hard)
            probability, expected = agrum_posteriors(network, hard, tree.names)
            assert probability > 0
            np.testing.assert_allclose(np.exp(beliefs.log_evidence), [probability], rtol=CLOSE)
            for name in tree.names:
                np.testing.assert_allclose(beliefs.marginal(name)[0], expected[name], atol=CLOSE)
            found = answer(beliefs, ask)
            for leaf in [name for name in leaves if name not in evidence][::4]:
                outcome = int(np.argmax(found.outcomes[found.rows[leaf]]))
                hit = np.eye(len(network.states(leaf)))[outcome]
                both, after = agrum_posteriors(network, {**hard, leaf: hit}, network.roots)
                chance = found.outcomes[found.rows[leaf]][outcome]
                assert chance == pytest.approx(both / probability, abs=CLOSE)
                for root in network.roots:
                    np.testing.assert_allclose(
                        found.of(leaf, root)[outcome], chance * after[root], atol=CLOSE
                    )

    def test_pgmpy(self, known: tuple[str, Network, tuple[str, ...]]) -> None:
        _, network, _ = known
        leaves = [name for name in network.names if not network.children(name)]
        tree = compile_network(network, leaves=leaves, tries=1)
        (evidence,) = evidence_sets(network, tuple(leaves), 1, 8, seed=3)
        hard = {n: np.eye(len(network.states(n)))[state] for n, state in evidence.items()}
        beliefs = calibrate(tree, hard)
        for name, expected in pgmpy_posteriors(network, hard, network.roots[:3]).items():
            np.testing.assert_allclose(beliefs.marginal(name)[0], expected, atol=CLOSE)
