"""Questions for the phone: who may answer, what they tell, what an answer changes."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from brinebayes.advice.prepare import questions as q
from brinebayes.advice.prepare.remedies import costs, remedies
from brinebayes.advice.situation import situation
from brinebayes.checking.ready import ready
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shipped import model_folder
from brinebayes.network.belief import Question, believe
from brinebayes.visit.events import Complained, Event, Saw, SiteKnown
from brinebayes.visit.state import fold


@cache
def softener() -> CheckedModel:
    return ready(model_folder("softener"))


def call(*events: Event) -> tuple[q.Call, tuple[q.PhoneQuestion, ...]]:
    """A call to the shipped model, and its questions."""
    checked = softener()
    here = situation(checked, fold(checked.model, events))
    plans = remedies(checked.model, here.state, here.routes)
    prices = costs(checked.model, here.state, here.routes)
    found = q.Call(
        checked.model,
        here.state,
        here.belief,
        here.worlds(900),
        plans,
        sorted(prices, key=lambda name: (prices[name], name)),
        here.notes,
    )
    return found, q.questions(found, here.routes, here.start)


class TestForCustomers:
    """No tools, nothing moved, nothing opened, nobody waits."""

    def test_none_of_them_needs_hands_on_the_unit(self) -> None:
        checked = softener()
        here = situation(checked, fold(checked.model, []))
        found = q.for_customers(checked.model, here.routes, here.start)
        assert {"look_salt", "look_display", "ask_salt_use"} <= set(found)
        for check in found.values():
            assert check.who == "customer"
            assert not check.tools
            assert not check.needs
            assert not check.leaves

    @pytest.mark.parametrize(
        "name", ["probe_salt", "measure_level", "open_injector", "read_settings"]
    )
    def test_a_technicians_check_is_none(self, name: str) -> None:
        checked = softener()
        here = situation(checked, fold(checked.model, []))
        assert name not in q.for_customers(checked.model, here.routes, here.start)


class TestQuestions:
    """Worth, order and answers."""

    def test_best_first_and_safety_before_all(self) -> None:
        _, found = call(Complained("tank_overfull"))
        rates = [(not one.safety, -one.bits / one.minutes) for one in found]
        assert rates == sorted(rates)
        assert found[0].id == "look_floor"
        assert found[0].safety
        assert [item.rule_id for a in found[0].asked[0].answers for item in a.rules] == [
            "floor_safe"
        ]

    def test_answers_of_one_question_sum_to_one(self) -> None:
        _, found = call(Complained("salt_unused"))
        for one in found:
            for asked in one.asked:
                assert sum(a.chance for a in asked.answers) == pytest.approx(1.0, abs=1e-9)

    def test_bits_are_no_more_than_the_answer_has(self) -> None:
        _, found = call(Complained("salt_unused"))
        for one in found:
            for asked in one.asked:
                shares = np.array([a.chance for a in asked.answers])
                assert -1e-9 <= asked.bits <= -(shares * np.log2(shares)).sum() + 0.02
                assert asked.bits <= one.bits + 1e-9

    def test_what_is_known_is_not_asked_again(self) -> None:
        _, found = call(
            Complained("salt_unused"),
            SiteKnown("age", "new"),
            Saw("display", "dark"),
            Saw("clock", "wrong_hour"),
        )
        assert {"age", "look_display", "ask_salt_use"}.isdisjoint(one.id for one in found)

    def test_a_dark_display_brings_the_transformer_and_the_board(self) -> None:
        """Common practice, no source: no voltage first, then the board."""
        _, found = call(Complained("salt_unused"))
        display = next(one for one in found if one.id == "look_display")
        asked = next(one for one in display.asked if one.id == "display")
        dark = next(a for a in asked.answers if a.answer == "dark")
        assert dark.leading[0][0] == "no_power"
        assert "control_board" in dark.load
        assert [item.rule_id for item in dark.rules] == ["dark_safe"]


class TestSiteRows:
    """P(value | faults of a row), against the exact network."""

    @pytest.mark.parametrize("name", ["water_source", "age", "drive_kind"])
    def test_shares_agree_with_the_exact_ones(self, name: str) -> None:
        """Rows know the faults alone; what else speaks of the site is little (0.03)."""
        found, _ = call(Complained("salt_unused"))
        rows = q._site_rows(found, name)
        assert rows.sum(axis=0) == pytest.approx(1.0)
        exact = {}
        for value, entry in found.model.site[name].values.items():
            told = Question({name: value}, found.state.complaints, (), ())
            gain = believe(found.model, told).log_evidence - found.belief.log_evidence
            exact[value] = entry.share.value * np.exp(gain)
        shares = np.array(list(exact.values())) / sum(exact.values())
        assert rows @ found.worlds.weights == pytest.approx(shares, abs=0.03)
