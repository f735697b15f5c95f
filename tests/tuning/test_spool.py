"""Evidence that is gone through again and again."""

from __future__ import annotations

from brinebayes.cases.record import Case
from brinebayes.knowledge.schema import Model
from brinebayes.tuning import spool
from brinebayes.tuning.gather import told_by
from brinebayes.tuning.spool import Spool


class TestSpool:
    """What goes in comes out, as often as asked."""

    def test_every_case_once_and_the_same_again(
        self, small: Model, visits: tuple[Case, ...]
    ) -> None:
        told = [(told_by(small, case), 1.0) for case in visits]
        with Spool(small, told) as kept:
            first = [chunk.weights.sum() for chunk in kept()]
            again = [chunk.weights.sum() for chunk in kept()]
            assert first == again
            assert sum(first) == len(visits) == kept.cases
            assert kept.different < kept.cases
            assert kept.different == len(set(told))
            assert kept.names == {name for one, _ in told for name, _ in one.findings}

    def test_what_does_not_fit_waits_on_the_disk(
        self, small: Model, visits: tuple[Case, ...], monkeypatch: object
    ) -> None:
        import pytest

        assert isinstance(monkeypatch, pytest.MonkeyPatch)
        monkeypatch.setattr(spool, "IN_MEMORY", 1000)
        monkeypatch.setattr(spool, "WINDOW", 40)
        with Spool(small) as kept:
            for case in visits:
                kept.add(told_by(small, case), 1.0)
            assert sum(chunk.weights.sum() for chunk in kept()) == len(visits)
            assert kept._file._rolled  # type: ignore[attr-defined]
