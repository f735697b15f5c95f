"""Policies on the same visits, and how they compare.

Every policy serves every unit. Results are appended to a file as they come (JSON Lines, one visit
of one policy a line, the first line naming the model and the seed), so that a run that was stopped
goes on where it was.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice import policies
from brinebayes.advice.oracle import knowing
from brinebayes.errors import UsageError
from brinebayes.knowledge.names import suggest
from brinebayes.knowledge.schema import CheckedModel, Model
from brinebayes.record import record
from brinebayes.simulation.drawn import draw
from brinebayes.simulation.unit import drawing, houses
from brinebayes.simulation.visits import Chooser, Remembered, Served, Unit, always, serve

Floats = NDArray[np.float64]

#: What a technician sees of any unit at a glance.
AT_A_GLANCE = ("valve_family", "drive_kind", "started_by", "tanks")
#: Units of a family that one seed has to itself.
SEEDS = 1_000_000
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
    return lambda checked, state: knowing(checked, state, unit)


#: The unit of a seed and a visit.
Maker = Callable[[CheckedModel, int, int], Unit]


def makers() -> dict[str, Maker]:
    """Where units come from, by name: the model itself, or a family of houses with physics."""
    return {"model": draw, "A": _of_family(houses.A), "B": _of_family(houses.B)}


def _of_family(family: houses.Family) -> Maker:
    return lambda checked, seed, visit: drawing.unit(checked.model, family, seed * SEEDS + visit)


@record
class Trial:
    """What is run: `units` by name, the `visits` by number, and the site conditions that the
    technician is `told` where the model has them."""

    units: str
    visits: Sequence[int]
    seed: int
    told: tuple[str, ...] = AT_A_GLANCE


def known_of_the_site(model: Model, trial: Trial) -> list[str]:
    """The site conditions that the technician of a trial knows at the door."""
    return [name for name in trial.told if name in model.site]


def trial(units: str, visits: int, first: int = 0, seed: int = 1) -> Trial:
    """So many visits from the `first` on. Raises UsageError for units that are none."""
    if units not in makers():
        raise UsageError(f"units {units!r}{suggest(units, makers())}; there are: model, A, B")
    return Trial(units, range(first, first + visits), seed)


def chosen(names: Sequence[str]) -> list[Chooser]:
    """Policies by name, all of them without one. Raises UsageError for a name that is none."""
    known = choosers()
    for name in names:
        if name not in known:
            raise UsageError(
                f"policy {name!r}{suggest(name, known)}; there are: {', '.join(known)}"
            )
    return [known[name] for name in names or known]


def run(
    checked: CheckedModel,
    compared: Sequence[Chooser],
    trial: Trial,
    path: Path | None = None,
    progress: Callable[[int, int], None] = lambda done, all: None,
) -> list[Served]:
    """Serve every visit with every policy; those that stand in the file already are not repeated.

    `progress` is called with how many are done and how many there are. Raises UsageError for a file
    of another model, seed or telling.
    """
    told = known_of_the_site(checked.model, trial)
    header = {
        "model": checked.model.hash,
        "units": trial.units,
        "seed": trial.seed,
        "told": told,
    }
    make = makers()[trial.units]
    done = {(item.policy, item.visit): item for item in _read(path, header)}
    remembered: dict[str, Remembered] = {chooser.name: {} for chooser in compared}
    found = []
    for count, visit in enumerate(trial.visits):
        unit = None
        for chooser in compared:
            served = done.get((chooser.name, visit))
            if served is None:
                unit = unit or make(checked, trial.seed, visit)
                memory = remembered[chooser.name]
                served = serve(checked, unit.copy(), visit, chooser, told, memory)
                _append(path, asdict(served))
            found.append(served)
        progress(count + 1, len(trial.visits))
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
        raise UsageError(
            f"{path}: visits of another model, seed, site or kind of unit; name another file"
        )
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


@record
class Comparison:
    """Policies on the same visits. `dearer`, `recalled`: other policy -> what it costs, and how
    much more often it is called back, beyond the search, visit by visit; `closed`: which part of
    the way from the fixed order to knowing the cause the search goes, None where one of the three
    was not run."""

    trial: Trial
    figures: Mapping[str, Mapping[str, Figure]]
    dearer: Mapping[str, Figure]
    recalled: Mapping[str, Figure]
    closed: Figure | None


def comparison(trial: Trial, served: Sequence[Served]) -> Comparison:
    """All that is shown of a run."""
    names = {item.policy for item in served}
    searched = "search" in names
    ends = ("fixed order", "cause known")
    return Comparison(
        trial=trial,
        figures=figures(served),
        dearer=differences(served, "search") if searched else {},
        recalled=differences(served, "search", "called back") if searched else {},
        closed=gap_closed(served, "search", *ends) if names.issuperset(("search", *ends)) else None,
    )


#: Of one visit; not a number where it has no part in the mean.
MEASURES: dict[str, Callable[[Served], float]] = {
    "cost": lambda item: item.cost,
    "minutes": lambda item: item.minutes,
    "waiting": lambda item: item.waiting,
    "mended": lambda item: float(item.works and item.end == "finish"),
    "called back": lambda item: float(item.called_back),
    "came back": lambda item: float(item.called_back) if item.end == "finish" else float("nan"),
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


def gap_closed(
    served: Iterable[Served], policy: str, worst: str, best: str, measure: str = "cost"
) -> Figure:
    """Which part of the way from the mean of `worst` to that of `best` a policy goes.

    Visits that all three have served, resampled together. Raises UsageError without any.
    """
    found: dict[str, dict[int, float]] = {policy: {}, worst: {}, best: {}}
    for item in served:
        if item.policy in found:
            found[item.policy][item.visit] = MEASURES[measure](item)
    common = sorted(set.intersection(*(set(values) for values in found.values())))
    if not common:
        raise UsageError(f"no visit was served by {policy}, {worst} and {best}")
    mine, high, low = (
        np.array([found[name][visit] for visit in common]) for name in (policy, worst, best)
    )
    chance = np.random.default_rng(RESAMPLING_SEED)
    chosen = chance.integers(0, len(common), (RESAMPLES, len(common)))
    parts = (high - mine)[chosen].mean(axis=1) / (high - low)[chosen].mean(axis=1)
    ends = np.quantile(parts, [(1.0 - COVERS) / 2.0, (1.0 + COVERS) / 2.0])
    whole = float((high - mine).mean() / (high - low).mean())
    return Figure(whole, float(ends[0]), float(ends[1]))


def interval(values: Floats) -> Figure:
    """The mean, and the percentile bootstrap interval of it. Source: Efron 1979 (from memory).

    What is not a number does not count; nothing but such has no mean.
    """
    values = values[~np.isnan(values)]
    if not len(values):
        return Figure(float("nan"), float("nan"), float("nan"))
    chance = np.random.default_rng(RESAMPLING_SEED)
    chosen = chance.integers(0, len(values), (RESAMPLES, len(values)))
    means = values[chosen].mean(axis=1)
    low, high = np.quantile(means, [(1.0 - COVERS) / 2.0, (1.0 + COVERS) / 2.0])
    return Figure(float(values.mean()), float(low), float(high))
