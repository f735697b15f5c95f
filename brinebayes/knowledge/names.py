"""Did you mean: the nearest known name to one that does not exist."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TypeVar

from brinebayes.errors import UsageError

V = TypeVar("V")


def suggest(word: str, known: Iterable[str]) -> str:
    """` (did you mean ...?)` with the nearest of `known`, or the empty text if none is near."""
    # difflib is only needed when something is wrong; it stays off the start-up path.
    from difflib import get_close_matches

    by_folded: dict[str, str] = {}
    for name in known:
        by_folded.setdefault(_folded(name), name)
    near = get_close_matches(_folded(word), list(by_folded), n=1, cutoff=0.6)
    return f" (did you mean {by_folded[near[0]]}?)" if near else ""


def lookup(kind: str, word: str, known: Mapping[str, V]) -> V:
    """The value of `word` in `known`. Raises `UsageError` with a near name or all names."""
    if word in known:
        return known[word]
    hint = suggest(word, known) or f" (there are: {listed(known)})"
    raise UsageError(f"{kind} {word!r} does not exist{hint}")


def a(noun: str) -> str:
    """`a check`, `an observation`."""
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"


def listed(names: Iterable[str], most: int = 12) -> str:
    """The names with commas between; only the first `most`, and how many more there are."""
    names = tuple(names)
    shown = ", ".join(names[:most]) if names else "none"
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"


def _folded(name: str) -> str:
    return name.casefold().replace("-", "_").replace(" ", "_")
