"""Policies on the same visits, and how they compare.

Every policy serves every unit. Results are appended to a file as they come (JSON Lines, one visit
of one policy a line, the first line naming the model and the seed), so that a run that was stopped
goes on where it was.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice import policies
from brinebayes.advice.oracle import knowing
from brinebayes.errors import UsageError
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.record import record
from brinebayes.simulation.drawn import DrawnUnit, draw
from brinebayes.simulation.visits import Chooser, Remembered, Served, Unit, always, serve

Floats = NDArray[np.float64]

#: Resamples of a bootstrap interval, and the seed they are drawn with.
RESAMPLES, RESAMPLING_SEED = 2_000, 7
#: What an interval covers.
COVERS = 0.95


def choosers() -> dict[str, Chooser]:
    """Every policy that is compared, by its name."""
    known = [
        always("search", policies.search),
        always("repairs alone", policies.repairs_alone),
        always("bits then repair", policies.bits_then_repair),
        always("fixed order", policies.flow_chart),
        Chooser("cause known", _knowing, sees_the_unit=True),
    ]
    return {chooser.name: chooser for chooser in known}


def _knowing(unit: Unit) -> policies.Policy:
    if not isinstance(unit, DrawnUnit):
        raise UsageError("only a drawn unit can tell its world to the oracle")
    return lambda checked, state: knowing(checked, state, unit.now)


def run(
    checked: CheckedModel,
    compared: Sequence[Chooser],
    visits: Sequence[int],
    seed: int,
    told: Iterable[str],
    path: Path | None = None,
    progress: Callable[[int, int], None] = lambda done, all: None,
    unit: Callable[[CheckedModel, int, int], Unit] = draw,
) -> list[Served]:
    """Serve every visit with every policy; those that stand in the file already are not repeated.

    `told`: site conditions that the technician knows. `progress` is called with how many are done
    and how many there are. Raises UsageError for a file of another model, seed or telling.
    """
    told = tuple(told)
    header = {"model": checked.model.hash, "seed": seed, "told": list(told)}
    done = {(item.policy, item.visit): item for item in _read(path, header)}
    remembered: dict[str, Remembered] = {chooser.name: {} for chooser in compared}
    found = []
    for count, visit in enumerate(visits):
        for chooser in compared:
            served = done.get((chooser.name, visit))
            if served is None:
                served = serve(
                    checked,
                    unit(checked, seed, visit),
                    visit,
                    chooser,
                    told,
                    remembered[chooser.name],
                )
                _append(path, asdict(served))
            found.append(served)
        progress(count + 1, len(visits))
    return found


def _read(path: Path | None, header: dict[str, object]) -> list[Served]:
    """What stands in the file; a last line that was cut off is taken out."""
    if path is None:
        return []
    if not path.exists():
        _append(path, header)
        return []
    text = path.read_text(encoding="utf-8")
    whole = text[: text.rfind("\n") + 1]
    if whole != text:
        path.write_text(whole, encoding="utf-8")
    lines = [json.loads(line) for line in whole.splitlines()]
    if not lines or lines[0] != header:
        raise UsageError(f"{path}: visits of another model, seed or site; name another file")
    return [Served(**{**line, "acts": tuple(line["acts"])}) for line in lines[1:]]


def _append(path: Path | None, line: dict[str, object]) -> None:
    if path is not None:
        with path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(line) + "\n")


# --- how they compare --------------------------------------------------------------------------


@record
class Figure:
    """A mean over visits with its bootstrap interval."""

    mean: float
    low: float
    high: float


MEASURES: dict[str, Callable[[Served], float]] = {
    "cost": lambda item: item.cost,
    "minutes": lambda item: item.minutes,
    "waiting": lambda item: item.waiting,
    "called back": lambda item: float(item.called_back),
    "passed on": lambda item: float(item.end == "escalate"),
    "setup changes": lambda item: float(item.moves),
    "checks": lambda item: float(item.checks),
    "repairs": lambda item: float(item.repairs),
    "needless repairs": lambda item: float(item.needless),
}


def figures(served: Iterable[Served]) -> dict[str, dict[str, Figure]]:
    """Policy -> measure -> its mean over visits."""
    found: dict[str, list[Served]] = {}
    for item in served:
        found.setdefault(item.policy, []).append(item)
    return {
        policy: {
            name: interval(np.array([measure(item) for item in items]))
            for name, measure in MEASURES.items()
        }
        for policy, items in found.items()
    }


def differences(served: Iterable[Served], policy: str, measure: str = "cost") -> dict[str, Figure]:
    """Other policy -> how much more it has of a measure than `policy`, visit by visit."""
    found: dict[str, dict[int, float]] = {}
    for item in served:
        found.setdefault(item.policy, {})[item.visit] = MEASURES[measure](item)
    mine = found[policy]
    return {
        other: interval(np.array([values[v] - mine[v] for v in sorted(values) if v in mine]))
        for other, values in found.items()
        if other != policy
    }


def interval(values: Floats) -> Figure:
    """The mean, and the percentile bootstrap interval of it. Source: Efron 1979 (from memory)."""
    chance = np.random.default_rng(RESAMPLING_SEED)
    chosen = chance.integers(0, len(values), (RESAMPLES, len(values)))
    means = values[chosen].mean(axis=1)
    low, high = np.quantile(means, [(1.0 - COVERS) / 2.0, (1.0 + COVERS) / 2.0])
    return Figure(float(values.mean()), float(low), float(high))
