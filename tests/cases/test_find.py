"""Which cases are meant, and which are not well."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from brinebayes.cases.find import checked, checked_log, matching
from brinebayes.cases.log import Log
from brinebayes.errors import UsageError
from brinebayes.visit.events import Complained, Saw
from tests.cases.anything import PROVEN, visit
from tests.dialogue.drive import small

MODEL = small().model
OLD = replace(visit(Complained("hard_water")), opened="2020-01-01", closed="2020-01-01")


class TestMatching:
    """By day and by fault."""

    def test_by_hand(self) -> None:
        some = [OLD, PROVEN]
        assert list(matching(some)) == some
        assert list(matching(some, since="2024-05-31")) == [PROVEN]
        assert list(matching(some, fault="injector_clogged")) == [PROVEN]
        assert list(matching(some, since="2024-06-01")) == []

    def test_a_day_that_is_none(self) -> None:
        with pytest.raises(UsageError, match="--since spring: must be a date"):
            list(matching([OLD], since="spring"))


class TestChecked:
    """Every case that a model does not know, and ids that stand twice."""

    def test_by_hand(self) -> None:
        wrong = visit(Saw("levle", "static"), id="wrong")
        found = checked(MODEL, [PROVEN, OLD, wrong, PROVEN])
        assert found.count == 3
        assert found.problems == (
            "case wrong: there is no observation 'levle' (did you mean level?)",
            "case proven-1: stands twice",
        )

    def test_a_log(self, tmp_path: Path) -> None:
        with Log(tmp_path / "cases.db", make=True) as log:
            log.add([PROVEN, OLD], "2024-05-31T18:00:00Z")
            assert checked_log(MODEL, log) == checked(MODEL, [PROVEN, OLD])
            assert checked_log(MODEL, log).problems == ()
