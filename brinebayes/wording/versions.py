"""In what two models differ, for a reader."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from brinebayes.knowledge.difference import Difference
from brinebayes.knowledge.schema import Case, Cause, Model, Number, Row, Spread
from brinebayes.wording.fill import fill
from brinebayes.wording.tuning import words

SCHEMA = "brinebayes.model.compare.2"

#: Characters of something that is neither a number nor words, before it is cut.
LONG = 60


def to_text(before: Model, after: Model, found: Sequence[Difference]) -> str:
    """A heading and one line for every difference, numbers first."""
    said = words()["compare"]
    names = {"before": _name(before), "after": _name(after)}
    if not found:
        return fill(said["same"], names) + "\n"
    numbers = [one for one in found if one.is_number]
    others = [one for one in found if not one.is_number]
    rest = fill(said["rest"], {"count": str(len(others))}) if others else ""
    lines = [fill(said["title"], {**names, "numbers": str(len(numbers)), "rest": rest})]
    for one in numbers:
        values = {
            "path": path_text(one),
            "old": value_text(one.before),
            "new": value_text(one.after),
            "basis": _bases(one.before, one.after),
        }
        lines.append("  " + fill(said["number"], values))
    for one in others:
        old, new = _pair(one)
        lines.append("  " + fill(said["other"], {"path": path_text(one), "old": old, "new": new}))
    return "\n".join(lines) + "\n"


def to_object(before: Model, after: Model, found: Sequence[Difference]) -> dict[str, Any]:
    """The same as data."""
    return {
        "schema": SCHEMA,
        "before": {"version": before.about.version, "hash": before.hash},
        "after": {"version": after.about.version, "hash": after.hash},
        "differences": [
            {
                "path": [str(step) for step in one.path],
                "lines": {str(place): when for place, when in one.lines.items()},
                "number": one.is_number,
                "before": old,
                "after": new,
            }
            for one in found
            for old, new in (_pair(one),)
        ],
    }


def path_text(one: Difference) -> str:
    """The path as a file would have it, a line of a table by what it holds for."""
    steps = [one.lines.get(place, str(step)) for place, step in enumerate(one.path)]
    return ".".join(steps[1:] if one.path[0] == "about" else steps)


def value_text(value: Any) -> str:
    """A value as it is read; of what has many parts, its name or the beginning of its parts."""
    match value:
        case None:
            return str(words()["compare"]["absent"])
        case Number():
            return f"{value.value:g}"
        case Spread():
            return ", ".join(f"{state} {p:g}" for state, p in value.of.items())
        case Row():
            return value_text(value.gives)
        case Cause():
            return value_text(value.effect)
        case Case():
            return value.then
        case str():
            return value
        case tuple() if all(isinstance(item, str) for item in value):
            return ", ".join(value)
    named = getattr(value, "name", None) or getattr(value, "reason", None)
    text = str(named or value)
    return text if len(text) <= LONG else text[: LONG - 3] + "..."


def _pair(one: Difference) -> tuple[str, str]:
    """Both values; where these are alike, what is said about them."""
    old, new = value_text(one.before), value_text(one.after)
    if old != new or not isinstance(one.before, Number | Spread):
        return old, new
    return _said(one.before), _said(one.after)


def _said(number: Number | Spread) -> str:
    return f"{_basis(number)}, weight {number.weight:g}, {number.note}"


def _bases(before: Number | Spread, after: Number | Spread) -> str:
    old, new = before.basis, _basis(after)
    return new if old == new else f"{old} -> {new}"


def _basis(number: Number | Spread) -> str:
    return f"{number.basis}, {number.cases} cases" if number.cases else number.basis


def _name(model: Model) -> str:
    return f"{model.about.id} {model.about.version} ({model.hash[:8]})"
