"""Options in the order in which they were given, across their names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import typer
from typer.core import TyperCommand

from brinebayes.errors import UsageError


class InOrder(TyperCommand):
    """A command that remembers the order of its repeated options in `context.meta['order']`."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Parse as usual; note the name of the option at each place of the line."""
        _, _, order = self.make_parser(ctx).parse_args(args=list(args))
        ctx.meta["order"] = tuple(parameter.name for parameter in order)
        return super().parse_args(ctx, args)


def in_order(ctx: typer.Context, options: Mapping[str, Sequence[str]]) -> list[tuple[str, str]]:
    """(option, value) pairs in the order of the line, for the repeated options named."""
    waiting = {name: iter(values) for name, values in options.items()}
    return [(name, next(waiting[name])) for name in ctx.meta["order"] if name in waiting]


def pair(option: str, text: str, shape: str) -> tuple[str, str]:
    """The two halves of KEY=VALUE. Raises UsageError with the shape that would be right."""
    key, sign, value = text.partition("=")
    if not sign or not key.strip() or not value.strip():
        raise UsageError(f"--{option} {text}: write it as --{option} {shape}")
    return key.strip(), value.strip()
