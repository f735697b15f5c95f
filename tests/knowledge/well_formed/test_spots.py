"""The walk meets everything that stands in the files, each at its place."""

from __future__ import annotations

from pathlib import Path

from brinebayes.knowledge import yaml_strict
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import FILES
from brinebayes.knowledge.well_formed.spots import walk

SMALL = Path(__file__).parents[2] / "models" / "small"


def test_every_scalar_of_every_file_is_met_at_its_place() -> None:
    met = {(here.spot.file, here.spot.path): here.value for here in walk(read_model(SMALL))}
    count = 0
    for file in FILES:
        data = yaml_strict.load(file, (SMALL / file).read_text("utf-8")).data
        below: list[tuple[yaml_strict.Path, object]] = [((), data)]
        while below:
            path, value = below.pop()
            if isinstance(value, dict):
                below += [((*path, key), item) for key, item in value.items()]
            elif isinstance(value, list):
                below += [((*path, index), item) for index, item in enumerate(value)]
            else:
                assert met[file, path] == value
                count += 1
    assert count > 500
