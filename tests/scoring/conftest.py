"""Models that all tests of the room look at."""

from __future__ import annotations

from pathlib import Path

import pytest

from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.shipped import model_folder

SMALL = Path(__file__).resolve().parents[1] / "models" / "small"


@pytest.fixture(scope="session")
def small() -> Model:
    """The small model as it stands in its folder."""
    return read_model(SMALL)


@pytest.fixture(scope="session")
def shipped() -> Model:
    """The model that is shipped."""
    return read_model(model_folder("softener"))
