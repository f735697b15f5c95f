"""Lines of a screen: wrapped, with a head in front and the rest indented below it."""

from __future__ import annotations

import re
import textwrap

#: Narrow enough to be read at arm's length, and for any terminal of 80 columns.
WIDTH = 76


#: Between a figure and what it counts no line ends.
_FIGURE = re.compile(r"(?<=\d) (?=%|min\b|[A-Z]{3}\b)")
_HELD = "\u00a0"


def wrapped(head: str, text: str) -> list[str]:
    """`text` behind `head`; further lines start below its first letter."""
    indent = " " * len(head)
    held = _FIGURE.sub(_HELD, text)
    lines = textwrap.wrap(
        held, WIDTH, initial_indent=head, subsequent_indent=indent, break_on_hyphens=False
    )
    return [line.replace(_HELD, " ") for line in lines] or [head.rstrip()]


def numbered(items: list[str]) -> list[str]:
    """Items with their numbers, right under each other."""
    return [
        line for number, text in enumerate(items, 1) for line in wrapped(f"{number:>4}  ", text)
    ]
