"""Cases made up once for all tests of the room: the small model meets units that are otherwise."""

from __future__ import annotations

from pathlib import Path

import pytest

from brinebayes.cases.record import Case
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.tuning.numbers import Path as Key
from brinebayes.tuning.numbers import with_values
from tests.tuning.simulated import cases

FOLDER = Path(__file__).resolve().parents[1] / "models" / "small"

#: In what the units differ from what the small model says of them.
OTHERWISE: dict[Key, tuple[float, ...]] = {
    ("faults", "injector_clogged", "share"): (0.2,),
    ("faults", "seals_worn", "share"): (0.45,),
    ("repairs", "clean_injector", "clears", "injector_clogged"): (0.65,),
}


@pytest.fixture(scope="session")
def small() -> Model:
    """The small model as it stands in its folder."""
    return read_model(FOLDER)


@pytest.fixture(scope="session")
def visits(small: Model) -> tuple[Case, ...]:
    """Visits to units that are otherwise than the small model says."""
    return tuple(cases(with_values(small, OTHERWISE), small, 300, seed=5))
