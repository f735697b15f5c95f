"""The commands and where they stand; only the one that is called is imported."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import Any

import typer
from typer.core import TyperGroup

#: Command -> its module, whose `commands` is a Typer that holds it, or is the group of its name.
COMMANDS: Mapping[str, str] = {
    "next": "brinebayes.cli.next",
    "visit": "brinebayes.cli.visit",
    "prepare": "brinebayes.cli.prepare",
    "cases": "brinebayes.cli.cases",
    "tune": "brinebayes.cli.tune",
    "score": "brinebayes.cli.score",
    "simulate": "brinebayes.cli.simulate",
    "model": "brinebayes.cli.model",
    "reckon": "brinebayes.cli.reckon",
    "page": "brinebayes.page.command",
}


class OnDemand(TyperGroup):
    """The group of all commands; a name that is none of them, and help, import every one."""

    def list_commands(self, ctx: Any) -> list[str]:
        """In the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """The command, or None for a name that is none."""
        for name in (cmd_name,) if cmd_name in COMMANDS else COMMANDS:
            if name not in self.commands:
                self.commands[name] = _made(name)
        return self.commands.get(cmd_name)


def _made(name: str) -> Any:
    group = typer.main.get_group(import_module(COMMANDS[name]).commands)
    return group if group.name else group.commands[name]
