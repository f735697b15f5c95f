"""The enumerated problems agree with the network, and the bounds of the optimum with each other."""

from __future__ import annotations

import numpy as np
import pytest

from brinebayes.knowledge.schema import CheckedModel
from brinebayes.network.belief import Question, Seen, believe
from tests.decisions import families
from tests.decisions.follow import follow
from tests.decisions.optimum import Optimum
from tests.decisions.problem import problem
from tests.decisions.regret import POLICIES

DRAWN = [(family, seed) for family in families.FAMILIES for seed in (0, 1)]


@pytest.fixture(autouse=True)
def _no_cache(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BRINEBAYES_CACHE", "off")


class TestProblem:
    """Two ways to the same numbers: rows of worlds, and the product's network."""

    @pytest.mark.parametrize(("family", "seed"), DRAWN)
    def test_beliefs_are_those_of_the_network(self, family: str, seed: int) -> None:
        """After a check, a repair, and the same check again."""
        model = families.model(family, seed)
        drawn = problem(model)
        belief, done, seen = drawn.prior, [], []
        look, mend = drawn.checks[0], drawn.mends[0]
        for again in range(2):
            names = model.checks[look.id].observations
            if not again or look.upstream & mend.touches:
                belief = belief * look.chances[0]
                for name, outcome in zip(names, look.outcomes[0], strict=True):
                    outcomes = model.observation(name).outcomes
                    seen.append(Seen(len(done), name, tuple(float(o == outcome) for o in outcomes)))
            found = believe(model, Question(done=tuple(done), seen=tuple(seen)))
            assert found.log_evidence == pytest.approx(np.log(belief.sum()), abs=1e-9)
            works = float(belief[drawn.works].sum() / belief.sum())
            assert found.works == pytest.approx(works, abs=1e-9)
            belief = mend.onward @ belief
            done.append(mend.id)

    def test_shares_are_those_stated(self) -> None:
        model = families.model("two_faults", 3)
        found = believe(model, Question())
        for name, fault in model.faults.items():
            assert found.faults[name] == pytest.approx(fault.share.value, abs=1e-9)


class TestOptimum:
    """Bounds that hold, and close."""

    @pytest.mark.parametrize("family", families.FAMILIES)
    def test_bounds_only_come_nearer(self, family: str) -> None:
        optimum = Optimum(problem(families.model(family, 1)))
        root = optimum.root
        assert optimum.known <= root.low + 1e-6
        before = root.low, root.high
        for most in (10, 50, 200):
            optimum.improve(root, 1e-6, most)
            assert before[0] - 1e-9 <= root.low <= root.high + 1e-9 <= before[1] + 2e-9
            before = root.low, root.high

    @pytest.mark.parametrize("policy", POLICIES)
    def test_no_policy_is_better(self, policy: str) -> None:
        """What a policy costs is reckoned apart from the bounds, and never lies below them."""
        model = families.model("pairs", 0)
        drawn = problem(model)
        optimum = Optimum(drawn)
        optimum.improve(optimum.root, 0.05, 1_000)
        cost = follow(CheckedModel(model, ()), drawn, POLICIES[policy]).cost
        assert cost >= optimum.root.low - 1e-6

    def test_ends_by_hand(self) -> None:
        """What finishing and passing on cost needs no search."""
        drawn = problem(families.model("random", 0))
        optimum = Optimum(drawn)
        costs = optimum.costs(optimum.root, 1e9)
        failing = float(drawn.prior[~drawn.works].sum())
        assert costs["finish"] == pytest.approx((failing * drawn.second_visit,) * 2)
        assert costs["escalate"] == (drawn.escalation, drawn.escalation)
