"""A worked sum as one JSON object, and as text of 80 columns."""

from __future__ import annotations

import textwrap
from typing import Any

from brinebayes.physics.workbench import Figure, Worked

SCHEMA = "brinebayes.reckon.1"
WIDTH = 80


def sum_object(worked: Worked) -> dict[str, Any]:
    """The answer of `reckon ... --json`; `uncertainty` is the standard uncertainty, or null."""
    return {
        "schema": SCHEMA,
        "title": worked.title,
        "results": [_figure(figure) for figure in worked.results],
        "formula": worked.formula,
        "inputs": [_figure(figure) for figure in worked.inputs],
        "assumptions": list(worked.assumptions),
        "sources": list(worked.sources),
        "notes": list(worked.notes),
    }


def _figure(figure: Figure) -> dict[str, Any]:
    return {
        "name": figure.name,
        "value": figure.unit.from_si(figure.value_si),
        "unit": figure.unit.symbol,
        "uncertainty": None if figure.u_si is None else figure.u_si / figure.unit.scale,
        "text": figure.text,
    }


def sum_text(worked: Worked) -> str:
    """Results first, then how they came about and what follows from them."""
    width = max(len(figure.name) for figure in worked.results) + 2
    lines = [worked.title.upper()]
    lines += [f"  {figure.name:{width}}{figure.text}" for figure in worked.results]
    lines += _part("formula", (worked.formula,))
    lines += _part("from", (", ".join(f"{item.name} {item.text}" for item in worked.inputs),))
    lines += _part("assumes", worked.assumptions)
    lines += _part("source", worked.sources)
    lines += _part("note", worked.notes)
    return "\n".join(lines) + "\n"


def _part(head: str, texts: tuple[str, ...]) -> list[str]:
    lines: list[str] = []
    for number, text in enumerate(texts):
        first = f"  {head if number == 0 else '':10}"
        lines += textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=" " * 14)
    return lines
