"""In what two models differ, for a reader."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from brinebayes.knowledge.difference import Difference
from brinebayes.knowledge.schema import Model, Number, Spread
from brinebayes.wording.fill import fill
from brinebayes.wording.tuning import words

SCHEMA = "brinebayes.model.compare.1"


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
            "old_basis": one.before.basis,
            "new_basis": _basis(one.after),
        }
        lines.append("  " + fill(said["number"], values))
    for one in others:
        pair = {"old": value_text(one.before), "new": value_text(one.after)}
        lines.append("  " + fill(said["other"], {"path": path_text(one), **pair}))
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
                "number": one.is_number,
                "before": value_text(one.before),
                "after": value_text(one.after),
            }
            for one in found
        ],
    }


def path_text(one: Difference) -> str:
    """The path as a file would have it."""
    steps = one.path[1:] if one.path[0] == "about" else one.path
    return ".".join(map(str, steps))


def value_text(value: Any) -> str:
    """A value in a few words."""
    if value is None:
        return str(words()["compare"]["absent"])
    if isinstance(value, Number):
        return f"{value.value:g}"
    if isinstance(value, Spread):
        return ", ".join(f"{state} {p:g}" for state, p in value.of.items())
    text = str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _basis(number: Number | Spread) -> str:
    return f"{number.basis}, {number.cases} cases" if number.cases else number.basis


def _name(model: Model) -> str:
    return f"{model.about.id} {model.about.version} ({model.hash[:8]})"
