"""The numbers behind an answer, as text."""

from __future__ import annotations

from pathlib import Path

from brinebayes.advice.advise import advise
from brinebayes.advice.effort import USUAL
from brinebayes.advice.sureness import sureness
from brinebayes.advice.weights import evidence
from brinebayes.checking.ready import ready
from brinebayes.visit.events import Complained, Saw
from brinebayes.visit.state import fold
from brinebayes.wording.detail import detail

SMALL = Path(__file__).resolve().parent.parent / "models" / "small"


class TestDetail:
    """A column per fault, a row per thing that was told, and how sure the comparison is."""

    def test_every_weight_has_its_row_and_the_bounds_are_told(self) -> None:
        checked = ready(SMALL)
        state = fold(checked.model, [Complained("hard_water"), Saw("level", "static")])
        found = evidence(checked, state)
        advice = advise(checked, state)
        sure = sureness(checked, state, advice, USUAL)
        lines = detail(checked.model, advice, found, sure).splitlines()
        for one in found.weights:
            row = next(line for line in lines if line.startswith(f"  {one.what} "))
            assert [float(cell) for cell in row.split()[-3:]] == [
                round(value, 1) for value in one.decibans
            ]
        text = " ".join(" ".join(lines).split())
        assert f"{advice.choice.expansions} beliefs" in text
        assert sure.contrast is not None
        assert f"{sure.contrast.other.act.name} is expected to cost" in text
        assert f"{sure.contrast.information:+.1f} {checked.model.about.currency}" in text
        for one in sure.following:
            assert f"= {one.outcome}, " in text
