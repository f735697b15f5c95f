"""The small model, checked, and questions to it."""

from __future__ import annotations

from pathlib import Path

import pytest

from brinebayes.checking.ready import ready
from brinebayes.knowledge.schema import CheckedModel

SMALL = Path(__file__).resolve().parent.parent / "models" / "small"


@pytest.fixture(scope="session")
def checked() -> CheckedModel:
    return ready(SMALL)
