"""Pictures that stand in a page."""

from __future__ import annotations

import re
import sys
from xml.etree import ElementTree

import numpy as np
import pytest

from brinebayes.errors import UsageError
from brinebayes.scoring import plots
from brinebayes.scoring.calibration import Statements
from brinebayes.scoring.resampling import Figure, weights

SERIES = [plots.Series(n, (Figure(0.2, 0.1, 0.3), Figure(0.5, 0.4, 0.6))) for n in ("one", "two")]
PARTS = [
    plots.Part("worse & <wrong>", Figure(-0.2, -0.3, -0.1)),
    plots.Part("no", Figure(0, -1, 1)),
]


def calibration() -> object:
    """Some statements."""
    draw = np.random.default_rng(1)
    stated = draw.random((40, 5))
    made = Statements(20)
    made.add(stated, draw.random((40, 5)) < stated, weights([str(k) for k in range(40)], 20))
    return made.calibration()


PICTURES = {
    "lines": lambda: plots.lines("l", ["told", "1"], SERIES, "across", "up", shares=True),
    "rows": lambda: plots.rows("r", PARTS, "across", shares=False, nought=True),
    "reliability": lambda: plots.reliability("c", calibration(), "across", "up", "many"),
}


@pytest.mark.parametrize("name", PICTURES)
class TestPictures:
    """The same for every kind."""

    def test_it_is_an_element_with_nothing_from_elsewhere(self, name: str) -> None:
        text = PICTURES[name]()
        root = ElementTree.fromstring(text)
        assert root.tag.endswith("svg")
        links = re.findall(r'(?:href="|url\()([^")]*)', text)
        assert all(link.startswith("#") for link in links)

    def test_the_same_data_give_the_same_text(self, name: str) -> None:
        assert PICTURES[name]() == PICTURES[name]()

    def test_black_white_and_grey(self, name: str) -> None:
        """So that a grey printer loses nothing."""
        for colour in set(re.findall(r"#([0-9a-f]{6})\b", PICTURES[name]())):
            assert colour[:2] == colour[2:4] == colour[4:], colour


class TestRows:
    """A row for each part."""

    def test_names_are_text(self) -> None:
        assert "worse &amp; &lt;wrong&gt;" in PICTURES["rows"]()


class TestWithoutMatplotlib:
    """The extra is named."""

    def test_what_to_install(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setitem(sys.modules, "matplotlib", None)
        with pytest.raises(UsageError, match=r"brinebayes\[report\]"):
            PICTURES["lines"]()
