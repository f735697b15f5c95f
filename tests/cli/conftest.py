"""Run the command line in this process, as the shell would."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass

import pytest

from brinebayes.cli.main import main


@dataclass(frozen=True)
class Ran:
    """What a command returned and printed."""

    code: int
    out: str
    err: str


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., Ran]:
    """run("next", "--json") -> exit code, standard output, standard error."""

    def once(*line: str) -> Ran:
        monkeypatch.setattr(sys, "argv", ["brinebayes", *line])
        with pytest.raises(SystemExit) as end:
            main()
        out, err = capsys.readouterr()
        code = end.value.code
        assert isinstance(code, int)
        return Ran(code, out, err)

    return once
