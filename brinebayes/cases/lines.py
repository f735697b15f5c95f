"""Cases as JSON Lines: one record a line, strict on the way in, nothing dropped on the way out."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from brinebayes.cases.record import CALL_BACKS, Case, Confirmed, Step, problem
from brinebayes.errors import DataError
from brinebayes.knowledge.names import suggest
from brinebayes.visit.events import ModelIs
from brinebayes.visit.found import HOWS
from brinebayes.visit.record import SCHEMA as VISIT
from brinebayes.visit.record import event_of, event_row, json_object

SCHEMA = "brinebayes.case.1"

_FAMILY = re.compile(r"brinebayes\.case\.([1-9][0-9]*)\Z")

#: Field -> whether a record must have it. What may be left out means what `Case` says of it.
FIELDS: dict[str, bool] = {
    "schema": True,
    "id": True,
    "opened": True,
    "closed": True,
    "model": True,
    "job": False,
    "unit": False,
    "technician": False,
    "confirmed": False,
    "proven": False,
    "pending": False,
    "call_back": False,
    "invented": False,
    "steps": True,
}
MODEL_FIELDS = ("id", "version", "hash")
CONFIRMED_FIELDS = ("fault", "how", "sure")
#: Beside the fields of its event.
STEP_FIELDS = ("minutes", "advised", "at")


def read_cases(path: Path) -> Iterator[Case]:
    """The cases of a file, one at a time. Raises DataError with file:line and the field."""
    try:
        with path.open("rb") as file:
            for number, line in enumerate(file, 1):
                if line.strip():
                    yield parse_line(f"{path}:{number}", line)
    except OSError as error:
        raise DataError(f"{path}: cannot be read: {error.strerror}") from error


# --- writing -----------------------------------------------------------------------------------


def to_line(case: Case) -> str:
    """A case as one line with its newline. Raises DataError for what could not be read back."""
    found = problem(case)
    if found is not None:
        field, says = found
        raise DataError(f"case {case.id}: {field}: {says}")
    return json.dumps(to_row(case), ensure_ascii=False, allow_nan=False) + "\n"


def to_row(case: Case) -> dict[str, Any]:
    """A case as a JSON object, every field of it in a fixed order."""
    return {
        "schema": SCHEMA,
        "id": case.id,
        "opened": case.opened,
        "closed": case.closed,
        "model": {name: getattr(case.model, name) for name in MODEL_FIELDS},
        "job": case.job,
        "unit": case.unit,
        "technician": case.technician,
        "confirmed": [
            {"fault": one.fault, "how": one.how, "sure": float(one.sure)} for one in case.confirmed
        ],
        "proven": list(case.proven),
        "pending": list(case.pending),
        "call_back": case.call_back,
        "invented": case.invented,
        "steps": [_step_row(step) for step in case.steps],
    }


def _step_row(step: Step) -> dict[str, Any]:
    row = event_row(step.event)
    if step.minutes is not None:
        row["minutes"] = float(step.minutes)
    if step.advised:
        row["advised"] = step.advised
    if step.at:
        row["at"] = step.at
    return row


# --- reading -----------------------------------------------------------------------------------


def parse_line(place: str, line: bytes) -> Case:
    """A case from its line. Raises DataError that begins with `place`, then the field."""
    row = json_object(place, line)
    _schema(place, row.get("schema"))
    _only(place, row, FIELDS)
    for field, needed in FIELDS.items():
        if needed and field not in row:
            raise DataError(f"{place}: the field '{field}' is missing")
    case = Case(
        id=_text(place, row, "id"),
        opened=_text(place, row, "opened"),
        closed=_text(place, row, "closed"),
        model=_model(place, row["model"]),
        steps=tuple(
            _step(f"{place}: steps[{n}]", one) for n, one in enumerate(_list(place, row, "steps"))
        ),
        job=_text(place, row, "job"),
        unit=_text(place, row, "unit"),
        technician=_text(place, row, "technician"),
        confirmed=tuple(
            _confirmed(f"{place}: confirmed[{n}]", one)
            for n, one in enumerate(_list(place, row, "confirmed"))
        ),
        proven=_texts(place, row, "proven"),
        pending=_texts(place, row, "pending"),
        call_back=_one_of(place, "call_back", row.get("call_back", "unknown"), CALL_BACKS),
        invented=_truth(place, row, "invented"),
    )
    found = problem(case)
    if found is not None:
        field, says = found
        raise DataError(f"{place}: {field}: {says}")
    return case


def _schema(place: str, schema: Any) -> None:
    if schema == SCHEMA:
        return
    if isinstance(schema, str) and _FAMILY.match(schema):
        raise DataError(
            f"{place}: written by a newer brinebayes ({schema}); this one reads {SCHEMA}. "
            "Update brinebayes to read it"
        )
    if schema == VISIT:
        raise DataError(f"{place}: a visit file; `brinebayes cases add` takes it into the log")
    raise DataError(f"{place}: schema: must be {json.dumps(SCHEMA)}; this is no case record")


def _only(place: str, row: dict[str, Any], known: Any) -> None:
    for field in row:
        if field not in known:
            raise DataError(f"{place}: unknown field '{field}'{suggest(field, known)}")


def _text(place: str, row: dict[str, Any], field: str) -> str:
    value = row.get(field, "")
    if not isinstance(value, str):
        raise DataError(f"{place}: {field}: must be text")
    return value


def _truth(place: str, row: dict[str, Any], field: str) -> bool:
    value = row.get(field, False)
    if not isinstance(value, bool):
        raise DataError(f"{place}: {field}: must be true or false")
    return value


def _list(place: str, row: dict[str, Any], field: str) -> list[Any]:
    value = row.get(field, [])
    if not isinstance(value, list):
        raise DataError(f"{place}: {field}: must be a list")
    return value


def _texts(place: str, row: dict[str, Any], field: str) -> tuple[str, ...]:
    values = _list(place, row, field)
    for n, value in enumerate(values):
        if not isinstance(value, str):
            raise DataError(f"{place}: {field}[{n}]: must be text")
    return tuple(values)


def _one_of(place: str, field: str, value: Any, known: tuple[str, ...]) -> Any:
    if not isinstance(value, str) or value not in known:
        hint = suggest(value, known) if isinstance(value, str) else ""
        raise DataError(f"{place}: {field}: must be one of {', '.join(known)}{hint}")
    return value


def _number(place: str, field: str, value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise DataError(f"{place}: {field}: must be a number")
    return float(value)


def _object(place: str, value: Any, known: tuple[str, ...]) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise DataError(f"{place}: must be an object with {', '.join(known)}")
    _only(place, value, known)
    for field in known:
        if field not in value:
            raise DataError(f"{place}: the field '{field}' is missing")
    return value


def _model(place: str, value: Any) -> ModelIs:
    here = f"{place}: model"
    row = _object(here, value, MODEL_FIELDS)
    return ModelIs(**{field: _text(here, row, field) for field in MODEL_FIELDS})


def _confirmed(here: str, value: Any) -> Confirmed:
    row = _object(here, value, CONFIRMED_FIELDS)
    how = _one_of(here, "how", row["how"], HOWS)
    return Confirmed(_text(here, row, "fault"), how, _number(here, "sure", row["sure"]))


def _step(here: str, value: Any) -> Step:
    if not isinstance(value, dict):
        raise DataError(f"{here}: must be an object with an 'event'")
    row = dict(value)
    minutes = row.pop("minutes", None)
    if "minutes" in value:
        minutes = _number(here, "minutes", minutes)
    advised, at = _text(here, row, "advised"), _text(here, row, "at")
    row.pop("advised", None)
    row.pop("at", None)
    return Step(event_of(here, row), minutes, advised, at)
