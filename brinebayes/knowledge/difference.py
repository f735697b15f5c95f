"""In which numbers and words two models differ."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.schema import Case, Cause, Condition, Model, Number, Row, Spread, States

Path = tuple[str | int, ...]
#: A line of a table, known by its `when` and not by its place.
Line = Row | Cause | Case


@dataclass(frozen=True)
class Difference:
    """Something that stands in both models and is not the same, or stands in one only (the other
    is None then). Numbers and spreads are compared as wholes, with their reasons.

    `path`: where it stands in the model before, or after if it stands only there. `lines`: the
    place of a table's line in the path -> what the line holds for, as in the file
    (`{bed: [poor, spent]}`).
    """

    path: Path
    before: Any
    after: Any
    lines: Mapping[int, str] = ReadOnly({})

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
    elif not whole and _are_lines(before) and _are_lines(after):
        yield from _between_lines(path, before, after)
    elif not whole and isinstance(before, tuple) and len(before) == len(after):
        for place, pair in enumerate(zip(before, after, strict=True)):
            yield from _between((*path, place), *pair)
    else:
        yield Difference(path, before, after)


def _are_lines(items: Any) -> bool:
    return isinstance(items, tuple) and all(isinstance(item, Line) for item in items)


def _between_lines(
    path: Path, before: tuple[Line, ...], after: tuple[Line, ...]
) -> Iterator[Difference]:
    """Line by line; then the order of those in both, since the first that holds decides.

    Where two lines of one table have the same `when`, the tables are told as wholes.
    """
    old = {when_text(line.when): place for place, line in enumerate(before)}
    new = {when_text(line.when): place for place, line in enumerate(after)}
    if len(old) < len(before) or len(new) < len(after):
        yield Difference(path, before, after)
        return
    for when in dict.fromkeys((*old, *new)):
        was, now = old.get(when), new.get(when)
        here = was if was is not None else new[when]
        pair = (None if was is None else before[was], None if now is None else after[now])
        for one in _between((*path, here), *pair):
            yield replace(one, lines=ReadOnly({**one.lines, len(path): when}))
    kept = tuple(when for when in old if when in new)
    moved = tuple(when for when in new if when in old)
    if kept != moved:
        yield Difference((*path, "order"), kept, moved)


def when_text(when: Condition) -> str:
    """A condition as a model file has it."""
    return "{" + ", ".join(f"{name}: {_states(states)}" for name, states in when.items()) + "}"


def _states(states: States) -> str:
    if isinstance(states, str):
        return states
    return states[0] if len(states) == 1 else f"[{', '.join(states)}]"
