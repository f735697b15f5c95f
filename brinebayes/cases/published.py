"""The JSON Schema of a case record, for whoever writes or checks cases with other tools.

It says what a schema can say; that an undo finds something, that days are days of the calendar
and that a fault is confirmed once is checked by `lines`.
"""

from __future__ import annotations

from typing import Any

from brinebayes.cases.lines import CONFIRMED_FIELDS, FIELDS, MODEL_FIELDS, SCHEMA
from brinebayes.cases.record import CALL_BACKS, REFERENCE
from brinebayes.visit.ends import ENDS
from brinebayes.visit.events import KINDS, Event
from brinebayes.visit.found import HOWS
from brinebayes.visit.record import shapes

_TEXT: dict[str, Any] = {"type": "string"}
_TEXTS: dict[str, Any] = {"type": "array", "items": _TEXT}
_DAY: dict[str, Any] = {"type": "string", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"}
_REFERENCE_OR_EMPTY: dict[str, Any] = {"type": "string", "pattern": f"^({REFERENCE})?$"}

#: Fields that hold nothing in a case, or only some words.
_NARROWED: dict[tuple[str, str], dict[str, Any]] = {
    ("note", "text"): {"const": ""},
    ("found", "how"): {"enum": ["", *HOWS]},
    ("ended", "to"): {"const": ""},
    ("ended", "end"): {"enum": list(ENDS)},
}


def json_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of one line of a case file."""
    fields: dict[str, dict[str, Any]] = {
        "schema": {"const": SCHEMA},
        "id": {"type": "string", "pattern": f"^{REFERENCE}$"},
        "opened": {**_DAY, "description": "The day on which the visit was begun."},
        "closed": {**_DAY, "description": "The day on which it ended."},
        "model": _object(
            dict.fromkeys(MODEL_FIELDS, _TEXT), "The model in whose ids the case is written."
        ),
        "job": {**_REFERENCE_OR_EMPTY, "description": "The shop's own reference of the job."},
        "unit": {**_REFERENCE_OR_EMPTY, "description": "The shop's own reference of the unit."},
        "technician": {**_REFERENCE_OR_EMPTY, "description": "The shop's own reference."},
        "confirmed": {"type": "array", "items": _confirmed()},
        "proven": {**_TEXTS, "description": "Repairs followed by a passed proof."},
        "pending": {**_TEXTS, "description": "Repairs of which something is still to be proven."},
        "call_back": {"enum": list(CALL_BACKS)},
        "invented": {"type": "boolean", "description": "True: made up, no visit took place."},
        "steps": {
            "type": "array",
            "description": "What happened, in order; what was undone included.",
            "items": {"oneOf": [_event(name, kind) for name, kind in KINDS.items()]},
        },
    }
    assert fields.keys() == FIELDS.keys()
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A case: a visit that is over, one record a line",
        "type": "object",
        "properties": fields,
        "required": [name for name, needed in FIELDS.items() if needed],
        "additionalProperties": False,
    }


def _object(properties: dict[str, Any], says: str) -> dict[str, Any]:
    return {
        "type": "object",
        "description": says,
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _confirmed() -> dict[str, Any]:
    sure = {"type": "number", "exclusiveMinimum": 0, "maximum": 1}
    values: tuple[dict[str, Any], ...] = (_TEXT, {"enum": list(HOWS)}, sure)
    return _object(
        dict(zip(CONFIRMED_FIELDS, values, strict=True)),
        "A fault that was found, how, and the probability that it was there.",
    )


def _event(name: str, kind: type[Event]) -> dict[str, Any]:
    """One kind of step: the fields of the event, then what is known about it."""
    own = {field: _value(name, field, shape) for field, shape in shapes(kind).items()}
    about: dict[str, Any] = {
        "minutes": {"type": "number", "minimum": 0},
        "advised": _TEXT,
        "at": {"type": "string", "pattern": "^([0-9-]{10}T[0-9:]{8}Z)?$"},
    }
    step = _object({"event": {"const": name}, **own}, (kind.__doc__ or "").splitlines()[0])
    step["properties"] = {**step["properties"], **about}
    return step


def _value(event: str, field: str, shape: str) -> dict[str, Any]:
    narrowed = _NARROWED.get((event, field))
    if narrowed is not None:
        return narrowed
    if shape.startswith("Mapping"):
        return {"type": "object", "additionalProperties": _TEXT}
    return _TEXTS if shape.startswith("tuple") else _TEXT
