"""What becomes of classes through repairs, against what becomes of the single futures."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import numpy as np
import pytest

from brinebayes.advice.futures import Futures
from brinebayes.advice.situation import situation
from brinebayes.advice.table import table
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.visit.events import Done, Event, Saw
from brinebayes.visit.state import fold
from tests.decisions import families


class TestMoves:
    """All futures of a class go the way of their class."""

    @pytest.mark.parametrize("done", [0, 1])
    @pytest.mark.parametrize("family", ["two_faults", "harmful", "random"])
    def test_classes_go_where_their_futures_go(self, family: str, done: int) -> None:
        checked = CheckedModel(families.model(family, 1), ())
        repairs = tuple(checked.model.repairs)
        events: list[Event] = []
        for name in repairs[:done]:
            events += [Done(name), Saw("proof", "failed")]
        now = situation(checked, fold(checked.model, events))
        found = table(now, repairs, rows=400).futures
        harmless = [replace(one, harms=()) for one in found.repairs]
        futures = Futures(checked.model, found.worlds, harmless, len(harmless))
        expected: dict[tuple[int, int], dict[int, float]] = defaultdict(dict)
        for repair, before, after, chance in zip(*futures.moves(), strict=True):
            expected[int(repair), int(before)][int(after)] = float(chance)
        assert expected
        every = np.arange(futures.size)
        for repair in range(len(harmless)):
            passage = futures.repaired(repair, every)
            become = np.zeros((futures.size, futures.class_count))
            ends = futures.classes[passage.futures[passage.end]]
            np.add.at(become, (passage.start, ends), passage.chances)
            for future, number in enumerate(futures.classes.tolist()):
                if number in (futures.sound, futures.never):
                    continue
                ways = expected.get((repair, number), {})
                known = np.zeros(futures.class_count)
                known[list(ways)] = list(ways.values())
                known[number] = 1.0 - sum(ways.values())
                np.testing.assert_allclose(become[future], known, atol=1e-12)
