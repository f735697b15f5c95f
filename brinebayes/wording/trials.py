"""Policies compared on simulated visits, as a table and as one JSON object."""

from __future__ import annotations

from collections.abc import Mapping
from math import isnan
from typing import Any

from brinebayes.knowledge.schema import Model
from brinebayes.simulation.trials import COVERS, Comparison, Figure
from brinebayes.wording.fill import fill, templates
from brinebayes.wording.lines import wrapped

SCHEMA = "brinebayes.simulate.1"
#: Measures that are shares of visits.
SHARES = frozenset({"mended", "called back", "came back", "passed on"})
#: Columns of one table.
ACROSS = 2


def to_object(model: Model, found: Comparison) -> dict[str, Any]:
    """The answer of `simulate --json`; shares of 1, money in the model's currency."""
    trial = found.trial
    return {
        "schema": SCHEMA,
        "model": {"name": model.about.id, "version": model.about.version, "hash": model.hash},
        "currency": model.about.currency,
        "units": trial.units,
        "visits": len(trial.visits),
        "first": trial.visits[0],
        "seed": trial.seed,
        "told": list(trial.told),
        "interval": COVERS,
        "policies": {
            policy: {name: _object(figure) for name, figure in figures.items()}
            for policy, figures in found.figures.items()
        },
        "cost_beyond_search": {name: _object(figure) for name, figure in found.dearer.items()},
        "called_back_beyond_search": {
            name: _object(figure) for name, figure in found.recalled.items()
        },
        "gap_closed": None if found.closed is None else _object(found.closed),
    }


def _object(figure: Figure) -> dict[str, float] | None:
    """Nothing where no visit has a part in it."""
    if isnan(figure.mean):
        return None
    return {"mean": figure.mean, "low": figure.low, "high": figure.high}


def to_text(model: Model, found: Comparison) -> str:
    """What was simulated, and a table with a row for each policy."""
    words, trial = templates()["trials"], found.trial
    values = {"visits": str(len(trial.visits)), "units": trial.units}
    lines = wrapped("", fill(words["drawn" if trial.units == "model" else "physical"], values))
    lines += [*wrapped("", words["head"]), "", f"{words['table']} ({model.about.currency})"]
    columns = list(words["columns"].items())
    for start in range(0, len(columns), ACROSS):
        lines += _table(found.figures, dict(columns[start : start + ACROSS]))
    if found.dearer:
        lines.append(words["dearer"])
        lines += [
            f"  {name:<17}{_written(figure, 'cost'):<27}"
            f"{_written(found.recalled[name], 'called back')}"
            for name, figure in found.dearer.items()
        ]
    if found.closed is not None:
        part = found.closed
        shares = {"part_share": part.mean, "low_share": part.low, "high_share": part.high}
        lines += ["", *wrapped("", fill(words["closed"], shares))]
    return "\n".join(lines) + "\n"


def _table(figures: Mapping[str, Mapping[str, Figure]], columns: Mapping[str, str]) -> list[str]:
    lines = [f"{'':19}" + "".join(f"{head:<27}" for head in columns.values()).rstrip()]
    for policy, row in figures.items():
        cells = "".join(f"{_written(row[name], name):<27}" for name in columns)
        lines.append(f"  {policy:<17}{cells}".rstrip())
    return [*lines, ""]


def _written(figure: Figure, measure: str) -> str:
    """The mean and its interval, short."""
    if isnan(figure.mean):
        return "none"
    if measure in SHARES:
        mean, low, high = (f"{100 * value:.1f}" for value in (figure.mean, figure.low, figure.high))
        return f"{mean} % [{low}, {high}]"
    places = 0 if measure in ("cost", "minutes") else 2
    mean, low, high = (f"{value:.{places}f}" for value in (figure.mean, figure.low, figure.high))
    return f"{mean} [{low}, {high}]"
