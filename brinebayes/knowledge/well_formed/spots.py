"""Where something of the model stands in its files, and a walk over all of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from brinebayes.knowledge.schema import FILES, Model
from brinebayes.knowledge.shape import Finding
from brinebayes.knowledge.yaml_strict import Path
from brinebayes.record import record


@record
class Spot:
    """A value in a file by its path; `spot / key` is the spot of what stands under the key."""

    file: str
    path: Path = ()

    def __truediv__(self, step: str | int) -> Spot:
        return Spot(self.file, (*self.path, step))

    def says(self, what: str, on_key: bool = False) -> Finding:
        """A finding that points at the value, or at its key."""
        return Finding(self.file, self.path, what, on_key)

    def lacks(self, key: str, why: str) -> Finding:
        """A finding about a key that should stand here; points at the key above it."""
        return Finding(self.file, self.path, f"missing; {why}", on_key=True, missing=key)


ABOUT = Spot("model.yaml")
SITE = Spot("site.yaml", ("site",))
MEASURES = Spot("site.yaml", ("measures",))
FAULTS = Spot("faults.yaml", ("faults",))
MECHANISMS = Spot("mechanisms.yaml", ("mechanisms",))
CHECKS = Spot("checks.yaml", ("checks",))
PARTS = Spot("repairs.yaml", ("parts",))
REPAIRS = Spot("repairs.yaml", ("repairs",))
SETUPS = Spot("setups.yaml", ("setups",))
RULES = Spot("rules.yaml", ("rules",))
COMPLAINTS = Spot("complaints.yaml", ("complaints",))
FLOW_CHART = Spot("flow_chart.yaml", ("flow_chart",))
SOURCES = Spot("sources.yaml", ("sources",))


@record
class Visited:
    """A value met on the walk: what it is, where it stands, and in which field of which class."""

    spot: Spot
    value: Any
    owner: str
    field: str
    #: False if the field may be left out, and so be empty.
    required: bool


def walk(model: Model) -> Iterator[Visited]:
    """Every value of every file; entries of a mapping or list count to the field that holds it."""
    for file, parts in FILES.items():
        for part in parts:
            spot = Spot(file) if part == "about" else Spot(file, (part,))
            yield from _walk(Visited(spot, getattr(model, part), "Model", part, True))


def _walk(here: Visited) -> Iterator[Visited]:
    yield here
    value = here.value
    if is_dataclass(value) and not isinstance(value, type):
        owner = type(value).__name__
        for each in fields(value):
            required = each.default is each.default_factory  # both are MISSING
            child = getattr(value, each.name)
            yield from _walk(Visited(here.spot / each.name, child, owner, each.name, required))
    elif isinstance(value, Mapping | tuple):
        items = value.items() if isinstance(value, Mapping) else enumerate(value)
        for key, item in items:
            # What is in a list or mapping was written there, whether or not the field is required.
            yield from _walk(Visited(here.spot / key, item, here.owner, here.field, True))
