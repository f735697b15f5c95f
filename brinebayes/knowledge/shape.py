"""Does the data of a file have the shape of its classes in `schema`? What is wrong, in plain words.

pydantic validates against the records of `schema`; this module turns where and what it found
into the path in the file and a line that says what would be right.
"""

from __future__ import annotations

import dataclasses
import json
import types
import typing
from collections.abc import Iterable, Iterator
from functools import cache
from typing import TYPE_CHECKING, Any

from brinebayes.knowledge import schema
from brinebayes.knowledge.names import a, listed, suggest
from brinebayes.knowledge.yaml_strict import Path
from brinebayes.record import record

if TYPE_CHECKING:
    from pydantic import TypeAdapter

T = typing.TypeVar("T")


@record
class Finding:
    """Something wrong at `path` of a file; `on_key`: it is the key that should be pointed at."""

    file: str
    path: Path
    says: str
    on_key: bool = False
    #: Written after the path when the finding is about a key that is not there.
    missing: str = ""


_WHY = {
    "basis": "every number states its basis (published, common_practice, judgement, learned)",
    "weight": "every number states its weight (how many cases the belief is worth)",
    "note": "every number and mechanism says why in its note",
    "misreading": "every observation states how often it is misread",
    "waiting_minutes": "every check states the minutes of waiting (0 if there is none)",
    "same_luck": "every repair states whether a second try shares the luck of the first",
}


def fits(file: str, data: Any) -> tuple[dict[str, Any], tuple[Finding, ...]]:
    """The values of the `Model` fields that `file` fills, and everything wrong with its shape.

    A field that does not have the right shape is left out of the values.
    """
    parts = schema.FILES[file]
    if parts == ("about",):
        return _validated(file, (), "about", data)
    if not isinstance(data, dict):
        says = f"must have {_keys(parts)} at the top, not {_described(data)}"
        return {}, (Finding(file, (), says),)
    findings = [
        Finding(file, (key,), f"unknown key{suggest(key, parts)}; {file} has {_keys(parts)}", True)
        for key in data
        if key not in parts
    ]
    values: dict[str, Any] = {}
    for part in parts:
        if part not in data:
            if may_be_left_out(part):
                continue
            says = f"missing; {file} has {_keys(parts)} at the top"
            findings.append(Finding(file, (), says, missing=part))
            continue
        value, more = _validated(file, (part,), part, data[part])
        values.update(value)
        findings.extend(more)
    return values, tuple(findings)


def fits_class(file: str, kind: type[T], data: Any) -> tuple[T | None, tuple[Finding, ...]]:
    """`data` as an instance of a record, or None and everything wrong with its shape."""
    from pydantic import TypeAdapter

    return _against(file, (), TypeAdapter(kind), kind, data)


@cache
def adapter(part: str) -> TypeAdapter[Any]:
    """The validator of one field of `Model`."""
    from pydantic import TypeAdapter

    return TypeAdapter(part_type(part))


def may_be_left_out(part: str) -> bool:
    """Whether a model is whole without this field."""
    (field,) = (each for each in dataclasses.fields(schema.Model) if each.name == part)
    return field.default is not field.default_factory  # without a default both are MISSING


def _validated(
    file: str, top: Path, part: str, data: Any
) -> tuple[dict[str, Any], tuple[Finding, ...]]:
    value, findings = _against(file, top, adapter(part), part_type(part), data)
    return ({} if findings else {part: value}), findings


def _against(
    file: str, top: Path, adapter: TypeAdapter[Any], root: Any, data: Any
) -> tuple[Any, tuple[Finding, ...]]:
    from pydantic import ValidationError

    try:
        # Through JSON, because pydantic's strict mode then still takes a list for a tuple and a
        # mapping for a record, but never text for a number or a number for text.
        return adapter.validate_json(json.dumps(data), strict=True), ()
    except ValidationError as error:
        found = error.errors(include_url=False)
    findings: dict[tuple[Path, str], Finding] = {}
    for item in found:
        finding = _finding(file, top, root, data, item)
        if finding is not None:
            findings.setdefault((finding.path, finding.missing or finding.says), finding)
    return None, tuple(findings.values())


