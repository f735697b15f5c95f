"""Every shipped rule fires where the trade expects it and holds its tongue close by.

Expectations stand in data/rules.yaml; they are common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from brinebayes.advice.acts import blocked_by, doubted
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.rules import Facts, Fired, fired
from brinebayes.knowledge.schema import Rule
from brinebayes.visit.state import VisitState
from tests.situations import situations as s

MODEL = s.shipped()
TABLE: dict[str, dict[str, Any]] = s.read(s.DATA / s.RULES)["rules"]


def situation(rule: str, of: str) -> s.Situation:
    """The facts of one line as a situation."""
    facts = TABLE[rule][of]
    assert set(facts) <= {"site", "complaint", "seen"}, f"{rule}: {of}: {sorted(facts)}"
    return s.Situation(
        file="rules",
        name=rule,
        expect={},
        site=facts.get("site", {}),
        complaints=tuple(facts.get("complaint", ())),
        steps=tuple(pair for step in facts.get("seen", ()) for pair in step.items()),
    )


def facts(rule: str, of: str) -> Facts:
    return situation(rule, of).facts()


def found(rule: str, of: str) -> dict[str, Fired]:
    return {item.rule_id: item for item in fired(MODEL, facts(rule, of))}


def test_every_rule_has_both() -> None:
    """No rule without facts that make it fire and facts that do not, and a word on why not."""
    assert set(TABLE) == set(MODEL.rules)
    for rule, line in TABLE.items():
        assert set(line) == {"fires", "silent", "because"}, rule
        assert line["because"].strip(), rule


@pytest.mark.parametrize("rule", MODEL.rules)
class TestRule:
    """One rule of the shipped model."""

    @pytest.mark.parametrize("of", ["fires", "silent"])
    def test_facts_can_be_a_visit(self, rule: str, of: str) -> None:
        """Ids and outcomes exist; a visit takes them in this order."""
        s.visit_state(MODEL, situation(rule, of))

    def test_fires(self, rule: str) -> None:
        assert rule in found(rule, "fires")

    def test_says_why(self, rule: str) -> None:
        """Its reason goes along, and one fact for each thing that it asked for."""
        item = found(rule, "fires")[rule]
        when = item.rule.when
        asked = len(when.saw) + len(when.site)
        asked += bool(when.not_seen) + bool(when.complaint) + bool(when.done) + bool(when.failed)
        assert item.rule.reason.strip().endswith(".")
        assert len(item.because) == asked
        assert all(fact.strip() for fact in item.because)

    def test_is_silent_close_by(self, rule: str) -> None:
        assert rule not in found(rule, "silent")

    def test_no_fact_stands_idle(self, rule: str) -> None:
        """Without any one of the facts that it names, the rule is silent."""
        whole, when = facts(rule, "fires"), MODEL.rules[rule].when
        less = [replace(whole, saw=without(whole.saw, name)) for name in when.saw]
        less = [replace(one, saw_history=one.saw) for one in less]
        less += [replace(whole, site=without(whole.site, name)) for name in when.site]
        less += [replace(whole, complaints=())] if when.complaint else []
        less += [replace(whole, done=())] if when.done else []
        less += [replace(whole, failed=when.failed - 1)] if when.failed else []
        for one in less:
            assert rule not in {item.rule_id for item in fired(MODEL, one)}

    def test_does_what_its_kind_does(self, rule: str) -> None:
        """Acts are held back with this reason, observations are doubted; the others only speak."""
        item, visit = found(rule, "fires")[rule], s.visit_state(MODEL, situation(rule, "fires"))
        acts = item.rule.acts
        if item.rule.kind in ("excludes", "settles", "first"):
            assert blocked_by(visit, (item,)) == dict.fromkeys(acts, item.rule.reason)
        elif item.rule.kind == "doubts":
            assert doubted((item,)) == frozenset(acts)
        else:
            assert not acts

    def test_lets_go_once_the_first_thing_is_done(self, rule: str) -> None:
        """A rule of the kind `first` holds nothing back when all that it waits for was seen."""
        item = found(rule, "fires")[rule]
        visit = s.visit_state(MODEL, situation(rule, "fires"))
        seen = tuple((len(visit.done), name, "") for name in item.rule.until)
        outdated = visit.outdated - frozenset(item.rule.until)
        after: VisitState = replace(visit, seen=(*visit.seen, *seen), outdated=outdated)
        held = blocked_by(after, (item,)) if item.rule.kind == "first" else {}
        assert held == {}


class TestAllTogether:
    """Rules do not lean on one another."""

    @pytest.mark.parametrize("rule", MODEL.rules)
    def test_order_does_not_matter(self, rule: str) -> None:
        """The file turned round gives the same rules, in the same order."""
        turned = dict(reversed(list(MODEL.rules.items())))
        other = replace(MODEL, rules=ReadOnly(turned))
        asked = facts(rule, "fires")
        assert fired(other, asked) == fired(MODEL, asked)

    @pytest.mark.parametrize("rule", MODEL.rules)
    def test_order_of_what_was_seen_does_not_matter(self, rule: str) -> None:
        asked = facts(rule, "fires")
        turned = replace(
            asked,
            complaints=asked.complaints[::-1],
            saw=dict(reversed(list(asked.saw.items()))),
            done=asked.done[::-1],
        )
        assert fired(MODEL, turned) == fired(MODEL, asked)

    def test_each_reason_is_its_own(self) -> None:
        """No two rules say the same words."""
        reasons = [rule.reason for rule in MODEL.rules.values()]
        assert len(set(reasons)) == len(reasons)

    def test_none_fires_on_nothing_but_those_that_wait(self) -> None:
        """About a unit of which nothing is known, only rules speak that ask what was not seen."""
        for item in fired(MODEL, Facts()):
            assert _waits(item.rule), item.rule_id


def _waits(rule: Rule) -> bool:
    when = rule.when
    return bool(when.not_seen) and not (when.saw or when.site or when.complaint or when.done)


def without(known: Any, name: str) -> dict[str, str]:
    return {key: value for key, value in known.items() if key != name}
