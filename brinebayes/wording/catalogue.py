"""What a model holds, listed and explained: every number with its basis and source."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from brinebayes.errors import UsageError
from brinebayes.knowledge.names import suggest
from brinebayes.knowledge.schema import Model, Number, Spread

WIDTH = 80


def listing(model: Model, kind: str) -> list[dict[str, Any]]:
    """Everything of one kind, in the order of the model files."""
    rows = []
    for name, item in sections(model)[kind].items():
        row: dict[str, Any] = {"id": name, "name": getattr(item, "name", None) or item.reason}
        if kind == "observations":
            row["outcomes"] = dict(item.outcomes)
            row["check"] = next(
                c for c, check in model.checks.items() if name in check.observations
            )
            if item.reading is not None:
                row["number"] = f"a number in {item.reading.unit} may be told"
        if kind == "measures":
            row["values"] = {word: entry.name for word, entry in item.words.items()}
            if item.unit:
                least, greatest = item.least.value, item.greatest.value
                row["number"] = f"from {least:.3g} to {greatest:.3g} {item.unit}"
        if kind == "site":
            row["values"] = {value: entry.name for value, entry in item.values.items()}
        if kind == "rules":
            row["kind"] = item.kind
        rows.append(row)
    return rows


def sections(model: Model) -> dict[str, Mapping[str, Any]]:
    """Every part of a model that has ids, by the word used for it."""
    observations = {
        name: item for check in model.checks.values() for name, item in check.observations.items()
    }
    return {
        "faults": model.faults,
        "checks": model.checks,
        "observations": observations,
        "repairs": model.repairs,
        "site": model.site,
        "measures": model.measures,
        "complaints": model.complaints,
        "rules": model.rules,
        "mechanisms": model.mechanisms,
        "parts": model.parts,
        "moves": model.setups.moves,
        "invariants": model.setups.invariants,
        "setup": model.setups.variables,
        "sources": model.sources,
    }


def entry(model: Model, name: str) -> dict[str, Any]:
    """One thing as plain data, with the citation beside every source it names.

    Raises UsageError for an unknown id.
    """
    for kind, items in sections(model).items():
        if name in items:
            return {"id": name, "is": kind, **_plain(items[name], model)}
    known = [item for items in sections(model).values() for item in items]
    raise UsageError(f"there is nothing called '{name}' in the model{suggest(name, known)}")


def _plain(item: Any, model: Model) -> Any:
    if is_dataclass(item):
        named = {field.name: _plain(getattr(item, field.name), model) for field in fields(item)}
        plain = {key: value for key, value in named.items() if value not in (None, "", (), {}, [])}
        source = plain.get("source")
        if isinstance(item, Number | Spread) and source:
            plain["citation"] = model.sources[source].citation
        return plain
    if isinstance(item, Mapping):
        return {key: _plain(value, model) for key, value in item.items()}
    if isinstance(item, tuple):
        return [_plain(value, model) for value in item]
    return item


def listing_text(rows: list[dict[str, Any]]) -> str:
    """A listing for a reader: id and name, then outcomes or values below."""
    lines: list[str] = []
    for row in rows:
        lines += textwrap.wrap(f"{row['id']}: {row['name']}", WIDTH, subsequent_indent="    ")
        for key, words in {**row.get("outcomes", {}), **row.get("values", {})}.items():
            lines += textwrap.wrap(f"    {key}: {words}", WIDTH, subsequent_indent="        ")
        if "number" in row:
            lines += textwrap.wrap(f"    = {row['number']}", WIDTH, subsequent_indent="        ")
    return "\n".join(lines) + "\n"


def entry_text(found: dict[str, Any]) -> str:
    """One thing for a reader, a number and its reason on one line."""
    return "\n".join(_lines(found, 0)) + "\n"


def _lines(item: Any, depth: int) -> list[str]:
    pad = "  " * depth
    lines: list[str] = []
    for key, value in item.items() if isinstance(item, dict) else enumerate(item, 1):
        if isinstance(value, dict) and "basis" in value and ("value" in value or "of" in value):
            lines += _wrapped(f"{pad}{key}: {_number(value)}", depth)
        elif isinstance(value, dict | list) and value:
            if isinstance(value, list) and all(isinstance(part, str) for part in value):
                lines += _wrapped(f"{pad}{key}: {'; '.join(value)}", depth)
            else:
                lines += [f"{pad}{key}:", *_lines(value, depth + 1)]
        else:
            lines += _wrapped(f"{pad}{key}: {value}", depth)
    return lines


def _number(value: dict[str, Any]) -> str:
    what = value.get("value")
    if what is None:
        what = ", ".join(f"{state} {chance:g}" for state, chance in value["of"].items())
    else:
        what = f"{what:g}"
    source = f", {value['citation']}" if "citation" in value else ""
    basis = value["basis"].replace("_", " ")
    return f"{what}  [{basis}, weight {value['weight']:g}{source}] {value.get('note', '')}"


def _wrapped(text: str, depth: int) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent="  " * depth + "    ") or [text]
