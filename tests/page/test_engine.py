"""The page's engine against Python's: the same doubles, to the last few bits."""

from __future__ import annotations

import json
from random import Random
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from brinebayes.errors import EvidenceConflict, ModelError
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.shipped import model_folder
from brinebayes.network.compile import compile_network
from brinebayes.network.odds import base
from brinebayes.network.propagate import calibrate
from brinebayes.network.tables import TooLargeError
from brinebayes.network.trees import trees_for
from brinebayes.page.slim import slim
from tests import strategies
from tests.page.agreement import CLOSE, check
from tests.page.node import needs_node, run
from tests.page.visits import visits

pytestmark = needs_node


@pytest.fixture(scope="module")
def shipped() -> Model:
    return read_model(model_folder("softener"))


class TestVisits:
    """Beliefs, predictions and joints of whole visits."""

    def test_of_the_shipped_model(self, shipped: Model) -> None:
        """Repairs, failed proofs and readings among them; `tests.page.agreement` asks of 500."""
        asked = list(visits(shipped, 24, seed=3, sequences=3))
        answers = check(shipped, asked, conflict=False)
        exact = [one for one, said in zip(asked, answers, strict=True) if "faults" in said]
        assert sum(bool(one.done) for one in exact) >= 8

    def test_conflicts_of_the_shipped_model(self, shipped: Model) -> None:
        asked = list(visits(shipped, 8, seed=8, sequences=1))
        answers = check(shipped, asked, conflict=True)
        assert any(said.get("contradiction") for said in answers)

    @settings(max_examples=4, deadline=None, suppress_health_check=list(HealthCheck))
    @given(st.data())
    def test_of_generated_models(self, data: st.DataObject) -> None:
        model = data.draw(strategies.small_models())
        try:
            base(model)
        except ModelError:
            assume(False)  # No odds give the shares that were drawn.
        asked = [data.draw(strategies.visits(model)) for _ in range(12)]
        check(model, asked, conflict=False)


class TestTrees:
    """The compiled trees are the same, clique by clique: draws from them depend on it."""

    def test_of_the_shipped_model(self, shipped: Model) -> None:
        chance = Random(2)
        repairs = list(shipped.repairs)
        dones = [(), *((chance.choice(repairs),) for _ in range(4))]
        asked = [{"done": list(done), "seen": [["proof", len(done)]]} for done in dones]
        [found] = run([{"task": "shapes", "model": slim(shipped), "questions": asked}])
        for done, shape in zip(dones, found, strict=True):
            try:
                tree = trees_for(shipped, done, [("proof", len(done))]).whole.tree
            except TooLargeError:
                assert shape == {"tooLarge": True}
                continue
            assert shape["cliques"] == [[list(one.names), one.parent] for one in tree.cliques]


class TestNetworks:
    """Any discrete network: marginals and the probability of the evidence."""

    @settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
    @given(st.lists(strategies.questions(most=9), min_size=10, max_size=10))
    def test_generated(self, asked: list[strategies.Question]) -> None:
        answers = run([self.task(one) for one in asked])
        for one, said in zip(asked, answers, strict=True):
            tree = compile_network(one.network, leaves=one.leaves)
            try:
                beliefs = calibrate(tree, one.likelihoods)
            except EvidenceConflict:
                assert said is None
                continue
            assert said["logEvidence"] == pytest.approx(float(beliefs.log_evidence[0]), abs=1e-10)
            assert said["entries"] == tree.entries
            for name, mine in zip(one.network.names, said["marginals"], strict=True):
                if name not in one.leaves:
                    np.testing.assert_allclose(mine, beliefs.marginal(name).ravel(), **CLOSE)

    @staticmethod
    def task(asked: strategies.Question) -> dict[str, Any]:
        network = asked.network
        tables = [
            {
                "variable": t.variable,
                "parents": list(t.parents),
                "values": t.values.ravel().tolist(),
            }
            for t in network.tables
        ]
        variables = [{"name": v.name, "count": len(v.states)} for v in network.variables]
        return {
            "task": "believed",
            "network": {"variables": variables, "tables": tables},
            "leaves": list(asked.leaves),
            "openRoots": [],
            "evidence": {name: values.tolist() for name, values in asked.likelihoods.items()},
        }


class TestChance:
    """Ties in the search for an order fall by the same numbers as in Python."""

    def test_the_generator_of_the_standard_library(self) -> None:
        found = run([{"task": "twister", "seed": seed, "count": 700} for seed in (1, 10)])
        for seed, numbers in zip((1, 10), found, strict=True):
            chance = Random(seed)
            assert numbers == [chance.random() for _ in range(700)]


class TestSlim:
    """The model as data."""

    def test_it_is_json_and_small(self, shipped: Model) -> None:
        text = json.dumps(slim(shipped), separators=(",", ":"))
        assert len(text) < 400_000
