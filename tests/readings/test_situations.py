"""Numbers in situations that a senior technician would recognise, against the shipped model.

The expectations are the trade's (their basis stands with each), never the program's own output.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import pytest

from brinebayes.advice.situation import facts_of
from brinebayes.errors import UsageError
from brinebayes.knowledge.rules import fired
from brinebayes.network.belief import Belief, believe
from brinebayes.visit.events import Complained, Event, Measured, Read, Saw, SiteKnown
from brinebayes.visit.state import VisitState, fold, to_question
from tests.situations.situations import BASES, in_groups, ranked, read, shipped

KEYS = {"name", "site", "measures", "complaint", "seen", "read", "expect", "reason", "basis"}
EXPECTATIONS = {
    "outcome",
    "open",
    "not_told",
    "likelier",
    "less_likely",
    "first",
    "above",
    "group_at_least",
    "rules",
    "rules_not",
    "challenged",
    "refused",
}
ALL: list[dict[str, Any]] = read(Path(__file__).parent / "situations.yaml")["situations"]
TAKEN = [item for item in ALL if "refused" not in item["expect"]]


def events(item: Mapping[str, Any], *, numbers: bool = True) -> list[Event]:
    """The situation as a visit; without its numbers for comparison."""
    return [
        *(SiteKnown(key, value) for key, value in item.get("site", {}).items()),
        *(Measured(key, value) for key, value in item.get("measures", {}).items()),
        *(Complained(complaint) for complaint in item.get("complaint", ())),
        *(Saw(*pair) for step in item.get("seen", ()) for pair in step.items()),
        *(Read(*pair) for step in item["read"] for pair in step.items() if numbers),
    ]


def named(item: Mapping[str, Any]) -> str:
    return str(item["name"])


def belief_of(state: VisitState) -> Belief:
    """What the exact engine believes at the end of a visit."""
    found = believe(shipped(), to_question(shipped(), state))
    assert isinstance(found, Belief)
    return found


def test_situations_are_complete() -> None:
    """Each has its reason and basis, no unknown key, and a name of its own."""
    assert len({item["name"] for item in ALL}) == len(ALL)
    for item in ALL:
        assert set(item) <= KEYS, item["name"]
        assert item["basis"].startswith(BASES), item["name"]
        assert item["reason"], item["name"]
        assert item["expect"], item["name"]
        assert set(item["expect"]) <= EXPECTATIONS, item["name"]


def test_every_observation_that_takes_a_number_is_in_one() -> None:
    """No method of reading is without a situation."""
    methods = {
        name
        for check in shipped().checks.values()
        for name, observation in check.observations.items()
        if observation.reading is not None
    }
    used = {name for item in ALL for step in item["read"] for name in step}
    assert used >= methods - NOT_NEEDED


#: The same method as its neighbour's, with other words for its outcomes, or a plain limit.
NOT_NEEDED = {"backwash_line_off", "level_creep"}


@pytest.mark.parametrize("item", TAKEN, ids=named)
class TestSituations:
    """What the numbers are taken to mean, and what they do to the ranking."""

    def test_what_each_number_means(self, item: dict[str, Any]) -> None:
        expect = item["expect"]
        state = fold(shipped(), events(item))
        found = {one.reading.observation: one.reading for one in state.readings}
        for name, outcome in expect.get("outcome", {}).items():
            assert found[name].clear, found[name].says
            assert found[name].outcome == outcome, found[name].says
        for name in expect.get("open", ()):
            assert not found[name].clear, found[name].says
        for name, measures in expect.get("not_told", {}).items():
            assert set(measures) <= set(found[name].not_told), found[name].says
        for name, words in expect.get("challenged", {}).items():
            challenge = found[name].challenge
            assert challenge is not None
            assert words in challenge.says
            assert name not in state.seen_now()

    def test_what_they_do_to_the_ranking(self, item: dict[str, Any]) -> None:
        expect = item["expect"]
        before = belief_of(fold(shipped(), events(item, numbers=False))).faults
        state = fold(shipped(), events(item))
        belief = belief_of(state)
        after = belief.faults
        order = ranked(belief)
        shown = ", ".join(f"{fault} {after[fault]:.3f}" for fault in order[:6])
        for fault in expect.get("likelier", ()):
            assert after[fault] > before[fault], f"{fault}: {before[fault]:.4f}; {shown}"
        for fault in expect.get("less_likely", ()):
            assert after[fault] < before[fault], f"{fault}: {before[fault]:.4f}; {shown}"
        if "first" in expect:
            assert order[0] in expect["first"], shown
        for likelier, than in expect.get("above", ()):
            assert after[likelier] > after[than], f"{likelier} > {than}: {shown}"
        for group, least in expect.get("group_at_least", {}).items():
            assert in_groups(shipped(), belief, (group,)) >= least, shown
        if expect.get("challenged"):
            assert after == before

    def test_which_rules_act(self, item: dict[str, Any]) -> None:
        state = fold(shipped(), events(item))
        found = {one.rule_id for one in fired(shipped(), facts_of(shipped(), state))}
        assert_within(item["expect"].get("rules", ()), found)
        assert not set(item["expect"].get("rules_not", ())) & found


def assert_within(wanted: Iterable[str], found: set[str]) -> None:
    assert set(wanted) <= found, f"{set(wanted) - found} did not fire"


@pytest.mark.parametrize("item", [i for i in ALL if "refused" in i["expect"]], ids=named)
def test_what_cannot_be_is_refused(item: dict[str, Any]) -> None:
    """One line that names the observation and says what to do."""
    with pytest.raises(UsageError) as refusal:
        fold(shipped(), events(item))
    for words in item["expect"]["refused"]:
        assert words in str(refusal.value)
