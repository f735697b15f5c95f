"""Every number that the schema knows has a range that it is held to."""

from __future__ import annotations

import dataclasses
import inspect
from collections.abc import Iterator

from brinebayes.knowledge import schema
from brinebayes.knowledge.well_formed import numbers


def number_fields() -> Iterator[tuple[str, str]]:
    """(class, field) wherever the schema holds a `Number`, or a `Limit`, which is one."""
    for name, kind in inspect.getmembers(schema, dataclasses.is_dataclass):
        assert isinstance(kind, type)
        for field in dataclasses.fields(kind):
            if "Number" in str(field.type) or "Limit" in str(field.type):
                yield name, field.name


def test_no_number_is_without_a_range() -> None:
    fields = set(number_fields())
    assert ("Fault", "share") in fields
    assert fields - {("SiteValue", "factors")} == set(numbers._RANGES) - {("Check", "spends_brine")}
