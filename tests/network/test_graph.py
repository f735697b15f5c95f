"""What depends on what, and which copies a repair makes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from brinebayes.errors import ModelError, UsageError
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Case, Mechanism, Model
from brinebayes.network import graph


@pytest.fixture(scope="module")
def small() -> Model:
    return read_model(Path(__file__).resolve().parents[1] / "models" / "small")


class TestOutline:
    """The small model, read off its files."""

    def test_parents(self, small: Model) -> None:
        parents = graph.parents_of(small)
        assert parents["suction"] == ("injector_clogged", "supply")
        assert parents["draw"] == ("brine_line_blocked", "suction")
        assert parents["level"] == ("draw",)
        assert parents["works"] == ("softening",)

    def test_mechanisms_come_after_what_they_depend_on(self, small: Model) -> None:
        order = graph.mechanism_order(small)
        assert order.index("suction") < order.index("draw") < order.index("softening")

    def test_history(self, small: Model) -> None:
        assert graph.history(small) == {"salt_use", "hard_water", "tank_overflows"}

    def test_states(self, small: Model) -> None:
        assert graph.states_of(small, "suction") == ("high", "weak", "none")
        assert graph.states_of(small, "proof") == ("passed", "failed")
        with pytest.raises(UsageError, match="did you mean suction"):
            graph.states_of(small, "sucktion")

    def test_a_cycle_is_refused(self, small: Model) -> None:
        loop = {
            "a": Mechanism("a", ("x", "y"), "invented", cases=(Case({"b": "x"}, "x"),)),
            "b": Mechanism("b", ("x", "y"), "invented", cases=(Case({"a": "x"}, "x"),)),
        }
        model = replace(small, hash="a model with a cycle", mechanisms=loop)
        with pytest.raises(ModelError, match="cycle"):
            graph.mechanism_order(model)


class TestVersions:
    """Only what lies downstream of a touched fault is copied."""

    def test_one_repair(self, small: Model) -> None:
        found = graph.versions(small, ("clear_brine_line",))
        copied = {name for name, epochs in found.items() if epochs == (0, 1)}
        assert copied == {
            "brine_line_blocked", "draw", "softening", "level", "outlet_hardness", "works", "proof",
        }  # fmt: skip

    def test_later_repairs_keep_what_they_do_not_touch(self, small: Model) -> None:
        found = graph.versions(small, ("clean_injector", "clear_brine_line"))
        assert found["suction"] == (0, 1, 1)
        assert found["draw"] == (0, 1, 2)
        assert found["seals_worn"] == (0, 1, 1)
        assert found["salt_use"] == (0, 0, 0)
