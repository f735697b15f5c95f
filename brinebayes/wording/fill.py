"""Templates and the small code that fills them; the same data serves every shell."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any


@cache
def templates() -> dict[str, Any]:
    """The templates as they stand in templates.json."""
    text = Path(__file__).with_name("templates.json").read_text(encoding="utf-8")
    data: dict[str, Any] = json.loads(text)
    return data


def share(value: float) -> str:
    """A probability for a reader: whole per cent, and never a certainty that is none."""
    if 0.0 < value < 0.01:
        return "under 1 %"
    if 0.99 < value < 1.0:
        return "over 99 %"
    return f"{100.0 * value:.0f} %"


def money(value: float, currency: str) -> str:
    """An amount to the nearest whole unit of the currency."""
    return f"{value:.0f} {currency}"


def minutes(attention: float, waiting: float) -> str:
    """Minutes of work, and of waiting where there are any."""
    text = f"{attention:.0f} min"
    return f"{text} + {waiting:.0f} min waiting" if waiting >= 0.5 else text


def fill(template: str, values: Mapping[str, str | float]) -> str:
    """A template with its places filled; numbers are written by the name of their place."""
    currency = str(values.get("currency", ""))
    return template.format(
        **{name: _written(name, value, currency) for name, value in values.items()}
    )


def _written(name: str, value: str | float, currency: str) -> str:
    if isinstance(value, str):
        return value
    formats = templates()["formats"]
    if any(name.endswith(end) for end in formats["share"]):
        return share(value)
    if any(name.endswith(end) for end in formats["money"]):
        return money(value, currency)
    return f"{value:.1f}"
