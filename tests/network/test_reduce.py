"""A network with some variables known: the same beliefs from less."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st

from brinebayes.network.compile import compile_network
from brinebayes.network.propagate import calibrate
from brinebayes.network.reduce import reduced
from brinebayes.network.tables import Network, Table, Variable
from tests.strategies import networks, questions


class TestReduced:
    """Against the full network with the same states entered as evidence."""

    @settings(max_examples=60, phases=[Phase.generate])
    @given(questions(), st.data())
    def test_evidence_weighs_the_same(self, question, data: st.DataObject) -> None:  # type: ignore[no-untyped-def]
        network = question.network
        roots = [name for name in network.roots if name not in question.leaves]
        assume(roots)
        chosen = data.draw(st.lists(st.sampled_from(roots), min_size=1, unique=True))
        known = {name: data.draw(st.integers(0, len(network.states(name)) - 1)) for name in chosen}
        entered = {n: np.eye(len(network.states(n)))[s] for n, s in known.items()}
        full = compile_network(network, leaves=question.leaves)
        batch = {
            name: (row * entered.get(name, 1.0))[None]
            for name, row in {**entered, **question.likelihoods}.items()
        }
        expected = float(calibrate(full, batch).log_evidence[0])
        chances = [network.table_of[n].values[s] for n, s in known.items()]
        assume(min(chances) > 0.0)
        prior = float(np.log(chances).sum())
        small = reduced(network, known, (), question.leaves)
        left = small.network.by_name
        tree = compile_network(small.network, leaves=[n for n in question.leaves if n in left])
        factor, rest = small.translate({n: row[0] for n, row in batch.items()})
        there = calibrate(tree, {n: row[None] for n, row in rest.items()}).log_evidence[0]
        with np.errstate(divide="ignore"):
            found = float(there + np.log(factor) + prior)
        assert found == pytest.approx(expected, abs=1e-9)

    @settings(max_examples=60, phases=[Phase.generate])
    @given(networks())
    def test_nothing_known_changes_nothing_that_is_uncertain(self, network: Network) -> None:
        small = reduced(network, {}, (), ())
        for name, values in small.settled.items():
            assert values.max() == 1.0, name

    def test_a_variable_that_always_equals_its_parent_goes(self) -> None:
        network = Network(
            [Variable("a", ("n", "y")), Variable("b", ("n", "y")), Variable("c", ("n", "y"))],
            [
                Table("a", (), [0.3, 0.7]),
                Table("b", ("a",), np.eye(2)),
                Table("c", ("b",), [[0.9, 0.1], [0.2, 0.8]]),
            ],
        )
        small = reduced(network, {}, (), ())
        assert small.same == {"b": "a"}
        assert small.network.parents("c") == ("a",)

    def test_open_roots_stay(self) -> None:
        network = Network([Variable("a", ("n", "y"))], [Table("a", (), [1.0, 0.0])])
        assert reduced(network, {}, ("a",), ()).network.names == ("a",)
        assert reduced(network, {}, (), ()).network.names == ("nothing",)
