"""The compiled tree: a junction tree of the network, always the same, small enough to pickle."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinebayes.errors import UsageError
from brinebayes.network.compile import JunctionTree, compile_network
from brinebayes.network.propagate import calibrate
from brinebayes.network.tables import Network, Table, Variable
from tests.bench.networks import sketch
from tests.network.test_tables import chain
from tests.strategies import LAW, Question, networks, questions


def under(tree: JunctionTree, clique: int) -> set[int]:
    """A clique and everything hanging below it."""
    found = {clique}
    for i, one in enumerate(tree.cliques):
        if one.parent in found:
            found.add(i)
    return found


class TestTree:
    """What makes it a junction tree. Source: Lauritzen & Spiegelhalter 1988."""

    @given(questions(), st.sampled_from([0, 6, 120]))
    @LAW
    def test_every_family_lies_in_a_clique(self, question: Question, cost: int) -> None:
        network = question.network
        tree = compile_network(network, leaves=question.leaves, clique_cost=cost, tries=0)
        for table in network.tables:
            family = {*table.parents, table.variable} - set(question.leaves)
            assert any(family <= set(one.names) for one in tree.cliques)

    @given(questions(), st.sampled_from([0, 6, 120]))
    @LAW
    def test_running_intersection(self, question: Question, cost: int) -> None:
        """What the cliques below share with the others goes through the separator."""
        tree = compile_network(question.network, leaves=question.leaves, clique_cost=cost, tries=0)
        for i, one in enumerate(tree.cliques):
            inside = under(tree, i)
            below = {name for j in inside for name in tree.cliques[j].names}
            above = {
                name
                for j, other in enumerate(tree.cliques)
                if j not in inside
                for name in other.names
            }
            assert set(one.separator) == below & above
            assert one.parent < i

    @given(questions())
    @LAW
    def test_without_merging_no_clique_lies_within_its_neighbour(self, question: Question) -> None:
        tree = compile_network(question.network, leaves=question.leaves, clique_cost=0, tries=0)
        for one in tree.cliques[1:]:
            parent = set(tree.cliques[one.parent].names)
            assert not set(one.names) <= parent
            assert not parent <= set(one.names)

    @given(questions(), st.sampled_from([0, 120]))
    @LAW
    def test_entries_each_have_one_place(self, question: Question, cost: int) -> None:
        tree = compile_network(question.network, leaves=question.leaves, clique_cost=cost, tries=0)
        assert sorted(tree.positions.tolist()) == list(range(tree.entries))
        assert tree.entries == sum(one.size for one in tree.cliques)
        assert tree.largest == max(one.size for one in tree.cliques)

    def test_a_chain(self) -> None:
        tree = compile_network(chain(), clique_cost=0)
        assert {frozenset(one.names) for one in tree.cliques} == {
            frozenset("ab"),
            frozenset("bc"),
            frozenset("d"),
        }
        assert tree.entries == 4 + 4 + 2
        assert tree.names == ("c", "b", "a", "d")

    def test_messages_go_through_small_cliques(self) -> None:
        """Four cliques that share s: the large one sends to one neighbour, not to three."""
        names = [*"sabcdefg"]
        big = np.full((2, 2, 2, 2, 2), 0.5)
        network = Network(
            [Variable(name, ("x", "y")) for name in names],
            [
                *(Table(name, (), [0.5, 0.5]) for name in "sabc"),
                Table("d", tuple("sabc"), big),
                *(Table(name, ("s",), [[0.5, 0.5], [0.1, 0.9]]) for name in "efg"),
            ],
        )
        for order in ("efgabcds", "dcbagfes", "dcbaefgs"):
            tree = compile_network(network, order=order, clique_cost=0)
            large = max(range(len(tree.cliques)), key=lambda i: tree.cliques[i].size)
            ends = [{i, one.parent} for i, one in enumerate(tree.cliques) if one.parent >= 0]
            assert sum(large in pair for pair in ends) == 1

    def test_small_cliques_are_merged(self) -> None:
        assert len(compile_network(chain()).cliques) == 1

    def test_a_large_one_stays_small(self) -> None:
        """A network of the shipped model's shape: the design's sketch had 26,000 to 30,000."""
        made = sketch(3)
        tree = compile_network(made.network, leaves=made.checks, tries=1)
        assert tree.entries < 30_000
        assert tree.largest <= 4_096


class TestOrder:
    """Orders: found the same every time, followed when given."""

    def test_given_order_is_followed(self) -> None:
        assert compile_network(chain(), order="dacb").order == ("d", "a", "c", "b")

    def test_leaves_in_a_given_order_are_skipped(self) -> None:
        assert compile_network(chain(), leaves=("c",), order="cdab").order == ("d", "a", "b")

    def test_does_not_depend_on_how_the_variables_stand(self) -> None:
        made = sketch(1, faults=12, mechanisms=6, checks=6)
        network = made.network
        turned = Network(reversed(network.variables), network.tables)
        one = compile_network(network, leaves=made.checks, tries=1)
        other = compile_network(turned, leaves=made.checks, tries=1)
        assert one.order == other.order
        assert [c.names for c in one.cliques] == [c.names for c in other.cliques]
        np.testing.assert_array_equal(one.potentials, other.potentials)

    def test_does_not_depend_on_the_hash_seed(self) -> None:
        program = (
            "from tests.bench.networks import sketch\n"
            "from brinebayes.network.compile import compile_network\n"
            "made = sketch(1, faults=12, mechanisms=6, checks=6)\n"
            "tree = compile_network(made.network, leaves=made.checks, tries=1)\n"
            "print(tree.order, tree.cliques, tree.potentials.tolist())\n"
        )
        said = {
            subprocess.run(
                [sys.executable, "-c", program],
                env={**os.environ, "PYTHONHASHSEED": seed},
                capture_output=True,
                check=True,
                text=True,
            ).stdout
            for seed in ("1", "2")
        }
        assert len(said) == 1


class TestPickle:
    """A tree comes out of a pickle as it went in."""

    @given(questions(most=5))
    @LAW
    def test_same_beliefs(self, question: Question) -> None:
        tree = compile_network(question.network, leaves=question.leaves, clique_cost=0, tries=0)
        again = pickle.loads(pickle.dumps(tree))
        name = tree.names[0]
        np.testing.assert_array_equal(
            calibrate(again, {}).marginal(name), calibrate(tree, {}).marginal(name)
        )

    def test_is_small(self) -> None:
        made = sketch(3)
        tree = compile_network(made.network, leaves=made.checks, tries=0)
        assert len(pickle.dumps(tree)) < 2_000_000


class TestRefuses:
    """Names that cannot be left out or left open."""

    def test_leaf_with_children(self) -> None:
        with pytest.raises(UsageError, match="b has children"):
            compile_network(chain(), leaves=("b",))

    def test_open_root_with_parents(self) -> None:
        with pytest.raises(UsageError, match="b is not a root"):
            compile_network(chain(), open_roots=("b",))

    def test_unknown(self) -> None:
        with pytest.raises(UsageError, match="no variable z"):
            compile_network(chain(), leaves=("z",))


class TestEdges:
    """The smallest networks."""

    def test_one_variable(self) -> None:
        network = Network([Variable("a", ("x",))], [Table("a", (), [1.0])])
        assert calibrate(compile_network(network), {}).marginal("a").tolist() == [[1.0]]

    def test_only_leaves(self) -> None:
        network = Network([Variable("a", ("x", "y"))], [Table("a", (), [0.25, 0.75])])
        beliefs = calibrate(compile_network(network, leaves=("a",)), {"a": [0.0, 1.0]})
        np.testing.assert_allclose(np.exp(beliefs.log_evidence), [0.75])
        np.testing.assert_allclose(beliefs.marginal("a"), [[0.25, 0.75]])

    @given(networks(most=4))
    @LAW
    def test_parts_that_do_not_touch(self, network: Network) -> None:
        both = Network(
            (*network.variables, Variable("far", ("x", "y"))),
            (*network.tables, Table("far", (), [0.25, 0.75])),
        )
        beliefs = calibrate(compile_network(both, clique_cost=0, tries=0), {"far": [0.0, 3.0]})
        np.testing.assert_allclose(np.exp(beliefs.log_evidence), [2.25])
