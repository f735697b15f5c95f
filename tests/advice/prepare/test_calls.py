"""Ten calls read as a dispatcher would; what each expects stands in calls.yaml."""

from __future__ import annotations

from functools import cache

import pytest

from brinebayes.advice.prepare.sheet import Sheet, prepare
from brinebayes.checking.ready import ready
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shipped import model_folder
from tests.advice.prepare.calls import Call, read

CALLS = read()
NAMES = [call.name for call in CALLS]
#: Few visits: chances are held against longer runs by tests/bench/preparing.py.
VISITS = 12


@cache
def softener() -> CheckedModel:
    return ready(model_folder("softener"))


@cache
def sheet(place: int) -> Sheet:
    checked = softener()
    return prepare(checked, CALLS[place].state(checked.model), VISITS)


@pytest.mark.parametrize(("place", "call"), list(enumerate(CALLS)), ids=NAMES)
class TestCalls:
    """One call after the other."""

    def test_what_the_customer_does_now(self, place: int, call: Call) -> None:
        said = {n.rule_id for n in sheet(place).notes if n.rule.kind == "make_safe"}
        assert said == set(call.expect["now"])

    def test_what_is_asked(self, place: int, call: Call) -> None:
        asked = [one.id for one in sheet(place).questions]
        assert set(call.expect.get("ask", ())) <= set(asked)
        assert set(call.expect.get("ask_not", ())).isdisjoint(asked)
        if "ask_first" in call.expect:
            assert asked[0] == call.expect["ask_first"]

    def test_no_question_needs_tools_or_an_opened_unit(self, place: int, call: Call) -> None:
        model = softener().model
        for one in sheet(place).questions:
            if one.kind == "site":
                assert model.site[one.id].phone
                continue
            check = model.checks[one.id]
            assert check.who == "customer"
            assert not check.tools
            assert not check.needs
            assert not check.leaves

    def test_what_is_carried(self, place: int, call: Call) -> None:
        carried = {part.part for part in sheet(place).parts if part.carry}
        assert set(call.expect.get("carry", ())) <= carried
        assert set(call.expect.get("carry_not", ())).isdisjoint(carried)

    def test_what_is_likely(self, place: int, call: Call) -> None:
        found = sheet(place)
        assert found.faults[0][0] in call.expect.get("leads", [found.faults[0][0]])
        assert found.works >= call.expect.get("works", 0.0)
        elsewhere = {repair for _, repair, _ in found.elsewhere}
        assert set(call.expect.get("elsewhere", ())) <= elsewhere


class TestTenCalls:
    """The collection."""

    def test_there_are_ten_and_they_differ(self) -> None:
        assert len(CALLS) == 10
        assert len({tuple(call.complaint) + tuple(call.saw) for call in CALLS}) == 10
