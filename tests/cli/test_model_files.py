"""`model export` and `model draw`: files for other libraries and for eyes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from brinebayes.knowledge.reading import read_model
from brinebayes.network.build import build
from brinebayes.network.exchange import read_xmlbif

SMALL = Path(__file__).resolve().parents[1] / "models" / "small"
Run = Callable[..., Any]


class TestExport:
    """The network in a general format, ids as they are."""

    def test_comes_back_equal(self, run: Run, tmp_path: Path) -> None:
        file = tmp_path / "small.xmlbif"
        ran = run("model", "export", str(file), "--model", str(SMALL))
        assert ran.code == 0, ran.err
        assert "read back, largest difference" in ran.err
        network = build(read_model(SMALL), {}).network
        again, changes = read_xmlbif(file)
        assert changes == ()
        for table in network.tables:
            back = again.table_of[table.variable]
            order = [back.parents.index(name) for name in table.parents]
            values = back.values.transpose(*order, len(order))
            np.testing.assert_allclose(values, table.values, atol=1e-12, rtol=0.0)

    def test_a_wrong_site_is_refused(self, run: Run, tmp_path: Path) -> None:
        line = ("model", "export", str(tmp_path / "x"), "--model", str(SMALL), "--site", "sea=salt")
        ran = run(*line)
        assert ran.code == 2
        assert "sea" in ran.err


class TestDraw:
    """A picture of what hangs on what."""

    @pytest.mark.parametrize("around", [(), ("--around", "seals_worn")])
    def test_writes_one_picture(self, run: Run, tmp_path: Path, around: tuple[str, ...]) -> None:
        file = tmp_path / "small.svg"
        ran = run("model", "draw", str(file), "--model", str(SMALL), *around)
        assert ran.code == 0, ran.err
        assert file.read_text(encoding="utf-8").startswith("<svg")

    def test_an_unknown_id_is_refused(self, run: Run, tmp_path: Path) -> None:
        ran = run("model", "draw", str(tmp_path / "x"), "--model", str(SMALL), "--around", "sea")
        assert ran.code == 2
        assert not (tmp_path / "x").exists()
