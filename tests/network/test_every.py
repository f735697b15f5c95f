"""Every joint state of a small model, against the exact engine."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.shipped import model_folder
from brinebayes.network.belief import Question, believe
from brinebayes.network.every import every_world

SMALL = Path(__file__).resolve().parent.parent / "models" / "small"


@pytest.fixture(scope="module")
def model() -> Model:
    return read_model(SMALL)


class TestEveryWorld:
    """Exact where there are few states, nothing where there are many."""

    def test_says_what_the_engine_says(self, model: Model) -> None:
        worlds = every_world(model, {})
        assert worlds is not None
        exact = believe(model, Question({}, (), (), ()))
        assert float(worlds.weights @ worlds.works) == pytest.approx(exact.works, abs=1e-12)
        shares = dict(zip(model.faults, worlds.weights @ worlds.faults, strict=True))
        assert shares == pytest.approx(dict(exact.faults), abs=1e-12)
        for name, chances in exact.outcomes.items():
            shown = worlds.weights @ worlds.observation_likelihoods(name)
            np.testing.assert_allclose(shown, chances, atol=1e-12)

    def test_what_a_repair_would_do_survives_the_merging(self, model: Model) -> None:
        worlds = every_world(model, {})
        assert worlds is not None
        chance = model.repairs["clear_brine_line"].clears["brine_line_blocked"].value
        after = worlds.works_after([["brine_line_blocked"]])[0]
        here = worlds.has("brine_line_blocked")
        mended = np.where(here, chance * after + (1 - chance) * worlds.works, worlds.works)
        done = believe(model, Question({}, (), ("clear_brine_line",), ()))
        assert not model.repairs["clear_brine_line"].harms
        assert float(worlds.weights @ mended) == pytest.approx(done.works, abs=1e-12)

    def test_too_many_states(self) -> None:
        assert every_world(read_model(model_folder("softener")), {}) is None
