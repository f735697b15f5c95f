"""Options in the order of the line, across their names."""

from __future__ import annotations

from typing import Annotated

import pytest
import typer
from typer.testing import CliRunner

from brinebayes.cli.order import InOrder, in_order, pair
from brinebayes.errors import UsageError


def run(*line: str) -> str:
    """What a command with two repeated options reads from a line."""
    app = typer.Typer(rich_markup_mode=None)

    @app.command(cls=InOrder)
    def command(
        ctx: typer.Context,
        saw: Annotated[list[str], typer.Option()] = [],  # noqa: B006
        done: Annotated[list[str], typer.Option()] = [],  # noqa: B006
        quiet: Annotated[bool, typer.Option()] = False,
    ) -> None:
        typer.echo(in_order(ctx, {"saw": saw, "done": done}))

    return CliRunner().invoke(app, list(line)).output.strip()


class TestInOrder:
    """What happened first comes first."""

    def test_two_options_interleaved(self) -> None:
        line = run("--saw", "a=1", "--done", "r", "--quiet", "--saw=b=2", "--done", "s")
        assert line == "[('saw', 'a=1'), ('done', 'r'), ('saw', 'b=2'), ('done', 's')]"

    def test_nothing_given(self) -> None:
        assert run() == "[]"


class TestPair:
    """KEY=VALUE, or a line that says how to write it."""

    def test_halves(self) -> None:
        assert pair("saw", "level=static", "X=Y") == ("level", "static")

    @pytest.mark.parametrize("text", ["level", "level=", "=static", " = "])
    def test_anything_else_is_refused(self, text: str) -> None:
        with pytest.raises(UsageError, match="write it as --saw OBSERVATION=OUTCOME"):
            pair("saw", text, "OBSERVATION=OUTCOME")
