"""Networks as data: what is refused, and the graph's own questions."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from hypothesis import given

from brinebayes.errors import ModelError
from brinebayes.network.tables import Network, Table, Variable
from tests.reference.enumeration import posterior
from tests.strategies import LAW, networks

YES_NO = ("no", "yes")


def chain() -> Network:
    """a -> b -> c, and d alone."""
    return Network(
        [Variable(name, YES_NO) for name in "cbad"],
        [
            Table("a", (), [0.9, 0.1]),
            Table("b", ("a",), [[0.8, 0.2], [0.3, 0.7]]),
            Table("c", ("b",), [[0.6, 0.4], [0.5, 0.5]]),
            Table("d", (), [0.5, 0.5]),
        ],
    )


class TestVariable:
    """A variable has named states, each once."""

    def test_states_are_a_tuple(self) -> None:
        assert Variable("a", ["x", "y"]).states == ("x", "y")  # type: ignore[arg-type]

    @pytest.mark.parametrize("states", [(), ("x", "x")])
    def test_refuses(self, states: tuple[str, ...]) -> None:
        with pytest.raises(ModelError, match="variable a"):
            Variable("a", states)


class TestTable:
    """A table's rows sum to one and cannot be changed."""

    def test_read_only_and_its_own_copy(self) -> None:
        given_values = np.array([0.5, 0.5])
        table = Table("a", (), given_values)
        given_values[0] = 0.0
        assert table.values[0] == 0.5
        with pytest.raises(ValueError, match="read-only"):
            table.values[0] = 1.0

    def test_pickle_keeps_it_read_only(self) -> None:
        table = pickle.loads(pickle.dumps(Table("a", ("b",), [[0.5, 0.5], [0.1, 0.9]])))
        assert table.parents == ("b",)
        assert not table.values.flags.writeable

    def test_a_row_within_rounding_is_kept_as_it_is(self) -> None:
        assert Table("a", (), [0.5, 0.5 + 1e-10]).values[1] == 0.5 + 1e-10

    @pytest.mark.parametrize(
        ("parents", "values", "says"),
        [
            ((), [0.5, 0.5 + 1e-8], "sums to"),
            ((), [1.5, -0.5], "negative"),
            ((), [float("nan"), 1.0], "not a number"),
            (("b",), [0.5, 0.5], "axes"),
            (("a",), [[0.5, 0.5], [0.5, 0.5]], "repeated"),
            (("b", "b"), np.full((2, 2, 2), 0.5), "repeated"),
            (("b",), [[0.5, 0.5], [0.4, 0.5]], r"row \(1,\) sums to 0.9"),
        ],
    )
    def test_refuses(self, parents: tuple[str, ...], values: object, says: str) -> None:
        with pytest.raises(ModelError, match=says):
            Table("a", parents, values)  # type: ignore[arg-type]


class TestNetwork:
    """Every variable has one table, parents exist, no cycles."""

    def test_graph(self) -> None:
        network = chain()
        assert network.names == ("c", "b", "a", "d")
        assert network.parents("b") == ("a",)
        assert network.children("b") == ("c",)
        assert network.roots == ("a", "d")
        assert network.ancestors(["b"]) == {"a", "b"}
        assert network.descendants(["b"]) == {"b", "c"}
        assert network.states("c") == YES_NO

    def test_topological_puts_parents_first(self) -> None:
        order = chain().topological
        assert sorted(order) == ["a", "b", "c", "d"]
        assert order.index("a") < order.index("b") < order.index("c")

    def test_pruned_drops_what_is_barren(self) -> None:
        assert chain().pruned(["b"]).names == ("b", "a")

    @given(networks(most=5))
    @LAW
    def test_pruned_changes_no_belief(self, network: Network) -> None:
        name = network.names[0]
        pruned = network.pruned([name])
        np.testing.assert_allclose(
            posterior(pruned, {}, [name]), posterior(network, {}, [name]), atol=1e-12
        )

    @given(networks(most=4))
    @LAW
    def test_pickle(self, network: Network) -> None:
        again = pickle.loads(pickle.dumps(network))
        assert again.variables == network.variables
        for old, new in zip(network.tables, again.tables, strict=True):
            assert (old.variable, old.parents) == (new.variable, new.parents)
            np.testing.assert_array_equal(old.values, new.values)

    @pytest.mark.parametrize(
        ("variables", "tables", "says"),
        [
            ("ab", [Table("a", (), [1, 0])], "variable b: has no table"),
            ("a", [Table("a", (), [1, 0]), Table("a", (), [1, 0])], "two tables"),
            ("a", [Table("a", (), [1, 0]), Table("z", (), [1, 0])], "table of z: .* no such"),
            ("aa", [Table("a", (), [1, 0])], "share a name"),
            ("a", [Table("a", ("z",), [[1, 0], [1, 0]])], "unknown parent z"),
            ("a", [Table("a", (), [1, 0, 0])], "3 entries for 2 states"),
            (
                "abc",
                [
                    Table("a", (), [1, 0]),
                    Table("b", ("c",), [[1, 0], [1, 0]]),
                    Table("c", ("b",), [[1, 0], [1, 0]]),
                ],
                "cycle among b, c",
            ),
        ],
    )
    def test_refuses(self, variables: str, tables: list[Table], says: str) -> None:
        with pytest.raises(ModelError, match=says):
            Network([Variable(name, YES_NO) for name in variables], tables)
