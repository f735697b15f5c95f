"""How many numbers stand on which basis, against a plain count over the files."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml

from brinebayes.checking.provenance import numbers, per_basis
from brinebayes.knowledge.reading import read_model
from tests.checking.planted import SMALL

SHIPPED = SMALL.parents[2] / "models" / "softener"


def bases(data: object) -> Iterator[str]:
    """The basis of every mapping with a weight, in a file as PyYAML reads it."""
    if isinstance(data, dict):
        if "weight" in data and "basis" in data:
            yield data["basis"]
        for value in data.values():
            yield from bases(value)
    elif isinstance(data, list):
        for value in data:
            yield from bases(value)


class TestPerBasis:
    """The files say the same when they are read with another reader."""

    @pytest.mark.parametrize("folder", [SMALL, SHIPPED], ids=["small", "softener"])
    def test_against_a_plain_count(self, folder: Path) -> None:
        counted: Counter[str] = Counter()
        for path in folder.glob("*.yaml"):
            counted.update(bases(yaml.safe_load(path.read_text("utf-8"))))
        found = per_basis(read_model(folder))
        assert {basis: count for basis, count in found.items() if count} == counted

    def test_every_number_has_its_place(self) -> None:
        model = read_model(SMALL)
        spots = [spot for spot, _ in numbers(model)]
        assert len(set(spots)) == len(spots) == sum(per_basis(model).values())
