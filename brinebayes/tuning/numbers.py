"""Which numbers of a model can be learned, where they stand, and the model with other values."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

from brinebayes.errors import UsageError
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.names import lookup
from brinebayes.knowledge.schema import Model, Number, Spread

#: Keys and indices from the top of a model file.
Path = tuple[str | int, ...]

#: What can be learned, by the name a user gives it.
GROUPS: Mapping[str, str] = ReadOnly(
    {
        "shares": "shares of the faults, of calls without one, and how the site changes odds",
        "misreadings": "how often an observation is misread",
        "repairs": "how surely a repair clears a fault",
        "minutes": "minutes of checks and repairs",
        "sites": "the mix of sites among the calls",
        "links": "how surely a cause acts on a mechanism",
        "observations": "what is seen, given how things stand",
    }
)

#: Those that a record tells apart without more ado. Links and tables of observations lean on the
#: same few outcomes, so they are learned only when asked for.
SAFE = ("shares", "misreadings", "repairs", "minutes")


#: How often a fault that is there is seen when its repair is carried out: about the record and no
#: number of the model, learned with the others so that not having seen it counts as much as it may.
#: Judged, no source; worth so many cases.
EYES, EYES_WEIGHT = 0.6, 5.0


@dataclass(frozen=True)
class Entry:
    """A number or spread that can be learned.

    `path`: of the mapping that holds it, from the top of `file`. `states`: of a spread, those with
    a positive share; what is held impossible stays so. `value`: (1,) or (states,).
    """

    group: str
    file: str
    path: Path
    states: tuple[str, ...]
    value: tuple[float, ...]
    weight: float

    @property
    def key(self) -> Path:
        """The path from the top of a `Model`."""
        return ("about", *self.path) if self.file == "model.yaml" else self.path


def entries(model: Model, groups: Collection[str]) -> tuple[Entry, ...]:
    """What can be learned in some groups, in the order of the files.

    Raises UsageError for a group that does not exist.
    """
    for group in groups:
        lookup("group of numbers", group, GROUPS)
    return tuple(entry for entry in _all(model) if entry.group in groups)


def eyes(model: Model) -> tuple[Entry, ...]:
    """How often a fault is seen, for every repair and fault that it clears."""
    return tuple(
        Entry("eyes", "", ("eyes", repair, fault), (), (EYES,), EYES_WEIGHT)
        for repair, about in model.repairs.items()
        for fault in about.clears
    )


def with_values(model: Model, values: Mapping[Path, Sequence[float]]) -> Model:
    """The model with other values at the keys of some entries, under a hash of its own; what is
    about the record is passed over."""
    values = {key: value for key, value in values.items() if key[0] != "eyes"}
    changes: dict[Any, Any] = {}
    for key, value in values.items():
        here = changes
        for step in key[:-1]:
            here = here.setdefault(step, {})
        here[key[-1]] = tuple(float(v) for v in value)
    if not changes:
        return model
    told = repr(sorted((list(map(str, key)), tuple(value)) for key, value in values.items()))
    name = hashlib.sha256(f"{model.hash} {told}".encode()).hexdigest()
    changed: Model = _changed(model, changes)
    return replace(changed, hash=name)


def number_at(model: Model, key: Path) -> Number | Spread:
    """The number or spread at a key."""
    here: Any = model
    for step in key:
        here = getattr(here, str(step)) if is_dataclass(here) else here[step]
    if not isinstance(here, Number | Spread):
        raise UsageError(f"{'.'.join(map(str, key))} is no number")
    return here


def value_of(number: Number | Spread) -> tuple[tuple[str, ...], tuple[float, ...]]:
    """States and values: of a spread those above 0, of a number none and its value."""
    if isinstance(number, Number):
        return (), (number.value,)
    kept = {state: p for state, p in number.of.items() if p > 0.0}
    return tuple(kept), tuple(kept.values())


def _all(model: Model) -> Iterator[Entry]:
    yield _entry("shares", "model.yaml", ("calls_without_fault",), model.about.calls_without_fault)
    for name, condition in model.site.items():
        for value, about in condition.values.items():
            top = ("site", name, "values", value)
            yield _entry("sites", "site.yaml", (*top, "share"), about.share)
            for fault, factor in about.factors.items():
                yield _entry("shares", "site.yaml", (*top, "factors", fault), factor)
    for name, fault_ in model.faults.items():
        yield _entry("shares", "faults.yaml", ("faults", name, "share"), fault_.share)
    for name, mechanism in model.mechanisms.items():
        at: Path = ("mechanisms", name)
        for place, cause in enumerate(mechanism.causes):
            path: Path = (*at, "causes", place, "effect")
            yield from _spread("links", "mechanisms.yaml", path, cause.effect)
        if mechanism.leak is not None:
            yield from _spread("links", "mechanisms.yaml", (*at, "leak"), mechanism.leak)
    for check_name, check in model.checks.items():
        check_at = ("checks", check_name)
        yield _entry("minutes", "checks.yaml", (*check_at, "minutes"), check.minutes)
        for name, observation in check.observations.items():
            path = (*check_at, "observations", name)
            for place, row in enumerate(observation.rows):
                yield from _spread(
                    "observations", "checks.yaml", (*path, "rows", place, "gives"), row.gives
                )
            yield _entry(
                "misreadings", "checks.yaml", (*path, "misreading"), observation.misreading
            )
    for name, repair in model.repairs.items():
        yield _entry("minutes", "repairs.yaml", ("repairs", name, "minutes"), repair.minutes)
        for fault, chance in repair.clears.items():
            path = ("repairs", name, "clears", fault)
            yield _entry("repairs", "repairs.yaml", path, chance)


def _entry(group: str, file: str, path: Path, number: Number | Spread) -> Entry:
    states, value = value_of(number)
    return Entry(group, file, path, states, value, number.weight)


def _spread(group: str, file: str, path: Path, spread: Spread) -> Iterator[Entry]:
    """Nothing for what is sure by definition."""
    entry = _entry(group, file, path, spread)
    if len(entry.states) > 1:
        yield entry


def _changed(value: Any, changes: Any) -> Any:
    """`value` with what `changes` names replaced, all the way down."""
    if isinstance(changes, tuple):
        if isinstance(value, Number):
            return replace(value, value=changes[0])
        states, _ = value_of(value)
        return replace(value, of=ReadOnly({**value.of, **dict(zip(states, changes, strict=True))}))
    if is_dataclass(value) and not isinstance(value, type):
        found = {f.name for f in fields(value)} & changes.keys()
        parts = {name: _changed(getattr(value, name), changes[name]) for name in found}
        return replace(value, **parts)
    if isinstance(value, Mapping):
        return ReadOnly(
            {k: _changed(item, changes[k]) if k in changes else item for k, item in value.items()}
        )
    return tuple(
        _changed(item, changes[place]) if place in changes else item
        for place, item in enumerate(value)
    )
