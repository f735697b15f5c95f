"""Elimination orders against textbook graphs and exhaustive search."""

from __future__ import annotations

from itertools import permutations

from hypothesis import given
from hypothesis import strategies as st

from brinebayes.network.order import (
    bits,
    eliminated,
    extended,
    greedy,
    min_fill,
    min_weight,
    moral_graph,
    search,
    total_size,
    weighted_fill,
)
from tests.strategies import LAW


@st.composite
def graphs(draw: st.DrawFn) -> tuple[list[int], list[int]]:
    """Up to six vertices with two to four states, any edges."""
    count = draw(st.integers(1, 6))
    pairs = [(i, j) for i in range(count) for j in range(i)]
    edges = draw(st.lists(st.sampled_from(pairs), unique=True)) if pairs else []
    return moral_graph(edges, count), draw(
        st.lists(st.integers(2, 4), min_size=count, max_size=count)
    )


class TestGreedy:
    """Simple graphs whose best order is known."""

    def test_a_tree_needs_no_fill(self) -> None:
        near = moral_graph([(0, 1), (1, 2), (1, 3), (3, 4)], 5)
        order = greedy(near, [2] * 5, (min_fill,), None)
        assert max(mask.bit_count() for mask in eliminated(near, order)) == 2

    def test_a_ring_of_five_has_width_two(self) -> None:
        near = moral_graph([(i, (i + 1) % 5) for i in range(5)], 5)
        order = greedy(near, [2] * 5, (min_fill,), None)
        assert max(mask.bit_count() for mask in eliminated(near, order)) == 3

    def test_who_sees_both_ends_of_a_new_edge_has_a_new_price(self) -> None:
        """Two vertices, each joined to three others: once they are joined, no fill is left."""
        near = moral_graph([(i, j) for i in (0, 1) for j in (2, 3, 4)], 5)
        assert greedy(near, [2] * 5, (min_fill,), None)[:2] == [2, 3]

    def test_ties_fall_by_number(self) -> None:
        assert greedy(moral_graph([], 4), [2] * 4, (min_fill,), None) == [0, 1, 2, 3]

    @given(graphs())
    @LAW
    def test_prices_kept_up_to_date(self, graph: tuple[list[int], list[int]]) -> None:
        """Each step takes a vertex whose price, worked out afresh, is the lowest left."""
        near, states = graph
        for price in (min_fill, min_weight, weighted_fill):
            now, left = list(near), set(range(len(near)))
            for v in greedy(near, states, (price,), None):
                assert price(now, states, v) <= min(price(now, states, u) for u in left) + 1e-5
                for i in bits(now[v]):
                    now[i] = (now[i] | now[v]) & ~(1 << i) & ~(1 << v)
                left.discard(v)


class TestSearch:
    """The order found is close to the best of all."""

    @given(graphs())
    @LAW
    def test_against_every_order(self, graph: tuple[list[int], list[int]]) -> None:
        near, states = graph
        best = min(total_size(near, states, order) for order in permutations(range(len(near))))
        found = total_size(near, states, search(near, states, 2))
        assert best <= found <= 1.5 * best


class TestExtended:
    """A known order serves a later network: copies next to their namesakes."""

    def test_copies_follow_their_namesakes(self) -> None:
        near: dict[str, list[str]] = {name: [] for name in ("a", "b", "a@1", "b@2", "a@2")}
        assert extended(["b", "a"], near) == ["b", "b@2", "a", "a@1", "a@2"]

    def test_strangers_are_dropped(self) -> None:
        assert extended(["x", "b", "a"], {"a": [], "b": []}) == ["b", "a"]

    def test_a_new_variable_goes_before_its_first_neighbour(self) -> None:
        near = {"a": ["new"], "b": [], "c": ["new"], "new": ["a", "c"]}
        assert extended(["b", "c", "a"], near) == ["b", "new", "c", "a"]

    def test_a_copy_of_a_copy(self) -> None:
        near: dict[str, list[str]] = {name: [] for name in ("a", "a@1", "a@2", "b")}
        assert extended(["a", "a@1", "b"], near) == ["a", "a@1", "a@2", "b"]
