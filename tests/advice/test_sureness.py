"""How sure a choice is, held against one-step sums of another module and against the advice."""

from __future__ import annotations

import numpy as np
import pytest

from brinebayes.advice.acts import price_of_check, price_of_repair
from brinebayes.advice.advise import advise
from brinebayes.advice.effort import USUAL
from brinebayes.advice.one_step import mends, outcome_rows
from brinebayes.advice.situation import situation
from brinebayes.advice.sureness import DRAWS, sureness
from brinebayes.advice.underway import underway
from brinebayes.checking.ready import ready
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shipped import model_folder
from brinebayes.network.every import every_world
from brinebayes.network.graph import COMPLAINT_STATES
from brinebayes.visit.events import Complained, Done, Event, Saw
from brinebayes.visit.state import PROOF, fold
from tests.advice.test_choose import HISTORIES, state_of

SAID = COMPLAINT_STATES.index("said")


@pytest.fixture(scope="module")
def shipped() -> CheckedModel:
    return ready(model_folder("softener"))


class TestContrast:
    """The lead over the next best act, in three parts."""

    @pytest.mark.parametrize("events", HISTORIES)
    def test_the_parts_are_the_prices_of_work_and_ways(
        self, checked: CheckedModel, events: list[Event]
    ) -> None:
        state = state_of(checked, events)
        advice = advise(checked, state)
        contrast = sureness(checked, state, advice, USUAL).contrast
        assert contrast is not None
        best, other = advice.choice.ranked[:2]
        assert contrast.other == other
        assert contrast.whole == pytest.approx(other.expected_cost - best.expected_cost)
        routes, model = situation(checked, state).routes, checked.model
        own = {name: price_of_check(model, name) for name in model.checks}
        own |= {name: price_of_repair(model, state, name) for name in model.repairs}
        if best.act.id in own and other.act.id in own:
            assert contrast.direct == pytest.approx(own[other.act.id] - own[best.act.id])
        back = [routes.cost(item.act.end, routes.to_service) for item in (best, other)]
        ways = [item.act.cost - own[item.act.id] for item in (best, other) if item.act.id in own]
        if len(ways) == 2:
            assert contrast.setup == pytest.approx(ways[1] + back[1] - ways[0] - back[0])


class TestDecision:
    """The repair that would be chosen now, by enumeration of every state of the small model."""

    @pytest.mark.parametrize(
        "events", [h for h in HISTORIES if not any(isinstance(e, Done) for e in h)]
    )
    def test_equal_to_an_enumeration(self, checked: CheckedModel, events: list[Event]) -> None:
        model, state = checked.model, state_of(checked, events)
        advice = advise(checked, state)
        decision = sureness(checked, state, advice, USUAL).decision
        worlds = every_world(model, state.site)
        assert worlds is not None
        weights = worlds.weights.copy()
        for _, name, outcome in state.seen:
            place = list(model.observation(name).outcomes).index(outcome)
            weights *= worlds.observation_likelihoods(name)[:, place]
        for name in state.complaints:
            weights *= worlds.observation_likelihoods(name)[:, SAID]
        repairs = list(model.repairs)
        chances = mends(model, state, repairs, worlds)
        prices = np.array([[price_of_repair(model, state, name)] for name in repairs])
        price = np.where(chances > 0.5, prices, np.inf)
        classes = np.where(np.isinf(price.min(axis=0)), len(repairs), price.argmin(axis=0))
        classes[worlds.works] = len(repairs) + 1
        shares = np.bincount(classes, weights=weights, minlength=len(repairs) + 2)
        best = int(shares.argmax())
        assert decision.repair == (repairs[best] if best < len(repairs) else "")
        assert decision.works == (best == len(repairs) + 1)
        assert decision.chance == pytest.approx(shares[best] / weights.sum(), abs=1e-6)
        act = advice.next.act
        if act.kind != "check":
            assert decision.by_this is None
            return
        joint = outcome_rows(model, act.id, worlds, situation(checked, state).answered) * weights
        other = sum(
            row.sum()
            for row in joint
            if np.bincount(classes, weights=row, minlength=len(shares)).argmax() != best
        )
        assert decision.by_this == pytest.approx(other / weights.sum(), abs=1e-6)


class TestSampling:
    """What other draws of the rows would have said."""

    def test_nothing_is_drawn_where_every_state_has_a_row(self, checked: CheckedModel) -> None:
        state = state_of(checked, HISTORIES[1])
        assert sureness(checked, state, advise(checked, state), USUAL).sampling is None

    def test_other_draws_differ_a_little(self, shipped: CheckedModel) -> None:
        state = fold(shipped.model, [Complained("hard_water"), Saw("display", "dark")])
        advice = advise(shipped, state)
        sampling = sureness(shipped, state, advice, USUAL).sampling
        assert sampling is not None
        assert sampling.draws == DRAWS
        assert 0.0 < sampling.cost < 0.2 * advice.next.expected_cost
        assert 0 <= sampling.same <= DRAWS


class TestFollowing:
    """The act after each answer is what the advice says once the answer is there."""

    def test_after_a_check(self, checked: CheckedModel) -> None:
        state = state_of(checked, HISTORIES[1])
        advice = advise(checked, state)
        assert advice.next.act.kind == "check"
        following = sureness(checked, state, advice, USUAL).following
        assert following
        came = underway(checked.model, state, advice.next.act)
        for one in following:
            others = {
                item.observation: item.outcome
                for item in sorted(advice.outcomes, key=lambda item: item.probability)
            }
            saw = others | {one.observation: one.outcome}
            then = fold(checked.model, [*came, *(Saw(*pair) for pair in saw.items())], state)
            assert one.next == advise(checked, then).next

    def test_after_a_proof(self, shipped: CheckedModel) -> None:
        events = [Complained("hard_water"), Saw("bypass_position", "part_or_full_bypass")]
        state = fold(shipped.model, [*events, Done("set_bypass")])
        advice = advise(shipped, state)
        following = sureness(shipped, state, advice, USUAL).following
        if advice.next.act.kind == "prove":
            assert [(one.observation, one.outcome) for one in following] == [
                (PROOF, "passed"),
                (PROOF, "failed"),
            ]
        assert sum(one.probability for one in following) > 0.9
