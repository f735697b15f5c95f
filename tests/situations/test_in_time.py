"""Stories of visits in which repairs change the unit, as a senior technician would tell them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pytest

from brinebayes.advice.advise import advise
from brinebayes.advice.situation import Situation, situation
from brinebayes.checking.ready import ready
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.visit import events
from brinebayes.visit.state import VisitState, fold
from tests.situations import situations as s

STORIES: list[dict[str, Any]] = s.read(s.DATA / s.IN_TIME)["stories"]
KEYS = {"name", "site", "complaint", "story", "reason", "basis"}
EXPECTATIONS = {
    "first",
    "above",
    "at_least",
    "at_most",
    "falls",
    "rises",
    "works_at_least",
    "open",
    "blocked",
    "kinds",
    "caution",
    "rules",
    "next",
}
HAPPENS: Mapping[str, Any] = {
    "did": events.Done,
    "part_missing": events.PartMissing,
    "part_here": events.PartHere,
}


@pytest.fixture(scope="module")
def shipped() -> CheckedModel:
    return ready(s.SHIPPED)


@dataclass
class Moment:
    """Where a story stands: what was known before this expectation, and what is now."""

    checked: CheckedModel
    state: VisitState
    before: Mapping[str, float]
    now: Situation

    def holds(self, expect: Mapping[str, Any]) -> None:
        """Everything that is expected here."""
        assert set(expect) <= EXPECTATIONS
        belief, faults = self.now.belief, self.now.belief.faults
        ranked = sorted(faults, key=lambda name: -faults[name])
        shown = ", ".join(f"{name} {faults[name]:.3f}" for name in ranked[:6])
        if "first" in expect:
            assert ranked[0] in expect["first"], shown
        for likelier, than in expect.get("above", ()):
            assert faults[likelier] > faults[than], f"{likelier} > {than}: {shown}"
        for name, least in expect.get("at_least", {}).items():
            assert faults[name] >= least, f"{name} {faults[name]:.3f}; {shown}"
        for name, most in expect.get("at_most", {}).items():
            assert faults[name] <= most, f"{name} {faults[name]:.3f}; {shown}"
        for name in expect.get("falls", ()):
            assert faults[name] < self.before[name], f"{name}: {shown}"
        for name in expect.get("rises", ()):
            assert faults[name] > self.before[name], f"{name}: {shown}"
        assert belief.works >= expect.get("works_at_least", 0.0), f"{belief.works:.3f}; {shown}"
        self._acts(expect)

    def _acts(self, expect: Mapping[str, Any]) -> None:
        acts = {act.id: act for act in self.now.acts}
        assert set(expect.get("open", ())) <= set(acts)
        assert not set(expect.get("blocked", ())) & set(acts)
        for name, kind in expect.get("kinds", {}).items():
            assert acts[name].kind == kind
        for name, words in expect.get("caution", {}).items():
            assert any(words in caution for caution in acts[name].cautions)
        assert set(expect.get("rules", ())) <= {item.rule_id for item in self.now.notes}
        if "next" in expect:
            assert advise(self.checked, self.state).next.act.id in expect["next"]


@pytest.mark.parametrize("story", STORIES, ids=[story["name"] for story in STORIES])
def test_story(shipped: CheckedModel, story: Mapping[str, Any]) -> None:
    """Told from the beginning; every expectation on the way holds."""
    assert set(story) <= KEYS
    assert story["reason"]
    assert story["basis"].startswith(s.BASES)
    state = fold(
        shipped.model,
        [
            *(events.SiteKnown(*known) for known in story.get("site", {}).items()),
            *(events.Complained(complaint) for complaint in story["complaint"]),
        ],
    )
    before: Mapping[str, float] = situation(shipped, state).belief.faults
    expected = 0
    for step in story["story"]:
        ((what, value),) = step.items()
        if what == "expect":
            moment = Moment(shipped, state, before, situation(shipped, state))
            moment.holds(value)
            before = moment.now.belief.faults
            expected += 1
        elif what == "saw":
            state = fold(shipped.model, [events.Saw(*seen) for seen in value.items()], state)
        else:
            state = fold(shipped.model, [HAPPENS[what](value)], state)
    assert expected >= 2
    assert "expect" in story["story"][-1]


@pytest.mark.parametrize("kind", ["did", "part_missing", "part_here"])
def test_what_can_happen_happens(kind: str) -> None:
    """In some story; a repair in each."""
    told = [[what for step in story["story"] for what in step] for story in STORIES]
    assert any(kind in kinds for kinds in told)
    assert all("did" in kinds for kinds in told)
