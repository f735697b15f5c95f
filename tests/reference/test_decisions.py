"""Decision problems of the literature, put to the advice as models of a unit.

[M]: recalled from memory of the source; every number was recomputed once by hand.
"""

from __future__ import annotations

from itertools import permutations
from math import log2

import numpy as np
import pytest

from brinebayes.advice import policies
from brinebayes.advice.acts import Act
from brinebayes.advice.advise import Advice, advise
from brinebayes.advice.situation import situation
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.network.belief import Question, believe
from brinebayes.visit.events import Saw
from brinebayes.visit.state import PROOF, VisitState, fold
from tests.decisions.follow import follow
from tests.decisions.problem import problem
from tests.reference.textbook import textbook

#: A cause beside the one that the problem knows; two must be possible for shares to hold.
OTHER = 1e-5


@pytest.fixture(autouse=True)
def _no_cache(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BRINEBAYES_CACHE", "off")


def cost_of(checked: CheckedModel, policy: policies.Policy) -> float:
    """Expected cost of following a policy through every visit."""
    return follow(checked, problem(checked.model), policy).cost


def in_turn(*repairs: str) -> policies.Policy:
    """Repairs in this order, each once, each with its proof, until one passes."""

    def policy(checked: CheckedModel, state: VisitState) -> Act:
        acts = {act.id: act for act in situation(checked, state).acts}
        if state.seen_now().get(PROOF) == "passed":
            return acts["finish"]
        if PROOF in acts:
            return acts[PROOF]
        left = [repair for repair in repairs if repair not in state.done]
        return acts[left[0] if left else "escalate"]

    return policy


def after(checked: CheckedModel, *seen: Saw) -> Advice:
    return advise(checked, fold(checked.model, seen))


def expected(advice: Advice, act: str) -> float:
    """What ending the visit is said to cost when this act comes first."""
    return next(item.expected_cost for item in advice.choice.ranked if item.act.id == act)


class TestTwoCauses:
    """Look for cause 1 first iff C1/p <= C2/(1 - p); what the repairs cost cancels out.

    Source: textbook exercise in the style of Jensen & Nielsen 2007 [M]. Looking and mending are one
    act here, so that its cost is paid where it is looked for in vain too.
    """

    @pytest.mark.parametrize("p", [0.2, 0.45, 0.7])
    @pytest.mark.parametrize("ratio", [0.5, 0.8, 1.25, 2.0])
    def test_which_comes_first(self, p: float, ratio: float) -> None:
        """`ratio`: C1/p over C2/(1 - p)."""
        second = 20.0
        first = ratio * second / (1.0 - p) * p
        checked = textbook(
            {"one": p, "two": 1.0 - p},
            repairs={"look_1": (first, {"one": 1.0}), "look_2": (second, {"two": 1.0})},
        )
        wanted = "look_1" if first / p <= second / (1.0 - p) else "look_2"
        assert advise(checked, VisitState()).next.act.id == wanted


class TestFourRepairs:
    """Overlapping repairs: faults .8/.15/.05, costs 1, 2, 25, 500.

    Source: exercise, apparently Jensen & Nielsen 2007.
    """

    CHECKED = textbook(
        {"f1": 0.8, "f2": 0.15, "f3": 0.05},
        repairs={
            "a1": (1.0, {"f1": 1.0}),
            "a2": (2.0, {"f2": 0.95}),
            "a3": (25.0, {"f1": 0.99, "f2": 0.99}),
            "a4": (500.0, {"f1": 1.0, "f2": 1.0, "f3": 1.0}),
        },
    )

    @pytest.mark.parametrize(
        ("order", "cost"),
        [
            (("a1", "a2", "a3", "a4"), 27.875),
            (("a2", "a1", "a3", "a4"), 29.3325),
            (("a1", "a2", "a4"), 30.15),
            (("a1", "a3", "a2", "a4"), 31.1405),
            (("a1", "a3", "a4"), 31.75),
        ],
    )
    def test_expected_cost_of_an_order(self, order: tuple[str, ...], cost: float) -> None:
        assert cost_of(self.CHECKED, in_turn(*order)) == pytest.approx(cost, abs=1e-3)

    def test_the_advice_follows_the_best_order(self) -> None:
        """Or does better: a second try of a repair is allowed here, which the exercise does not
        know."""
        assert advise(self.CHECKED, VisitState()).next.act.id == "a1"
        assert cost_of(self.CHECKED, policies.search) <= 27.875 + 1e-3


class TestIndependentRepairs:
    """One repair a fault, constant costs: the order by probability over cost is the cheapest.

    Sources: Kadane & Simon 1977; Kalagnanam & Henrion 1990.
    """

    @pytest.mark.parametrize("seed", range(4))
    def test_no_permutation_is_cheaper(self, seed: int) -> None:
        chance = np.random.default_rng(seed)
        shares = chance.dirichlet(np.ones(4))
        costs = chance.uniform(2.0, 40.0, 4)
        checked = textbook(
            {f"f{i}": float(share) for i, share in enumerate(shares)},
            repairs={f"a{i}": (float(costs[i]), {f"f{i}": 1.0}) for i in range(4)},
        )
        names = [f"a{i}" for i in np.argsort(-shares / costs)]
        costs_of = {order: cost_of(checked, in_turn(*order)) for order in permutations(names)}
        assert costs_of[tuple(names)] == pytest.approx(min(costs_of.values()), abs=1e-6)
        assert cost_of(checked, policies.search) == pytest.approx(min(costs_of.values()), abs=1e-2)


class TestUsedCar:
    """Two tests of a used car, P(defect) .3. Source: textbook example; numbers recomputed."""

    FIRST = (
        ({"defect": "present"}, {"no": 0.05, "defect": 0.75, "inconclusive": 0.2}),
        ({}, {"no": 0.8, "defect": 0.05, "inconclusive": 0.15}),
    )
    SECOND = (
        ({"defect": "present"}, {"no": 0.25, "defect": 0.75}),
        ({}, {"no": 0.8, "defect": 0.2}),
    )
    CHECKED = textbook(
        {"defect": 0.3 - OTHER, "other": OTHER},
        without=0.7,
        checks={"t1": (1.0, FIRST), "t2": (1.0, SECOND)},
        repairs={"mend": (10.0, {"defect": 1.0})},
        second_visit=100.0,
        escalation=100.0,
    )

    def test_predictions_and_posteriors(self) -> None:
        belief = believe(self.CHECKED.model, Question())
        assert belief.faults["defect"] == pytest.approx(0.3, abs=1e-4)
        chances, joint = belief.outcomes["t1_shows"], belief.joint["t1_shows"][:, 0]
        assert chances == pytest.approx([0.575, 0.26, 0.165], abs=1e-4)
        assert joint / chances == pytest.approx([0.026087, 0.865385, 0.363636], abs=1e-4)
        p = belief.faults["defect"]
        entropy = -p * log2(p) - (1.0 - p) * log2(1.0 - p)
        assert entropy == pytest.approx(0.881291, abs=1e-4)

    def test_mutual_information(self) -> None:
        """Bits about what to repair are bits about the defect here."""
        ranked = {
            item.act.id: item.bits for item in advise(self.CHECKED, VisitState()).choice.ranked
        }
        assert ranked["t1"] == pytest.approx(0.476803, abs=1e-4)
        assert ranked["t2"] == pytest.approx(0.198022, abs=1e-4)


class TestTestNotWorthItsPrice:
    """Buying a car: price 1500, value 2000, repair 700, P(good) .7, a test for 50.

    Source: Russell & Norvig, exercise. Costs are 500 less the utility: to buy is to finish, which
    costs the repair of a car that is not good; not to buy is to pass on, and costs 500.
    """

    CHECKED = textbook(
        {"bad": 0.3 - OTHER, "other": OTHER},
        without=0.7,
        checks={
            "test": (
                50.0,
                (
                    ({"bad": "present"}, {"pass": 0.35, "fail": 0.65}),
                    ({}, {"pass": 0.8, "fail": 0.2}),
                ),
            )
        },
        second_visit=700.0,
        escalation=500.0,
    )

    def test_predictions(self) -> None:
        belief = believe(self.CHECKED.model, Question())
        chances, joint = belief.outcomes["test_shows"], belief.joint["test_shows"][:, 0]
        assert chances[0] == pytest.approx(0.665, abs=1e-4)
        assert 1.0 - joint / chances == pytest.approx([0.842105, 0.417910], abs=1e-4)

    def test_buys_without_the_test(self) -> None:
        """Expected utility 290 without it; its gross value is 0, its net value -50."""
        now = after(self.CHECKED)
        assert now.next.act.id == "finish"
        assert 500.0 - now.next.expected_cost == pytest.approx(290.0, abs=0.05)
        assert expected(now, "test") - now.next.expected_cost == pytest.approx(50.0, abs=0.05)

    @pytest.mark.parametrize(("said", "utility"), [("pass", 389.474), ("fail", 92.537)])
    def test_buys_whatever_the_test_says(self, said: str, utility: float) -> None:
        then = after(self.CHECKED, Saw("test_shows", said))
        assert then.next.act.id == "finish"
        assert 500.0 - then.next.expected_cost == pytest.approx(utility, abs=0.05)


class TestOilWildcatter:
    """To drill or not, with a seismic test for 10.

    Source: Raiffa 1968 [M]. P(dry, wet, soaking) .5/.3/.2; net -70/50/200. Costs are 200 less the
    payoff: to drill is to finish, and what it costs in a wet hole is the chance 150/270 of a second
    visit that costs 270; not to drill is to pass on, and costs 200.
    """

    CHECKED = textbook(
        {"dry": 0.5, "wet": 0.3},
        without=0.2,
        fails={"wet": 150.0 / 270.0},
        checks={
            "seismic": (
                10.0,
                (
                    ({"dry": "present"}, {"none": 0.6, "open": 0.3, "closed": 0.1}),
                    ({"wet": "present"}, {"none": 0.3, "open": 0.4, "closed": 0.3}),
                    ({}, {"none": 0.1, "open": 0.4, "closed": 0.5}),
                ),
            )
        },
        second_visit=270.0,
        escalation=200.0,
    )

    def test_predictions(self) -> None:
        belief = believe(self.CHECKED.model, Question())
        assert belief.outcomes["seismic_shows"] == pytest.approx([0.41, 0.35, 0.24], abs=1e-5)

    def test_tests_first(self) -> None:
        """20 without the test; 22.5 with it, its cost taken off."""
        now = after(self.CHECKED)
        assert now.next.act.id == "seismic"
        assert 200.0 - expected(now, "finish") == pytest.approx(20.0, abs=0.05)
        assert 200.0 - now.next.expected_cost == pytest.approx(22.5, abs=0.05)

    @pytest.mark.parametrize(
        ("said", "act", "drilling"),
        [
            ("none", "escalate", -30.4878),
            ("open", "finish", 32.8571),
            ("closed", "finish", 87.5),
        ],
    )
    def test_drills_where_it_pays(self, said: str, act: str, drilling: float) -> None:
        then = after(self.CHECKED, Saw("seismic_shows", said))
        assert then.next.act.id == act
        assert 200.0 - expected(then, "finish") == pytest.approx(drilling, abs=0.05)
