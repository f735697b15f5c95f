"""The order of the chains: complete, the same on every run, and not worse than the file's."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from hypothesis import Phase, given, settings

from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.network import ordering
from tests.strategies import small_models

SMALL = Path(__file__).resolve().parents[1] / "models" / "small"


def causes_of(model: Model, orders: ordering.Orders) -> dict[str, list[int]]:
    return {name: sorted(j for group in groups for j in group) for name, groups in orders.items()}


class TestChainOrders:
    """Every cause once."""

    @settings(max_examples=30, phases=[Phase.generate])
    @given(small_models())
    def test_every_cause_has_its_place(self, model: Model) -> None:
        expected = {
            name: list(range(len(mechanism.causes)))
            for name, mechanism in model.mechanisms.items()
            if mechanism.causes
        }
        assert causes_of(model, ordering.chain_orders(model)) == expected
        for repair in model.repairs:
            assert causes_of(model, ordering.settled_first(model, (repair,))) == expected

    @settings(max_examples=30, phases=[Phase.generate])
    @given(small_models())
    def test_causes_with_the_same_parents_stand_together(self, model: Model) -> None:
        for name, groups in ordering.chain_orders(model).items():
            whens = [
                {frozenset(model.mechanisms[name].causes[j].when) for j in group}
                for group in groups
            ]
            assert all(len(each) == 1 for each in whens)
            assert len({next(iter(each)) for each in whens}) == len(groups)

    @settings(max_examples=30, phases=[Phase.generate])
    @given(small_models())
    def test_what_a_repair_touches_comes_last(self, model: Model) -> None:
        """Read off the faults that the repair names; mechanisms downstream count as touched."""
        for repair_id, repair in model.repairs.items():
            touched = {*repair.clears, *repair.harms}
            for name, mechanism in model.mechanisms.items():  # in an order that fits, here
                whens = [*(c.when for c in mechanism.causes), *(c.when for c in mechanism.cases)]
                if any(touched & set(when) for when in whens):
                    touched.add(name)
            for name, groups in ordering.settled_first(model, (repair_id,)).items():
                causes = model.mechanisms[name].causes
                flags = [bool(touched & set(causes[group[0]].when)) for group in groups]
                assert flags == sorted(flags)

    def test_a_search_finds_nothing_worse_than_the_file(self, monkeypatch) -> None:  # type: ignore[no-untyped-def]
        model = read_model(SMALL)
        monkeypatch.setattr(ordering, "SMALL_ENOUGH", 0)
        start = ordering.in_file_order(model)
        found = ordering._search(model)
        assert ordering._entries(model, found) <= ordering._entries(model, start)

    def test_the_same_whatever_the_hash_seed(self) -> None:
        program = (
            "from pathlib import Path; from brinebayes.network import ordering;"
            "from brinebayes.knowledge.reading import read_model;"
            f"ordering.SMALL_ENOUGH = 0; model = read_model(Path({str(SMALL)!r}));"
            "print(ordering._search(model))"
        )
        found = set()
        for seed in ("1", "2"):
            environment = {**os.environ, "PYTHONHASHSEED": seed}
            run = subprocess.run(
                [sys.executable, "-c", program],
                capture_output=True,
                text=True,
                check=True,
                env=environment,
            )
            found.add(run.stdout)
        assert len(found) == 1
