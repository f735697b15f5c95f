"""What the plain technician does next."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from brinebayes.advice.prepare import technician as t
from brinebayes.advice.prepare.remedies import remedies
from brinebayes.advice.situation import situation
from brinebayes.errors import EvidenceConflict
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.visit.events import Complained, Event, Saw
from brinebayes.visit.state import fold


def arrived(checked: CheckedModel, *events: Event) -> tuple[t.Technician, t.Known]:
    """The technician and what he knows at the door, on the small model."""
    here = situation(checked, fold(checked.model, events))
    plans = remedies(checked.model, here.state, here.routes)
    technician = t.Technician(checked.model, here.state, here.routes, plans)
    return technician, technician.arrives(here.start, here.worlds(600))


def step(checked: CheckedModel, *events: Event) -> t.Step:
    """His next step on the small model."""
    technician, known = arrived(checked, *events)
    return technician.next(known)


class TestNext:
    """On the small model."""

    def test_he_looks_before_he_repairs(self, checked: CheckedModel) -> None:
        """Hard water alone has four causes, none likelier than half."""
        assert step(checked, Complained("hard_water")).kind == "check"

    def test_a_plain_cause_is_mended(self, checked: CheckedModel) -> None:
        seen = [Saw("injector_seen", "dirty"), Saw("suction_felt", "weak"), Saw("level", "static")]
        assert step(checked, *seen) == t.Step("repair", "clean_injector")

    def test_a_rule_that_holds_a_repair_back_is_kept(self, checked: CheckedModel) -> None:
        """Hard water: the outlet is tested before the injector is looked at."""
        found = step(checked, Complained("hard_water"), Saw("salt_use", "stopped"))
        assert found.id not in ("open_injector", "replace_seals")

    def test_a_unit_that_works_is_left(self, checked: CheckedModel) -> None:
        seen = [
            Saw("outlet_hardness", "soft"),
            Saw("level", "falls"),
            Saw("suction_felt", "strong"),
        ]
        assert step(checked, *seen, Saw("salt_use", "usual")).kind == "end"


class TestAnew:
    """Where few rows fit what was seen he draws others from all that he knows."""

    def test_only_where_few_fit_and_before_a_repair(self, checked: CheckedModel) -> None:
        technician, known = arrived(checked, Complained("hard_water"))
        assert not technician.unsure(known)
        # The lightest row stands for a draw or two of some six hundred.
        few = np.zeros(len(known.weights))
        few[known.weights.argmin()] = 1.0
        assert technician.unsure(replace(known, weights=few))
        repaired = replace(known.table, done=("clean_injector",))
        assert not technician.unsure(replace(known, weights=few, table=repaired))

    def test_the_new_table_is_what_the_exact_network_believes(self, checked: CheckedModel) -> None:
        """Against beliefs from the exact engine, which know nothing of the old table."""
        told = Complained("hard_water")
        technician, known = arrived(checked, told)
        seen = {**known.seen, "suction_felt": "weak", "level": "static"}
        found = technician.anew(replace(known, seen=seen, weights=np.eye(len(known.weights))[0]))
        events = [told, Saw("suction_felt", "weak"), Saw("level", "static")]
        exact = situation(checked, fold(checked.model, events)).belief
        rows = found.table.worlds
        assert float(found.weights @ rows.works) == pytest.approx(exact.works, abs=0.02)
        for fault, p in exact.faults.items():
            assert float(found.weights @ rows.has(fault)) == pytest.approx(p, abs=0.02)

    def test_what_cannot_be_so_leaves_the_table_as_it_is(
        self, checked: CheckedModel, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def never(*_: object) -> None:
            raise EvidenceConflict("these cannot hold together")

        technician, known = arrived(checked, Complained("hard_water"))
        monkeypatch.setattr(t, "believe", never)
        assert technician.anew(known) is known


class TestDoubt:
    """Bits that are missing."""

    @pytest.mark.parametrize(("share", "bits"), [(0.0, 0.0), (0.5, 1.0), (0.25, 0.811278)])
    def test_entropy_of_a_coin(self, share: float, bits: float) -> None:
        """Shannon 1948: H(1/4) = 0.811 bits."""
        assert t._doubt(share) == pytest.approx(bits, abs=1e-6)
