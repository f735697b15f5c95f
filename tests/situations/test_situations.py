"""Situations that a senior technician would recognise, against the shipped model.

The expectations are the trade's (their basis stands with each), never the program's own output.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from brinebayes.knowledge.rules import fired
from tests.situations import situations as s

ALL = s.all_situations()


def named(situation: s.Situation) -> str:
    return f"{situation.file}: {situation.name}"


def test_enough_situations_with_names_of_their_own() -> None:
    """At least eighty, no two alike by name."""
    assert len(ALL) >= 80
    assert len({situation.name for situation in ALL}) == len(ALL)


@pytest.mark.parametrize("situation", ALL, ids=named)
class TestSituations:
    """What the exact engine and the rules say about each situation."""

    def test_names_exist(self, situation: s.Situation) -> None:
        """Every id that a situation names is in the model."""
        model = s.shipped()
        expect = situation.expect
        acts = {*model.checks, *model.repairs}
        assert set(situation.done) <= set(model.repairs)
        assert set(situation.complaints) <= set(model.complaints)
        assert {*expect.get("rules", ()), *expect.get("rules_not", ())} <= set(model.rules)
        assert set(expect.get("next", ())) <= acts
        faults = {*expect.get("first", ()), *expect.get("among_first_three", ())}
        faults |= {*expect.get("at_least", {}), *expect.get("at_most", {})}
        faults |= {fault for pair in expect.get("above", ()) for fault in pair}
        assert faults <= set(model.faults)

    def test_ranking(self, situation: s.Situation) -> None:
        """The faults stand in the order, and carry the probability, that the trade expects."""
        model = s.shipped()
        expect = situation.expect
        belief = s.belief_after(model, situation)
        ranked = s.ranked(belief)
        shown = ", ".join(f"{fault} {belief.faults[fault]:.3f}" for fault in ranked[:6])
        if "first" in expect:
            assert ranked[0] in expect["first"], shown
        for fault in expect.get("among_first_three", ()):
            assert fault in ranked[:3], f"{fault}: {shown}"
        for likelier, than in expect.get("above", ()):
            assert belief.faults[likelier] > belief.faults[than], f"{likelier} > {than}: {shown}"
        for fault, least in expect.get("at_least", {}).items():
            assert belief.faults[fault] >= least, shown
        for fault, most in expect.get("at_most", {}).items():
            assert belief.faults[fault] <= most, f"{fault} {belief.faults[fault]:.3f}; {shown}"
        for group, least in expect.get("group_at_least", {}).items():
            assert s.in_groups(model, belief, (group,)) >= least, shown
        for group, most in expect.get("group_at_most", {}).items():
            assert s.in_groups(model, belief, (group,)) <= most, shown
        for groups, least in expect.get("groups_at_least", ()):
            assert s.in_groups(model, belief, tuple(groups)) >= least, shown
        if "works_at_least" in expect:
            assert belief.works >= expect["works_at_least"], f"{belief.works:.3f}; {shown}"

    def test_rules(self, situation: s.Situation) -> None:
        """The rules that must fire do, and those that must not do not."""
        found = {item.rule_id for item in fired(s.shipped(), situation.facts())}
        assert set(situation.expect.get("rules", ())) <= found
        assert not set(situation.expect.get("rules_not", ())) & found


@pytest.mark.parametrize("situation", [item for item in ALL if "next" in item.expect], ids=named)
def test_next_act(situation: s.Situation) -> None:
    """The act advised next is one of those that the trade would take."""
    pytest.importorskip("brinebayes.network.contradiction", reason="advice cannot be asked yet")
    from brinebayes.advice.advise import advise
    from brinebayes.checking.ready import ready

    advice = advise(ready(s.SHIPPED), s.visit_state(s.shipped(), situation))
    assert advice.next.act.id in situation.expect["next"], advice.next.act.id


def test_every_kind_of_rule_is_met() -> None:
    """Each kind of rule is asked for by at least one situation."""
    model = s.shipped()
    asked = {model.rules[rule].kind for item in ALL for rule in item.expect.get("rules", ())}
    assert asked == {rule.kind for rule in model.rules.values()}


def test_files_hold_situations() -> None:
    """No file of the folder is left unread."""
    read = {situation.file for situation in ALL}
    files = {path.stem for path in Path(s.DATA).glob("*.yaml")} - {
        Path(name).stem for name in s.OTHERS
    }
    assert read == files
