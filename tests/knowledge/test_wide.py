"""The widened model that is not shipped yet stays well-formed."""

from __future__ import annotations

from pathlib import Path

from brinebayes.knowledge.reading import read_model

WIDE = Path(__file__).resolve().parent.parent / "models" / "wide"


class TestWide:
    """What is kept for the next version."""

    def test_it_reads_and_is_wide(self) -> None:
        model = read_model(WIDE)
        assert len(model.faults) >= 55
        assert len(model.checks) >= 40
        assert len(model.complaints) >= 10
