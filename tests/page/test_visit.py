"""A visit on the page against Python: state, rules, routes, acts, readings and the seed."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from brinebayes.advice.situation import Situation, situation
from brinebayes.checking.ready import ready
from brinebayes.errors import UnsafeRoute
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shipped import model_folder
from brinebayes.page.slim import slim
from brinebayes.visit import record
from brinebayes.visit.ends import ENDS
from brinebayes.visit.events import KINDS, Event
from brinebayes.visit.found import HOWS
from brinebayes.visit.record import event_row
from brinebayes.visit.state import VisitState, fold
from tests.page.node import needs_node, run
from tests.page.walks import walks

pytestmark = needs_node

CLOSE = {"rtol": 1e-12, "atol": 1e-12}


@pytest.fixture(scope="module")
def shipped() -> CheckedModel:
    return ready(model_folder("softener"))


def python_says(checked: CheckedModel, events: list[Event]) -> dict[str, Any]:
    """What the driver says of a visit."""
    state = fold(checked.model, events)
    try:
        now = situation(checked, state)
    except UnsafeRoute:
        return {"error": "UnsafeRoute"}
    return {**_situation(now), "readings": _readings(state)}


def _situation(now: Situation) -> dict[str, Any]:
    return {
        "start": list(now.start),
        "notes": [[one.rule_id, list(one.because)] for one in now.notes],
        "leftOut": list(now.left_out),
        "blocked": [list(item) for item in sorted(now.blocked.items())],
        "acts": [
            [
                *(a.kind, a.id, a.name, a.minutes, a.waiting_minutes, a.cost),
                *map(list, (a.end, a.route.moves, a.cautions)),
            ]
            for a in now.acts
        ],
        "seed": str(now.seed),
    }


def _readings(state: VisitState) -> list[list[Any]]:
    found = [(one.place, one.reading) for one in state.readings]
    return [
        [
            *(place, list(r.likelihood), r.outcome, r.clear),
            *(r.challenge and r.challenge.kind, list(r.not_told)),
        ]
        for place, r in found
    ]


class TestEvents:
    """The page writes and reads the events of Python's visit files, all of them."""

    def test_kinds_and_fields(self) -> None:
        [found] = run([{"task": "events"}])
        shapes = {"str": "text", "tuple[str, ...]": "list", "Mapping[str, str]": "texts"}
        for name, kind in KINDS.items():
            expected = {field: shapes[of] for field, of in record.shapes(kind).items()}
            assert found["kinds"].pop(name) == expected
        assert found["kinds"] == {}
        assert found["ends"] == list(ENDS)
        assert found["hows"] == list(HOWS)


class TestSituations:
    """Where a visit stands after any events."""

    def test_of_the_shipped_model(self, shipped: CheckedModel) -> None:
        repairs = ("clean_injector", "break_bridge")
        visits = list(walks(shipped.model, 250, 11, repairs))
        asked = [{"events": [event_row(e) for e in events]} for events in visits]
        task = {"task": "situations", "model": slim(shipped.model), "visits": asked}
        [answers] = run([task])
        readings = 0
        for events, said in zip(visits, answers, strict=True):
            expected = python_says(shipped, events)
            if "error" in expected:
                assert said["error"] == expected["error"]
                continue
            mine, theirs = said.pop("readings"), expected.pop("readings")
            acts, wanted = said.pop("acts"), expected.pop("acts")
            seed, wanted_seed = said.pop("seed"), expected.pop("seed")
            # The last bits of a reading may differ, and with them what is drawn.
            assert seed == wanted_seed or theirs
            assert said == expected
            for act, other in zip(acts, wanted, strict=True):
                assert act[:3] + act[6:] == other[:3] + other[6:]
                np.testing.assert_allclose(act[3:6], other[3:6], **CLOSE)
            for one, other in zip(mine, theirs, strict=True):
                readings += 1
                np.testing.assert_allclose(one[1], other[1], **CLOSE)
                assert [one[0], *one[2:]] == [other[0], *other[2:]]
        assert readings > 60
