"""Visit files: JSON Lines, a header and then one event a line, in the order of the visit.

The header names the schema and may hold a note, an id, the model that the visit was begun with, and
when. A line may hold the time at which it was written (`at`, UTC) and the act that stood first in
the advice on the screen (`advised`). A last line without its newline that
cannot be read was cut off when its writer was stopped: it is set aside, never deleted. When the
file is written again a `cut_off` event below it says so.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import fields
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

from brinebayes.errors import DataError
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.names import suggest
from brinebayes.record import record
from brinebayes.visit.events import KINDS, CutOff, Event, ModelIs

SCHEMA = "brinebayes.visit.1"

_FAMILY = re.compile(r"brinebayes\.visit\.([1-9][0-9]*)\Z")
_TIME = "%Y-%m-%dT%H:%M:%SZ"
_HEADER_FIELDS = ("schema", "note", "id", "model", "at")


@record
class Header:
    """The first line; everything but the schema may be absent."""

    note: str = ""
    model: ModelIs | None = None
    at: str = ""
    id: str = ""


@record
class Entry:
    """An event with its line in the file and, if these were written, its time and the advice."""

    event: Event
    line: int
    at: str = ""
    advised: str = ""


@record
class Record:
    """A whole file. `torn`: the text of a last line that was cut off; empty if there is none.

    `ended`: whether the last line has its newline.
    """

    header: Header
    entries: tuple[Entry, ...]
    torn: str = ""
    ended: bool = True

    @property
    def events(self) -> tuple[Event, ...]:
        """Every event, those that an undo took back included."""
        return tuple(entry.event for entry in self.entries)

    @property
    def model(self) -> ModelIs | None:
        """The model that the last advice came from, if the file says so."""
        named = [event for event in self.events if isinstance(event, ModelIs)]
        return named[-1] if named else self.header.model


def read_events(path: Path) -> tuple[Event, ...]:
    """Every event of a visit file. Raises DataError with file:line and what would be right."""
    return read_record(path).events


def read_record(path: Path) -> Record:
    """A visit file. Raises DataError with file:line and what would be right."""
    try:
        content = path.read_bytes()
    except OSError as error:
        raise DataError(f"{path}: cannot be read: {error.strerror}") from error
    return parse(str(path), content)


# --- writing -----------------------------------------------------------------------------------


def to_lines(events: Iterable[Event], note: str = "") -> str:
    """The text of a visit file; `note` goes into the first line."""
    return header_line(Header(note)) + event_lines(events)


def header_line(header: Header) -> str:
    """The first line, its newline included."""
    row: dict[str, Any] = {"schema": SCHEMA}
    if header.note:
        row["note"] = header.note
    if header.id:
        row["id"] = header.id
    if header.model is not None:
        row["model"] = {name: getattr(header.model, name) for name in _names(ModelIs)}
    if header.at:
        row["at"] = header.at
    return _line(row)


def event_lines(events: Iterable[Event], at: str = "", advised: str = "") -> str:
    """One line for each event, each with its newline; the rest is written into all of them."""
    about = {"at": at, "advised": advised}
    extra = {name: value for name, value in about.items() if value}
    return "".join(_line({**event_row(event), **extra}) for event in events)


def event_row(event: Event) -> dict[str, Any]:
    """An event as a JSON object: `event` names its kind, the rest are its fields."""
    word, names = _kinds()[type(event)]
    row: dict[str, Any] = {"event": word}
    for name in names:
        value = getattr(event, name)
        row[name] = (
            dict(value)
            if isinstance(value, Mapping)
            else list(value)
            if isinstance(value, tuple)
            else value
        )
    return row


def time_text(moment: datetime) -> str:
    """A moment as files have it: UTC, whole seconds."""
    return moment.strftime(_TIME)


def _line(row: dict[str, Any]) -> str:
    return json.dumps(row, ensure_ascii=False) + "\n"


# --- reading -----------------------------------------------------------------------------------


def parse(name: str, content: bytes) -> Record:
    """A file from its bytes; `name` is for messages. Raises DataError."""
    head, newline, tail = content.rpartition(b"\n")
    lines = [*(head.split(b"\n") if newline else ()), tail]
    rows = [(number, line) for number, line in enumerate(lines, 1) if line.strip()]
    if not rows:
        raise DataError(f"{name}: is empty; the first line must be {_header_text()}")
    header = _header(f"{name}:{rows[0][0]}", json_object(f"{name}:{rows[0][0]}", rows[0][1]))
    torn = ""
    if len(rows) > 1 and tail.strip() and not readable(tail):
        torn = tail.decode("utf-8", errors="replace")
        rows.pop()
    entries = _entries(name, rows[1:], torn)
    return Record(header, entries, torn, ended=not tail.strip())


def _entries(name: str, rows: list[tuple[int, bytes]], torn: str) -> tuple[Entry, ...]:
    """The events; lines that cannot be read are passed over where a `cut_off` below says so."""
    entries: list[Entry] = []
    unread: list[tuple[int, bytes]] = []
    for number, line in rows:
        if not readable(line):
            unread.append((number, line))
            continue
        entry = _entry(f"{name}:{number}", number, json_object(f"{name}:{number}", line))
        if isinstance(entry.event, CutOff):
            if not unread:
                raise DataError(f"{name}:{number}: no line that was cut off stands above this")
            unread = []
        if unread:
            break
        entries.append(entry)
    if unread and not (torn and event_lines([CutOff()]).startswith(torn)):
        number, line = unread[0]
        json_object(f"{name}:{number}", line)
    return tuple(entries)


def readable(line: bytes) -> bool:
    """Whether a line is a JSON object, whatever is in it."""
    try:
        json_object("", line)
    except DataError:
        return False
    return True


def json_object(place: str, line: bytes) -> dict[str, Any]:
    """A line as a JSON object without doubled fields. Raises DataError that begins with `place`."""
    try:
        text = line.decode("utf-8")
    except UnicodeDecodeError as error:
        raise DataError(f"{place}: not text in UTF-8 ({error.reason})") from error
    try:
        value = json.loads(text, object_pairs_hook=_no_duplicates)
    except (ValueError, RecursionError) as error:
        raise DataError(f"{place}: not a JSON object on one line: {error}") from error
    if not isinstance(value, dict):
        raise DataError(f"{place}: not a JSON object: {text[:40]}")
    return value


def _no_duplicates(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    names = [name for name, _ in pairs]
    for name in names:
        if names.count(name) > 1:
            raise ValueError(f"the field '{name}' stands twice")
    return dict(pairs)


def _header(place: str, row: dict[str, Any]) -> Header:
    schema = row.get("schema")
    family = _FAMILY.match(schema) if isinstance(schema, str) else None
    if family is not None and schema != SCHEMA:
        raise DataError(
            f"{place}: written by a newer brinebayes ({schema}); this one reads {SCHEMA}. "
            "Update brinebayes to go on with this visit"
        )
    if schema != SCHEMA:
        raise DataError(f"{place}: the first line must be {_header_text()}")
    for name in row:
        if name not in _HEADER_FIELDS:
            hint = suggest(name, _HEADER_FIELDS)
            raise DataError(f"{place}: unknown field '{name}' in the first line{hint}")
    note, name = _text(place, row, "note"), _text(place, row, "id")
    return Header(note, _header_model(place, row.get("model")), _time(place, row), name)


def _header_model(place: str, value: Any) -> ModelIs | None:
    if value is None:
        return None
    names = _names(ModelIs)
    if (
        not isinstance(value, dict)
        or set(value) != set(names)
        or not all(isinstance(text, str) for text in value.values())
    ):
        raise DataError(f"{place}: the field 'model' must have the texts {', '.join(names)}")
    return ModelIs(**value)


def _header_text() -> str:
    return json.dumps({"schema": SCHEMA})


def _text(place: str, row: dict[str, Any], field: str) -> str:
    """An optional text, taken out of the row."""
    value = row.pop(field, "")
    if not isinstance(value, str):
        raise DataError(f"{place}: the field '{field}' must be text")
    return value


def _time(place: str, row: dict[str, Any]) -> str:
    value = row.pop("at", "")
    if value == "":
        return ""
    try:
        datetime.strptime(value, _TIME)
    except (TypeError, ValueError):
        shown = json.dumps(value)[:40]
        raise DataError(
            f"{place}: 'at' must be a UTC time as 2024-05-31T08:00:00Z, not {shown}"
        ) from None
    return str(value)


def _entry(place: str, number: int, row: dict[str, Any]) -> Entry:
    at, advised = _time(place, row), _text(place, row, "advised")
    return Entry(event_of(place, row), number, at, advised)


def event_of(place: str, row: dict[str, Any]) -> Event:
    """The event that a JSON object is. Raises DataError that begins with `place`."""
    row = dict(row)
    name = row.pop("event", None)
    if not isinstance(name, str) or name not in KINDS:
        hint = suggest(name, KINDS) if isinstance(name, str) else ""
        raise DataError(f"{place}: event '{name}' is not one of {', '.join(KINDS)}{hint}")
    kind = KINDS[name]
    wanted = shapes(kind)
    values = [
        _value(place, name, field, shape, row.pop(field, None)) for field, shape in wanted.items()
    ]
    if row:
        field = next(iter(row))
        raise DataError(f"{place}: unknown field '{field}'{suggest(field, wanted)}")
    return kind(*values)


def shapes(kind: type[Event]) -> Mapping[str, str]:
    """Field -> its type as written in `events`: `str`, `Mapping[str, str]`, `tuple[str, ...]`."""
    return _kinds()[kind][1]


@cache
def _kinds() -> Mapping[type[Event], tuple[str, Mapping[str, str]]]:
    """Each kind of event: its word in a file, and its shapes."""
    return ReadOnly(
        {
            kind: (name, ReadOnly({each.name: str(each.type) for each in fields(kind)}))
            for name, kind in KINDS.items()
        }
    )


def _value(place: str, event: str, field: str, shape: str, value: Any) -> Any:
    """The value of one field, frozen. The shapes are those that `events` uses."""
    if shape.startswith("Mapping"):
        if isinstance(value, dict) and all(isinstance(text, str) for text in value.values()):
            return ReadOnly(value)
        raise DataError(f"{place}: '{event}' needs '{field}', an object of texts")
    if shape.startswith("tuple"):
        if isinstance(value, list) and all(isinstance(text, str) for text in value):
            return tuple(value)
        raise DataError(f"{place}: '{event}' needs '{field}', a list of texts")
    if not isinstance(value, str):
        raise DataError(f"{place}: a '{event}' event needs the text field '{field}'")
    return value


def _names(kind: type[Any]) -> tuple[str, ...]:
    return tuple(each.name for each in fields(kind))
