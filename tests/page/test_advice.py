"""The page's advice against Python's: the same act, its cost, its reason, what answers mean."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from brinebayes.advice.advise import Advice, advise
from brinebayes.checking.ready import ready
from brinebayes.errors import BrinebayesError
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shipped import model_folder
from brinebayes.page.slim import slim
from brinebayes.visit.events import Done, Event, Saw
from brinebayes.visit.record import event_row
from brinebayes.visit.state import PROOF, fold
from brinebayes.wording.answer import reason_text
from brinebayes.wording.fill import templates
from tests.page.node import needs_node, run
from tests.page.walks import walks

pytestmark = needs_node

#: Costs are compared to the cent; where two ways to search on are equally good, the last bits of
#: their numbers decide which is followed, and an estimate may move by some cents.
CENTS = 0.25
REPAIRS = ("clean_injector", "break_bridge")


@pytest.fixture(scope="module")
def shipped() -> CheckedModel:
    return ready(model_folder("softener"))


def said(checked: CheckedModel, visits: list[list[Event]]) -> list[dict[str, Any]]:
    """The page's advice for each visit."""
    asked = [{"events": [event_row(e) for e in events], "chosen": True} for events in visits]
    told = json.loads(json.dumps(dict(templates())))
    task = {"task": "situations", "model": slim(checked.model), "told": told, "visits": asked}
    [answers] = run([task])
    found: list[dict[str, Any]] = answers
    return found


def advised(checked: CheckedModel, events: list[Event]) -> Advice | None:
    """Python's advice; None where what was seen or told cannot be."""
    try:
        return advise(checked, fold(checked.model, events))
    except BrinebayesError:
        return None


def compare(mine: dict[str, Any], theirs: Advice | None) -> None:
    if theirs is None:
        assert "error" in mine
        return
    assert mine["ranked"][0][0] == theirs.next.act.id
    assert mine["reason"] == reason_text(theirs)
    assert [fault for fault, _ in mine["faults"]] == [fault for fault, _ in theirs.faults]
    costs = {item.act.id: item.expected_cost for item in theirs.choice.ranked}
    for act, cost, _, _ in mine["ranked"]:
        assert cost == pytest.approx(costs[act], abs=CENTS)
    for one, other in zip(mine["meanings"], theirs.outcomes, strict=True):
        assert one[:2] == [other.observation, other.outcome]
        assert one[2] == pytest.approx(other.probability, abs=1e-12)
        np.testing.assert_allclose([p for _, p in one[3]], [p for _, p in other.leading], atol=1e-9)


class TestAdvice:
    """Whole visits to a unit of the shipped model."""

    def test_the_same_acts(self, shipped: CheckedModel) -> None:
        visits = list(walks(shipped.model, 10, 5, REPAIRS))
        for mine, events in zip(said(shipped, visits), visits, strict=True):
            compare(mine, advised(shipped, events))

    def test_after_more_repairs_than_the_trees_hold(self, shipped: CheckedModel) -> None:
        """Beliefs from rows, with the same random numbers."""
        first = next(walks(shipped.model, 1, 8, ()))
        done = [Done("clean_injector"), Saw(PROOF, "failed"), Done("replace_seals")]
        events = [*first, *done, Saw(PROOF, "failed")]
        theirs = advised(shipped, events)
        assert theirs is not None
        assert theirs.effective_draws is not None
        [mine] = said(shipped, [events])
        compare(mine, theirs)
