"""Where things stand in a picture."""

from __future__ import annotations

from pathlib import Path

import networkx as nx
import pytest

from brinebayes.errors import UsageError
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.layers import picture

SMALL = Path(__file__).resolve().parents[1] / "models" / "small"


@pytest.fixture(scope="module")
def small() -> Model:
    return read_model(SMALL)


class TestPicture:
    """Every thing has a place, and causes stand to the left."""

    def test_causes_stand_left_of_what_hangs_on_them(self, small: Model) -> None:
        drawn = picture(small)
        column = {place.id: place.column for place in drawn.places}
        assert all(column[a] < column[b] or graph.WORKS in (a, b) for a, b in drawn.arrows)
        assert set(small.faults) | set(small.mechanisms) <= set(column)
        assert len({(p.column, p.row) for p in drawn.places}) == len(drawn.places)

    def test_around_one_thing_stands_what_networkx_reaches_from_it(self, small: Model) -> None:
        whole = nx.DiGraph(picture(small).arrows)
        wanted = {"seals_worn", *nx.descendants(whole, "seals_worn")}
        assert {p.id for p in picture(small, "seals_worn").places} == wanted

    def test_an_unknown_id_is_refused(self, small: Model) -> None:
        with pytest.raises(UsageError, match="did you mean seals_worn"):
            picture(small, "seals_wrn")
