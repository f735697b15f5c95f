"""Visits walked through on paper."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from brinebayes.advice.prepare import visits as v
from brinebayes.advice.prepare.remedies import fixable, needed, remedies
from brinebayes.advice.prepare.technician import Technician
from brinebayes.advice.situation import situation
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.visit.events import Complained, Event, Saw, SiteKnown
from brinebayes.visit.state import fold

HARD: list[Event] = [Complained("hard_water")]


def walked(
    checked: CheckedModel,
    events: list[Event],
    visits: int,
    seed: int = 5,
    ended: Callable[[int], object] = bool,
) -> v.Visits:
    here = situation(checked, fold(checked.model, events))
    known, units = here.belief.worlds(500, 1), here.belief.worlds(500, 2)
    plans = remedies(checked.model, here.state, here.routes)
    at = here.state, here.routes, here.start
    return v.walk(checked.model, *at, plans, known, units, visits, seed, ended)


def bound(checked: CheckedModel, events: list[Event]) -> float:
    """Chance of a mended unit if every cause were known at the door."""
    here = situation(checked, fold(checked.model, events))
    rows = here.belief.worlds(4000, 3)
    plans = remedies(checked.model, here.state, here.routes)
    return float(rows.weights @ fixable(checked.model, plans, needed(rows), np.ones(1)))


def dear_to_pass_on(checked: CheckedModel) -> CheckedModel:
    """The same shop where a repair that is likely to help is always worth its price."""
    model = checked.model
    money = model.about.money
    price = replace(money.escalation, value=400.0)
    about = replace(model.about, money=replace(money, escalation=price, second_visit=price))
    return replace(checked, model=replace(model, hash=f"{model.hash} dear", about=about))


class TestWalk:
    """On the small model."""

    def test_the_same_seed_walks_the_same_way(self, checked: CheckedModel) -> None:
        one, two = walked(checked, HARD, 60), walked(checked, HARD, 60)
        assert (one.works == two.works).all()
        assert (one.minutes == two.minutes).all()
        assert one.parts == two.parts

    def test_nobody_mends_more_than_who_knows_the_cause(self, checked: CheckedModel) -> None:
        """Within three standard errors; a remedy's second repair is tried in other cases too."""
        found = walked(checked, HARD, 600)
        most = bound(checked, HARD)
        assert 0.5 * most < found.works.mean() < most + 3 * (0.25 / 600) ** 0.5

    def test_a_cause_that_is_plain_is_mended_as_surely_as_its_repair_works(
        self, checked: CheckedModel
    ) -> None:
        """A dirty injector is cleaned with 0.92; a proof that passes wrongly (0.04) ends it, and
        a second fault (about one in five) may remain."""
        events = [*HARD, Saw("outlet_hardness", "hard"), Saw("injector_seen", "dirty")]
        found = walked(checked, events, 600)
        most = bound(checked, events)
        assert abs(found.works.mean() - most) < 0.12
        assert found.works.mean() > 0.6

    def test_luck_with_proofs_evens_out(self, checked: CheckedModel) -> None:
        """Its mean is 0 whatever he does: within four standard errors of 2,000 visits."""
        luck = walked(checked, HARD, 2000).luck
        assert luck.std() > 0.0
        assert abs(luck.mean()) < 4.0 * luck.std() / 2000**0.5

    def test_every_visit_is_told_of_once(self, checked: CheckedModel) -> None:
        told: list[int] = []
        walked(checked, HARD, 60, ended=told.append)
        assert sum(told) == 60

    def test_no_visit_is_shorter_than_its_way_and_none_endless(self, checked: CheckedModel) -> None:
        found = walked(checked, HARD, 200)
        assert (found.minutes >= 0.0).all()
        assert found.minutes.max() < v.LONGEST_MINUTES + 120.0

    def test_parts_are_those_of_repairs_that_were_done(self, checked: CheckedModel) -> None:
        drawn_well = [Saw("level", "falls"), Saw("suction_felt", "strong")]
        told = [SiteKnown("valve", "piston"), *drawn_well, Saw("outlet_hardness", "hard")]
        found = walked(dear_to_pass_on(checked), [*HARD, *told], 200)
        assert set().union(*found.parts) <= {"seal_kit"}
        assert any(found.parts)
        assert set().union(*found.tools) <= {"hardness kit"}


class TestSplits:
    """Rows as a repair may leave them: `clean_injector` clears 0.92, harms seals 0.02."""

    def test_shares_by_hand(self, checked: CheckedModel) -> None:
        here = situation(checked, fold(checked.model, HARD))
        plans = remedies(checked.model, here.state, here.routes)
        technician = Technician(checked.model, here.state, here.routes, plans)
        walk = v._Walk(technician, np.random.Generator(np.random.Philox(0)), 1)
        faults = np.array([[1, 0, 0, 0], [0, 1, 0, 0]], dtype=bool)
        rows, after, weights = walk.splits(faults, np.array([0.6, 0.4]), "clean_injector")
        assert weights.sum() == pytest.approx(1.0)
        assert weights @ after[:, 0] == pytest.approx(0.6 * 0.08)
        assert weights @ after[:, 1] == pytest.approx(0.4)
        assert weights @ after[:, 2] == pytest.approx(0.02)
        assert weights[rows == 0].sum() == pytest.approx(0.6)
