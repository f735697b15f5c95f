"""Rows drawn by the page against Python's: the same rows, from the same random numbers."""

from __future__ import annotations

import numpy as np
import pytest

from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.shipped import model_folder
from brinebayes.network import graph
from brinebayes.network.belief import Belief, believe
from brinebayes.network.chance import Chance
from brinebayes.page.slim import slim
from tests.page.node import needs_node, question, run
from tests.page.visits import visits

pytestmark = needs_node


class TestChance:
    """The random numbers are Python's, whose own tests hold them against published ones."""

    @pytest.mark.parametrize("seeds", [[0], [7], [2**63 + 12345], [2**64 - 1, 1], [5, 2**40, 9]])
    def test_the_same_numbers(self, seeds: list[int]) -> None:
        [mine] = run([{"task": "chance", "seeds": [str(s) for s in seeds], "count": 1000}])
        assert mine == Chance(*seeds).random(1000).tolist()


class TestRows:
    """Joint states with their weights, before and after a repair and its failed proof."""

    def test_of_the_shipped_model(self) -> None:
        model = read_model(model_folder("softener"))
        asked = [one for one in visits(model, 40, seed=5, sequences=2) if len(one.done) < 2]
        asked = [
            *[one for one in asked if not one.done][:4],
            *[one for one in asked if one.done][:3],
        ]
        beliefs = [(one, believe(model, one)) for one in asked]
        checked = [(one, belief) for one, belief in beliefs if isinstance(belief, Belief)]
        assert any(one.done for one, _ in checked)
        names = [*list(graph.observations(model))[::9], graph.PROOF]
        tasks = [
            {**question(one), "n": 300, "seed": str(2**60 + k), "observations": names}
            for k, (one, _) in enumerate(checked)
        ]
        [found] = run([{"task": "rows", "model": slim(model), "questions": tasks}])
        for k, (said, (_, belief)) in enumerate(zip(found, checked, strict=True)):
            rows = belief.worlds(300, 2**60 + k)
            np.testing.assert_allclose(said["weights"], rows.weights, rtol=1e-9)
            assert said["effectiveDraws"] == pytest.approx(rows.effective_draws, rel=1e-9)
            assert said["works"] == rows.works.astype(int).tolist()
            for j, fault in enumerate(model.faults):
                assert said["faults"][fault] == rows.faults[:, j].astype(int).tolist()
            whole = rows.weights.shape
            for key, theirs in (
                ("noise", rows.noise),
                ("site", rows.site),
                ("mechanisms", rows.mechanisms),
                ("firstMechanisms", rows.first_mechanisms),
            ):
                for name, states in theirs.items():
                    assert said[key][name] == np.broadcast_to(states, whole).tolist(), name
            for name, mine in zip(names, said["outcomes"], strict=True):
                chances = rows.observation_likelihoods(name)
                if name not in graph.history(model):
                    np.testing.assert_allclose(np.array(mine).T, chances, rtol=1e-12)
