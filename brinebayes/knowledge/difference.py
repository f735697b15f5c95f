"""In which numbers and words two models differ."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

from brinebayes.knowledge.schema import Model, Number, Spread

Path = tuple[str | int, ...]


@dataclass(frozen=True)
class Difference:
    """Something that stands in both models and is not the same, or stands in one only (the other
    is None then). Numbers and spreads are compared as wholes, with their reasons."""

    path: Path
    before: Any
    after: Any

    @property
    def is_number(self) -> bool:
        """Whether a value differs, and not only what is said about it."""
        if isinstance(self.before, Number) and isinstance(self.after, Number):
            return self.before.value != self.after.value
        if isinstance(self.before, Spread) and isinstance(self.after, Spread):
            return dict(self.before.of) != dict(self.after.of)
        return False


def differences(before: Model, after: Model) -> tuple[Difference, ...]:
    """Every difference, in the order of the files; the hash is left out."""
    parts = [f.name for f in fields(Model) if f.name != "hash"]
    return tuple(
        found
        for part in parts
        for found in _between((part,), getattr(before, part), getattr(after, part))
    )


def _between(path: Path, before: Any, after: Any) -> Iterator[Difference]:
    if before == after:
        return
    whole = isinstance(before, Number | Spread) or type(before) is not type(after)
    if not whole and is_dataclass(before):
        for each in fields(before):
            yield from _between(
                (*path, each.name), getattr(before, each.name), getattr(after, each.name)
            )
    elif not whole and isinstance(before, Mapping):
        for key in dict.fromkeys((*before, *after)):
            yield from _between((*path, key), before.get(key), after.get(key))
    elif not whole and isinstance(before, tuple) and len(before) == len(after):
        for place, pair in enumerate(zip(before, after, strict=True)):
            yield from _between((*path, place), *pair)
    else:
        yield Difference(path, before, after)
