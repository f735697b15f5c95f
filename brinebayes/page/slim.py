"""A proven model as data for the page: what belief and advice need, and nothing of the reasons."""

from __future__ import annotations

import base64
import zlib
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from brinebayes.advice import (
    acts,
    bounds,
    choose,
    effort,
    estimate,
    follow,
    futures,
    problem,
    search,
    tree,
)
from brinebayes.advice import table as rows
from brinebayes.knowledge.schema import Model, Number, Spread
from brinebayes.knowledge.shop import NO_SHOP
from brinebayes.network import every, graph, odds
from brinebayes.network.ordering import chain_orders
from brinebayes.network.trees import trees_for
from brinebayes.page.constants import measuring
from brinebayes.setups import routes

#: What only whoever keeps the model reads.
LEFT_OUT = frozenset(
    {"basis", "weight", "source", "sources", "disputed", "typical", "flow_chart", "note"}
)


def slim(model: Model, codes: Mapping[str, str] = NO_SHOP.codes) -> dict[str, Any]:
    """JSON data of `model`: numbers without their reasons, and what is solved and searched for.

    `codes`: the shop's codes of parts.
    A mapping is {"=": [key, value, ...]}, so that its order and any key survive in JavaScript.
    """
    solved, measures = odds.base(model), measuring()
    return {
        **_plain(model),
        "codes": _plain(codes),
        "order": graph.mechanism_order(model),
        "chains": _plain(chain_orders(model)),
        "elimination": trees_for(model, (), ()).whole.tree.order,
        "odds": {
            "call_without_fault": solved.call_without_fault,
            "before": _plain(solved.before),
            "base": _plain(solved.base),
            "factors": _plain(solved.factors),
        },
        "routes": table(model),
        "search": judged(),
        "units": measures["units"],
        "metric": measures["metric"],
        "instruments": _plain(measures["instruments"]),
        "comparisons": {"=": [part for pair in measures["comparisons"].items() for part in pair]},
        "physics": measures["physics"],
    }


def judged() -> dict[str, Any]:
    """How far a search looks, and what it was judged by."""
    usual = effort.USUAL
    return {
        "rows": usual.rows,
        "beam": usual.beam,
        "depth": usual.depth,
        "expansions": usual.expansions,
        "together": rows.TOGETHER,
        "together_of_all": futures.TOGETHER,
        "most_rows": rows.MOST_ROWS,
        "negligible": rows.NEGLIGIBLE,
        "most_states": every.MOST_STATES,
        "steps": bounds.STEPS,
        "turns": bounds.TURNS,
        "outcomes": problem.MOST_OUTCOMES,
        "tries": acts.TRIES,
        "bit_markup": estimate.BIT_MARKUP,
        "worth": estimate.WORTH,
        "least_bits": estimate.LEAST_BITS,
        "rounding": estimate.ROUNDING,
        "tiny": estimate.TINY,
        "whole": follow.WHOLE,
        "least": follow.LEAST,
        "near": follow.NEAR,
        "notable": search.NOTABLE,
        "nothing": search.NOTHING,
        "first": tree.FIRST,
        "apart": [choose.NEAR, choose.FAR_APART],
    }


def table(model: Model) -> dict[str, Any]:
    """The routes of `model`. `packed`: zlib in base64 of the rows' numbers, four bytes each, the
    least first, then the next move of every row for each goal."""
    setups, money = model.setups, model.about.money
    found = routes.table_of(setups, money, routes.acts_of(model), routes.goals_of(model))
    whole = [found.numbers.astype("<i4").tobytes(), found.next_move.tobytes()]
    return {
        "goals": found.goals,
        "move_prices": found.move_prices,
        "worst": found.worst,
        "stands_for_all": found.stands_for_all,
        "real_rows": found.real,
        "packed": base64.b64encode(zlib.compress(b"".join(whole), 9)).decode(),
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
