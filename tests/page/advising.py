"""What each of the two engines advises on the same visits, and whether it is the same."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from brinebayes.advice.advise import Advice, advise
from brinebayes.errors import BrinebayesError
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.page.slim import slim
from brinebayes.visit.events import Event
from brinebayes.visit.record import event_row
from brinebayes.visit.state import fold
from brinebayes.wording.answer import reason_text
from brinebayes.wording.fill import templates
from tests.page.node import run

#: Repairs that `walks` may make, so that most visits stay small enough for exact beliefs.
REPAIRS = ("clean_injector", "break_bridge")


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
        assert cost == pytest.approx(costs[act], abs=1e-9)
    for one, other in zip(mine["meanings"], theirs.outcomes, strict=True):
        assert one[:2] == [other.observation, other.outcome]
        assert one[2] == pytest.approx(other.probability, abs=1e-12)
        np.testing.assert_allclose([p for _, p in one[3]], [p for _, p in other.leading], atol=1e-9)
