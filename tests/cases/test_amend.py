"""What becomes known of a case later."""

from __future__ import annotations

from dataclasses import replace

import pytest

from brinebayes.cases.amend import amended, found, same_visit
from brinebayes.cases.record import SURE, Confirmed
from brinebayes.errors import UsageError
from brinebayes.visit.events import Complained
from tests.cases.anything import PROVEN, visit
from tests.dialogue.drive import small

MODEL = small().model


class TestFound:
    """A fault as it is typed."""

    @pytest.mark.parametrize(
        ("text", "confirmed"),
        [
            ("seals_worn", Confirmed("seals_worn", "judged", SURE["judged"])),
            ("seals_worn=seen", Confirmed("seals_worn", "seen", SURE["seen"])),
            ("seals_worn=repaired_only:0.5", Confirmed("seals_worn", "repaired_only", 0.5)),
        ],
    )
    def test_by_hand(self, text: str, confirmed: Confirmed) -> None:
        assert found(text) == confirmed

    @pytest.mark.parametrize(
        ("text", "words"),
        [
            ("f=sen", "did you mean seen"),
            ("f=seen:very", "'very' is no number; write it as"),
        ],
    )
    def test_refused(self, text: str, words: str) -> None:
        with pytest.raises(UsageError, match=words):
            found(text)


class TestAmended:
    """Only what is told changes."""

    def test_all_of_it(self) -> None:
        told = (found("injector_clogged=repaired_and_proven"), found("seals_worn"))
        after = amended(MODEL, PROVEN, told, "no", job="J-7", unit="", technician="")
        assert after == replace(PROVEN, confirmed=told, call_back="no", job="J-7")

    @pytest.mark.parametrize(
        ("texts", "call_back", "job", "words"),
        [
            (("injector_clog",), "", "", r"fault 'injector_clog' does not exist \(did you mean"),
            ((), "perhaps", "", "'perhaps' does not exist"),
            ((), "", "Farm House", "job: must be a reference"),
            (("seals_worn=seen:1.5",), "", "", r"confirmed\[1\].sure: must be above 0"),
        ],
    )
    def test_refused(self, texts: tuple[str, ...], call_back: str, job: str, words: str) -> None:
        with pytest.raises(UsageError, match=words):
            amended(MODEL, PROVEN, tuple(map(found, texts)), call_back, job=job)


class TestSameVisit:
    """A visit gone on with keeps what was told of its case meanwhile."""

    def test_what_was_amended_stays(self) -> None:
        before = replace(PROVEN, call_back="yes", unit="unit-7")
        now = visit(Complained("hard_water"), id=PROVEN.id)
        after = same_visit(before, now)
        assert after.steps == now.steps
        assert (after.confirmed, after.call_back, after.unit) == (PROVEN.confirmed, "yes", "unit-7")
