"""A proven model as data for the page: what belief and advice need, and nothing of the reasons."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from brinebayes.knowledge.schema import Model, Number, Spread
from brinebayes.network import graph, odds
from brinebayes.network.ordering import chain_orders
from brinebayes.network.trees import trees_for

#: What only whoever keeps the model reads.
LEFT_OUT = frozenset(
    {"basis", "weight", "source", "sources", "disputed", "typical", "flow_chart", "note"}
)


def slim(model: Model) -> dict[str, Any]:
    """JSON data of `model`: numbers without their reasons, and what is solved and searched for.

    A mapping is {"=": [key, value, ...]}, so that its order and any key survive in JavaScript.
    """
    solved = odds.base(model)
    return {
        **_plain(model),
        "order": list(graph.mechanism_order(model)),
        "chains": _plain(chain_orders(model)),
        "elimination": list(trees_for(model, (), ()).whole.tree.order),
        "odds": {
            "call_without_fault": solved.call_without_fault,
            "before": _plain(solved.before),
            "base": _plain(solved.base),
            "factors": _plain(solved.factors),
        },
    }


def _plain(value: Any) -> Any:
    """`value` as JSON data, as `slim` describes it."""
    if isinstance(value, Spread):
        return _plain(value.of)
    if type(value) is Number:
        return value.value
    if is_dataclass(value):
        kept = [field.name for field in fields(value) if field.name not in LEFT_OUT]
        return {name: _plain(getattr(value, name)) for name in kept}
    if isinstance(value, Mapping):
        return {"=": [_plain(item) for pair in value.items() for item in pair]}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    return value
