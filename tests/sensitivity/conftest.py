"""The small model and cases drawn from it."""

from __future__ import annotations

import pytest

from brinebayes.cases.record import Case
from brinebayes.knowledge.schema import Model
from tests.scoring.conftest import small as small
from tests.scoring.drawn import cases


@pytest.fixture(scope="session")
def drawn_cases(small: Model) -> tuple[Case, ...]:
    """Eighty cases of the small model."""
    return tuple(cases(small, 80, seed=31, looked_at=3))