def _finding(file: str, top: Path, root: Any, data: Any, item: Any) -> Finding | None:
    steps = list(_steps(root, item["loc"]))
    path = (*top, *(step for step, _ in steps))
    above = steps[-2][1] if len(steps) > 1 else root
    here = steps[-1][1] if steps else root
    kind, given = item["type"], item["input"]
    if kind in ("missing", "missing_argument"):
        name = str(path[-1])
        says = f"missing; {_WHY.get(name) or f'every {_called(above)} has {a(name)}'}"
        return Finding(file, path[:-1], says, on_key=True, missing=name)
    if kind == "unexpected_keyword_argument":
        known = [f.name for f in dataclasses.fields(_without_none(above))]
        says = f"unknown key{suggest(str(path[-1]), known)}; {a(_called(above))} has {_keys(known)}"
        return Finding(file, path, says, on_key=True)
    if kind == "literal_error":
        choices = typing.get_args(_without_none(here))
        near = suggest(given, choices) if isinstance(given, str) else ""
        return Finding(file, path, f"must be one of {', '.join(choices)}{near}")
    if _is_union(here):
        # A list is only judged as a list and anything else only as a word.
        says = f"must be a state or a list of states, not {_described(given)}"
        return None if isinstance(given, list) else Finding(file, path, says)
    wanted = {
        "string_type": "text",
        "float_type": "a number",
        "int_type": "a whole number",
        "int_from_float": "a whole number",
        "bool_type": "true or false",
        "tuple_type": "a list",
        "dict_type": "a mapping (key: value)",
        "mapping_type": "a mapping (key: value)",
    }.get(kind)
    if kind in ("dataclass_type", "dataclass_exact_type"):
        wanted = f"a mapping with {_keys(f.name for f in dataclasses.fields(_without_none(here)))}"
    if wanted is None:
        return Finding(file, path, f"{item['msg']} (found {_described(given)})")
    quotes = ""
    if kind == "string_type" and isinstance(given, int | float):
        quotes = "; put it in quotes if it is text"
    if kind in ("float_type", "int_type") and isinstance(given, str):
        quotes = "; numbers are written plainly, without quotes, units or commas"
    return Finding(file, path, f"must be {wanted}, not {_described(given)}{quotes}")


def _steps(kind: Any, location: tuple[str | int, ...]) -> Iterator[tuple[str | int, Any]]:
    """Each step of a pydantic location that is a step in the file, with the type it leads to."""
    for step in location:
        kind = _without_none(kind)
        if _is_union(kind):
            # pydantic names the branch it tried; the file knows nothing of branches.
            kind = tuple[str, ...] if str(step).startswith("tuple[") else kind
            continue
        origin = typing.get_origin(kind)
        if isinstance(kind, type) and dataclasses.is_dataclass(kind):
            kind = _hints(kind).get(str(step), object)
        elif origin is tuple:
            kind = typing.get_args(kind)[0]
        elif origin is not None:
            kind = typing.get_args(kind)[1]
        yield step, kind


def part_type(part: str) -> Any:
    """The declared type of one field of `Model`."""
    return _hints(schema.Model)[part]


@cache
def _hints(kind: Any) -> dict[str, Any]:
    return typing.get_type_hints(kind)


def _without_none(kind: Any) -> Any:
    rest = [each for each in typing.get_args(kind) if each is not types.NoneType]
    return rest[0] if isinstance(kind, types.UnionType) and len(rest) == 1 else kind


def _is_union(kind: Any) -> bool:
    return isinstance(_without_none(kind), types.UnionType)


def _called(kind: Any) -> str:
    """The class as the reader of a file would call it: `site value`, `check`."""
    name = getattr(_without_none(kind), "__name__", "entry")
    return "".join(f" {c.lower()}" if c.isupper() else c for c in name).strip()


def _keys(names: Iterable[str]) -> str:
    return listed(names, most=20)


def _described(given: Any) -> str:
    """What was found, short enough for a line."""
    if isinstance(given, dict):
        return "a mapping"
    if isinstance(given, list):
        return "a list"
    if isinstance(given, str):
        return f"the text {given[:40]!r}" if given else "nothing"
    return str(given).lower() if isinstance(given, bool) else str(given)[:40]
