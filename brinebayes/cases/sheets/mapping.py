"""The mapping file: what each column of a sheet says, in the ids of the model.

Every column of the header is named in it, the ones that are left out too, so that a column added
later is noticed. The order of the columns is the order of the visit: what stands right of a repair
was seen after it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from brinebayes.cases.record import CALL_BACKS, SURE
from brinebayes.errors import DataError, Problem
from brinebayes.knowledge import yaml_strict
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.names import suggest
from brinebayes.knowledge.schema import Model
from brinebayes.record import record
from brinebayes.visit.ends import ENDS
from brinebayes.visit.events import Complained, Done, Event, Saw, SiteKnown
from brinebayes.visit.found import HOWS
from brinebayes.visit.state import lacks, observations_of

#: What a column may be -> the settings that it takes beside `is`.
KINDS: Mapping[str, tuple[str, ...]] = ReadOnly(
    {
        "closed": (),
        "opened": (),
        "job": (),
        "unit": (),
        "technician": (),
        "complaint": ("values", "split"),
        "site": ("of", "values"),
        "measure": ("of", "unit"),
        "saw": ("of", "values"),
        "read": ("of", "unit"),
        "done": ("values", "split"),
        "found": ("values", "split", "how", "sure"),
        "minutes": ("of",),
        "ended": ("values",),
        "call_back": ("values",),
        "left_out": (),
    }
)
#: Kinds that stand at most once; `closed` must.
ONCE = ("closed", "opened", "job", "unit", "technician", "ended", "call_back")

_TOP = (
    *("sheet", "header_row", "encoding", "separator", "decimal", "dates"),
    *("blank", "same_visit", "ended", "columns"),
)


@record
class Column:
    """What one column says. `values`: what is written, folded -> an id; empty: ids are written.

    `of`: the site condition, measure or observation; for minutes the column whose act they took.
    """

    kind: str
    of: str = ""
    unit: str = ""
    values: Mapping[str, str] = ReadOnly({})
    split: str = ""
    how: str = "judged"
    sure: float = SURE["judged"]


@record
class SheetMapping:
    """A whole mapping. `header_row` counts from 1; `blank`: words, folded, for "not checked".

    `same_visit`: columns that tell visits apart; empty: the whole row does. `ended`: how visits
    ended where no column says it.
    """

    file: str
    columns: Mapping[str, Column]
    sheet: str = ""
    header_row: int = 1
    encoding: str = "utf-8"
    separator: str = ","
    decimal: str = "."
    dates: str = ""
    blank: frozenset[str] = frozenset()
    same_visit: tuple[str, ...] = ()
    ended: str = ""


def folded(text: str) -> str:
    """Text as it is compared: case and white space do not count."""
    return " ".join(text.split()).casefold()


def read_mapping(path: Path, model: Model) -> SheetMapping:
    """The mapping in a file. Raises DataError with every problem and its place."""
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise DataError(f"{path}: cannot be read: {error.strerror}") from error
    except UnicodeDecodeError:
        raise DataError(f"{path}: not UTF-8; save the mapping in that encoding") from None
    document = yaml_strict.load(str(path), text)
    problems = list(document.problems)
    if not problems:
        for at, says in _findings(document.data, model):
            place = yaml_strict.place(document.root, at)
            where = yaml_strict.path_text(at)
            problems.append(Problem(str(path), place.line, place.column, where, says))
    if problems:
        raise DataError("\n".join(map(str, problems)))
    return _mapping(str(path), document.data)


def _mapping(file: str, data: dict[str, Any]) -> SheetMapping:
    plain = {name: data[name] for name in _TOP if name in data}
    plain["columns"] = ReadOnly({name: _column(row) for name, row in data["columns"].items()})
    plain["blank"] = frozenset(map(folded, data.get("blank", ())))
    plain["same_visit"] = tuple(data.get("same_visit", ()))
    return SheetMapping(file, **plain)


def _column(row: dict[str, Any]) -> Column:
    rest = {name: value for name, value in row.items() if name not in ("is", "values")}
    values = {folded(word): id for word, id in row.get("values", {}).items()}
    how = rest.get("how", "judged")
    rest.setdefault("sure", SURE[how])
    return Column(row["is"], values=ReadOnly(values), **rest)


# --- what must hold ----------------------------------------------------------------------------

_Finding = tuple[tuple[str | int, ...], str]


def _findings(data: Any, model: Model) -> Iterator[_Finding]:
    if not isinstance(data, dict):
        yield (), f"a mapping has {', '.join(_TOP)}"
        return
    shapes = {"header_row": int, "blank": list, "same_visit": list, "columns": dict}
    for name, value in data.items():
        kind = shapes.get(name, str)
        if name not in _TOP:
            yield (name,), f"unknown setting{suggest(name, _TOP)}"
        elif not isinstance(value, kind) or isinstance(value, bool):
            yield (name,), f"must be {_SHAPES[kind]}"
    if not isinstance(data.get("columns"), dict):
        yield (), "the setting 'columns' is missing"
        return
    yield from _settings(data)
    for name, row in data["columns"].items():
        if not isinstance(row, dict) or "is" not in row:
            yield ("columns", name), "must say what the column is: {is: saw, of: OBSERVATION}"
        else:
            found = list(_of_column(row, model, data["columns"]))
            yield from ((("columns", name, *at), says) for at, says in found)
    yield from _together(data)


_SHAPES = {int: "a whole number", list: "a list", dict: "a mapping", str: "text in quotes"}


def _settings(data: dict[str, Any]) -> Iterator[_Finding]:
    if isinstance(data.get("header_row"), int) and data["header_row"] < 1:
        yield ("header_row",), "rows are counted from 1"
    if data.get("encoding", "utf-8") not in ("utf-8", "cp1252", "latin-1"):
        yield ("encoding",), "must be utf-8, cp1252 or latin-1"
    if data.get("decimal", ".") not in (".", ","):
        yield ("decimal",), 'must be "." or ","'
    if len(str(data.get("separator", ","))) != 1:
        yield ("separator",), 'must be one character, such as ";"'
    dates = str(data.get("dates", "%d%m%Y"))
    if "%" in dates and not all(any(c in dates for c in part) for part in ("d", "mbB", "yY")):
        yield ("dates",), 'must have day, month and year, such as "%d.%m.%Y"'
    elif "%" not in dates:
        yield ("dates",), 'must be a format such as "%d.%m.%Y" or "%m/%d/%Y"'
    if "ended" in data and data["ended"] not in ENDS:
        yield ("ended",), f"must be one of {', '.join(ENDS)}{suggest(str(data['ended']), ENDS)}"


def _of_column(row: dict[str, Any], model: Model, columns: Any) -> Iterator[_Finding]:
    kind = row["is"]
    if kind not in KINDS:
        yield ("is",), f"must be one of {', '.join(KINDS)}{suggest(str(kind), KINDS)}"
        return
    for name, value in row.items():
        if name != "is" and name not in KINDS[kind]:
            yield (name,), f"a column that is '{kind}' takes {', '.join(KINDS[kind]) or 'no more'}"
        elif name in ("of", "unit", "split", "how") and not isinstance(value, str):
            yield (name,), "must be text"
    if "of" in KINDS[kind]:
        known = _known(kind, model, columns)
        if row.get("of") not in known:
            told = str(row.get("of", ""))
            says = f"there is no '{told}'{suggest(told, known)}" if told else "must say 'of' which"
            yield ("of",) if told else (), says
            return
    if row.get("how", "judged") not in HOWS:
        yield ("how",), f"must be one of {', '.join(HOWS)}{suggest(str(row['how']), HOWS)}"
    sure = row.get("sure", 1.0)
    if not isinstance(sure, int | float) or isinstance(sure, bool) or not 0.0 < sure <= 1.0:
        yield ("sure",), "must be a number above 0, at most 1"
    if "values" in KINDS[kind]:
        yield from _values(row, model)


def _known(kind: str, model: Model, columns: Any) -> tuple[str, ...]:
    match kind:
        case "site":
            return tuple(model.site)
        case "measure":
            return tuple(model.measures)
        case "minutes":
            return tuple(columns)
        case "read":
            checks = model.checks.values()
            return tuple(n for c in checks for n, o in c.observations.items() if o.reading)
        case _:
            return tuple(observations_of(model))


def _values(row: dict[str, Any], model: Model) -> Iterator[_Finding]:
    values = row.get("values", {})
    if not isinstance(values, dict):
        yield ("values",), "must say what each word means: {word: id}"
        return
    seen: set[str] = set()
    for word, id in values.items():
        if not folded(word):
            yield ("values", word), "a blank cell means not checked and cannot mean anything else"
        elif folded(word) in seen:
            yield ("values", word), "stands twice; case and white space do not count"
        seen.add(folded(word))
        why = unknown(row["is"], row.get("of", ""), id, model)
        if why:
            yield ("values", word), why


def unknown(kind: str, of: str, id: Any, model: Model) -> str | None:
    """What is wrong with an id in a column of this kind; None if the model knows it."""
    if not isinstance(id, str):
        return "must be an id; put words such as true in quotes"
    events: dict[str, Event] = {
        "complaint": Complained(id),
        "site": SiteKnown(of, id),
        "saw": Saw(of, id),
        "done": Done(id),
    }
    if kind in events:
        return lacks(model, events[kind])
    known = {"found": tuple(model.faults), "ended": ENDS, "call_back": CALL_BACKS}[kind]
    hint = suggest(id, known) or f"; it is one of {', '.join(known[:8])}"
    return None if id in known else f"there is no '{id}'{hint}"


def _together(data: dict[str, Any]) -> Iterator[_Finding]:
    columns = data["columns"]
    kinds = [row.get("is") for row in columns.values() if isinstance(row, dict)]
    for kind in ONCE:
        if kinds.count(kind) > 1:
            yield ("columns",), f"only one column can be '{kind}'"
    if "closed" not in kinds:
        yield ("columns",), "one column must be 'closed': the day of the visit"
    if "ended" not in kinds and "ended" not in data:
        yield (
            (),
            (
                "no column is 'ended': say how all visits of the sheet ended, for instance "
                "ended: repaired_proof_pending"
            ),
        )
    for place, name in enumerate(data.get("same_visit", ())):
        if name not in columns:
            yield ("same_visit", place), f"there is no column '{name}'{suggest(str(name), columns)}"
