"""What the plain technician does next."""

from __future__ import annotations

import pytest

from brinebayes.advice.prepare import technician as t
from brinebayes.advice.prepare.remedies import remedies
from brinebayes.advice.situation import situation
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.visit.events import Complained, Event, Saw
from brinebayes.visit.state import fold


def step(checked: CheckedModel, *events: Event) -> t.Step:
    """His next step on the small model."""
    here = situation(checked, fold(checked.model, events))
    plans = remedies(checked.model, here.state, here.routes)
    technician = t.Technician(checked.model, here.state, here.routes, plans)
    return technician.next(technician.arrives(here.start, here.worlds(600)))


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


class TestDoubt:
    """Bits that are missing."""

    @pytest.mark.parametrize(("share", "bits"), [(0.0, 0.0), (0.5, 1.0), (0.25, 0.811278)])
    def test_entropy_of_a_coin(self, share: float, bits: float) -> None:
        """Shannon 1948: H(1/4) = 0.811 bits."""
        assert t._doubt(share) == pytest.approx(bits, abs=1e-6)
