"""Policies obey the same rules as the advice, and the flow chart is followed as it stands."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from brinebayes.advice import policies
from brinebayes.advice.oracle import knowing
from brinebayes.advice.situation import situation
from brinebayes.checking.ready import ready
from brinebayes.errors import UsageError
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shipped import model_folder
from brinebayes.visit.events import Complained, Done, Event, Saw, SiteKnown
from brinebayes.visit.state import VisitState, fold
from tests.decisions import families

POLICIES = [
    policies.search,
    policies.repairs_alone,
    policies.bits_then_repair,
    policies.flow_chart,
]


@pytest.fixture(scope="module")
def shipped() -> CheckedModel:
    return ready(model_folder("softener"))


def after(checked: CheckedModel, events: Iterable[Event]) -> VisitState:
    return fold(checked.model, events)


HARD = Complained("hard_water")
DRY = Complained("salt_unused")


class TestEveryPolicy:
    """Whatever is chosen is open, with its safe route."""

    @pytest.mark.parametrize("policy", POLICIES)
    @pytest.mark.parametrize(
        "events",
        [
            (HARD,),
            (DRY, Saw("backwash_at_drain", "low")),
            (DRY, Saw("display", "dark")),
            (HARD, Done("set_bypass")),
            (HARD, Done("set_bypass"), Saw("proof", "failed")),
        ],
    )
    def test_chooses_among_the_open_acts(
        self, shipped: CheckedModel, policy: policies.Policy, events: tuple[Event, ...]
    ) -> None:
        state = after(shipped, events)
        assert policy(shipped, state) in situation(shipped, state).acts

    @pytest.mark.parametrize("policy", POLICIES)
    def test_a_proven_repair_ends_the_visit(
        self, shipped: CheckedModel, policy: policies.Policy
    ) -> None:
        # What a short proof cannot show was asked and looked at before.
        told = (
            Saw("salt_seen", "plenty"),
            Saw("salt_probe", "loose"),
            Saw("which_tap", "every_tap"),
        )
        events = (HARD, Saw("bypass_position", "part_or_full_bypass"), *told, Done("set_bypass"))
        state = after(shipped, (*events, Saw("salt_trend", "goes_down"), Saw("proof", "passed")))
        assert policy(shipped, state).kind == "finish"


class TestRepairsAlone:
    """Repairs, proofs and ends; nothing is looked at."""

    def test_never_a_check(self, shipped: CheckedModel) -> None:
        state = after(shipped, (HARD, Saw("salt_seen", "nearly_none")))
        assert policies.repairs_alone(shipped, state).id == "add_salt"
        state = after(shipped, (HARD, Saw("salt_seen", "nearly_none"), Done("add_salt")))
        assert policies.repairs_alone(shipped, state).kind == "prove"


class TestBitsThenRepair:
    """Checks until a repair is sure enough."""

    def test_looks_first_and_repairs_when_sure(self, shipped: CheckedModel) -> None:
        assert policies.bits_then_repair(shipped, after(shipped, (DRY,))).kind == "check"
        seen = (
            HARD,
            Saw("bypass_position", "part_or_full_bypass"),
            Saw("unit_hardness", "soft_there"),
            Saw("after_bypass_hardness", "raw_after"),
        )
        assert policies.bits_then_repair(shipped, after(shipped, seen)).id == "set_bypass"


class TestFlowChart:
    """The order of flow_chart.yaml, step by step."""

    def test_starts_with_the_first_step_that_is_open(self, shipped: CheckedModel) -> None:
        assert policies.flow_chart(shipped, after(shipped, (DRY,))).id == "look_display"
        water = SiteKnown("drive_kind", "water_driven")
        assert policies.flow_chart(shipped, after(shipped, (DRY, water))).id == "look_bypass"

    def test_a_finding_leads_to_its_repair_and_that_to_the_proof(
        self, shipped: CheckedModel
    ) -> None:
        seen = (
            DRY,
            Saw("display", "normal"),
            Saw("clock", "right_hour"),
            Saw("bypass_position", "part_or_full_bypass"),
        )
        assert policies.flow_chart(shipped, after(shipped, seen)).id == "set_bypass"
        done = (*seen, Done("set_bypass"))
        assert policies.flow_chart(shipped, after(shipped, done)).kind == "prove"
        failed = (*done, Saw("proof", "failed"))
        assert policies.flow_chart(shipped, after(shipped, failed)).id == "look_salt"

    def test_what_a_rule_wants_first_is_looked_at_first(self, shipped: CheckedModel) -> None:
        """Before seals are pulled on a hard-water call, hardness is tested at two points."""
        seen = (
            Complained("runs_to_drain"),
            HARD,
            Saw("display", "normal"),
            Saw("clock", "right_hour"),
            Saw("drain_in_service", "runs"),
            Saw("valve_mark", "at_service"),
            Saw("drain_after_recycle", "still_runs"),
        )
        assert policies.flow_chart(shipped, after(shipped, seen)).id == "test_hardness_points"

    def test_a_doubted_answer_is_asked_again(self, shipped: CheckedModel) -> None:
        seen = (
            DRY,
            Saw("level_in_draw", "stands_still"),
            Saw("suction_at_tank", "strong"),
        )
        assert policies.flow_chart(shipped, after(shipped, seen)).id == "watch_level"

    def test_gives_up_after_three_failed_proofs(self, shipped: CheckedModel) -> None:
        events: list[Event] = [DRY]
        for repair in ("set_clock", "set_bypass", "add_salt"):
            assert policies.flow_chart(shipped, after(shipped, events)).kind != "escalate"
            events += [Done(repair), Saw("proof", "failed")]
        assert policies.flow_chart(shipped, after(shipped, events)).id == "escalate"

    def test_every_complaint_has_an_order(self, shipped: CheckedModel) -> None:
        chart = shipped.model.flow_chart
        assert chart is not None
        assert set(chart.complaints) == set(shipped.model.complaints)

    def test_a_model_without_a_chart(self) -> None:
        import dataclasses

        model = dataclasses.replace(families.model("random", 0), flow_chart=None)
        with pytest.raises(UsageError, match="no flow_chart"):
            policies.flow_chart(CheckedModel(model, ()), VisitState())


class TestKnowing:
    """Who knows what is wrong goes straight to it."""

    def test_repairs_what_is_there_then_proves_then_leaves(self, shipped: CheckedModel) -> None:
        """An empty salt tank, and the unit sound once it is filled."""
        events: list[Event] = [DRY]
        assert knowing(shipped, after(shipped, events), Known("salt_low")).id == "add_salt"
        done = after(shipped, [*events, Done("add_salt")])
        assert knowing(shipped, done, Known()).kind == "prove"
        proven = after(shipped, [*events, Done("add_salt"), Saw("proof", "passed")])
        assert knowing(shipped, proven, Known()).kind == "finish"


class Known:
    """A unit that works once none of its faults is left."""

    def __init__(self, *faults: str) -> None:
        self.faults = frozenset(faults)

    @property
    def works(self) -> bool:
        return not self.faults

    def works_with(self, faults: frozenset[str]) -> bool:
        return not faults
