"""Visit files: JSON Lines, a header and then one event a line, in the order of the visit."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from brinebayes.errors import DataError
from brinebayes.knowledge.names import suggest
from brinebayes.visit.events import KINDS, Event

SCHEMA = "brinebayes.visit.1"


def read_events(path: Path) -> tuple[Event, ...]:
    """Every event of a visit file. Raises DataError with file:line and what would be right."""
    try:
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise DataError(f"{path}: not a text file in UTF-8 ({error.reason})") from error
    except OSError as error:
        raise DataError(f"{path}: cannot be read: {error.strerror}") from error
    lines = [(n, line) for n, line in enumerate(text.split("\n"), 1) if line.strip()]
    if not lines:
        raise DataError(f"{path}: is empty; the first line must be {_header_line()}")
    header = _object(path, *lines[0])
    if header.get("schema") != SCHEMA:
        raise DataError(f"{path}:{lines[0][0]}: the first line must be {_header_line()}")
    extra = set(header) - {"schema", "note"}
    if extra:
        raise DataError(f"{path}:{lines[0][0]}: unknown field '{min(extra)}' in the first line")
    return tuple(_event(path, number, _object(path, number, line)) for number, line in lines[1:])


def to_lines(events: Iterable[Event], note: str = "") -> str:
    """The text of a visit file; `note` goes into the first line."""
    names = {kind: name for name, kind in KINDS.items()}
    header = {"schema": SCHEMA, **({"note": note} if note else {})}
    rows: list[dict[str, str]] = [header]
    rows += [
        {"event": names[type(event)], **{field: getattr(event, field) for field in _fields(event)}}
        for event in events
    ]
    return "".join(json.dumps(row, ensure_ascii=False) + "\n" for row in rows)


def _fields(event: Event | type[Event]) -> tuple[str, ...]:
    return tuple(event.__slots__)


def _header_line() -> str:
    return json.dumps({"schema": SCHEMA})


def _object(path: Path, number: int, line: str) -> dict[str, Any]:
    try:
        value = json.loads(line, object_pairs_hook=_no_duplicates)
    except ValueError as error:
        raise DataError(f"{path}:{number}: not a JSON object on one line: {error}") from error
    if not isinstance(value, dict):
        raise DataError(f"{path}:{number}: not a JSON object: {line[:40]}")
    return value


def _no_duplicates(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    names = [name for name, _ in pairs]
    for name in names:
        if names.count(name) > 1:
            raise ValueError(f"the field '{name}' stands twice")
    return dict(pairs)


def _event(path: Path, number: int, row: dict[str, Any]) -> Event:
    place = f"{path}:{number}"
    name = row.pop("event", None)
    if not isinstance(name, str) or name not in KINDS:
        hint = suggest(name, KINDS) if isinstance(name, str) else ""
        raise DataError(f"{place}: event '{name}' is not one of {', '.join(KINDS)}{hint}")
    kind = KINDS[name]
    fields = _fields(kind)
    for field in fields:
        if not isinstance(row.get(field), str):
            raise DataError(f"{place}: a '{name}' event needs the text field '{field}'")
    for field in row:
        if field not in fields:
            raise DataError(f"{place}: unknown field '{field}'{suggest(field, fields)}")
    return kind(**row)
