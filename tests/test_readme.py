"""The README says what is so."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from brinebayes.cli.main import main
from tests import readme


class TestReadme:
    """Its commands run, its outputs are real, its Python works."""

    def test_exactly_two_commands_set_it_up(self) -> None:
        assert len(readme.set_up()) == 2

    def test_the_outputs_shown_are_the_outputs(self) -> None:
        """Written anew by `python -m tests.readme`."""
        assert readme.OUTPUT.search(readme.text())
        assert readme.written_anew() == readme.text()

    @pytest.mark.parametrize("words", readme.commands(), ids=" ".join)
    def test_every_command_runs(
        self,
        words: list[str],
        monkeypatch: pytest.MonkeyPatch,
        capsys: pytest.CaptureFixture[str],
    ) -> None:
        monkeypatch.setattr(sys, "argv", ["brinebayes", *words])
        with pytest.raises(SystemExit) as end:
            main()
        assert end.value.code == 0, capsys.readouterr().err

    @pytest.mark.parametrize("block", readme.python())
    def test_the_python_runs(
        self, block: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.chdir(tmp_path)
        names: dict[str, object] = {}
        exec(compile(block, "README.md", "exec"), names)
        if "softener.xmlbif" in block:
            assert (tmp_path / "softener.xmlbif").stat().st_size > 0
        if "pandas" in block:
            table = names["table"]
            assert len(table) > 1000
            assert table["top_1"].between(0.0, 1.0).all()
