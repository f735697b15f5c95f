"""The page's advice against Python's: the same act, its cost, its reason, what answers mean."""

from __future__ import annotations

from math import inf

import pytest

from brinebayes.checking.ready import ready
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shipped import model_folder
from brinebayes.visit.events import Done, Saw
from brinebayes.visit.state import PROOF
from tests.decisions import families
from tests.page.advising import REPAIRS, advised, compare, said
from tests.page.node import needs_node
from tests.page.walks import small_walks, walks

pytestmark = needs_node


@pytest.fixture(scope="module")
def shipped() -> CheckedModel:
    return ready(model_folder("softener"))


class TestAdvice:
    """Whole visits to a unit of the shipped model."""

    def test_the_same_acts(self, shipped: CheckedModel) -> None:
        visits = list(walks(shipped.model, 10, 5, REPAIRS))
        for mine, events in zip(said(shipped, visits), visits, strict=True):
            compare(mine, advised(shipped, events))

    def test_after_more_repairs_than_the_trees_hold(self, shipped: CheckedModel) -> None:
        """Beliefs from rows, with the same random numbers."""
        first = next(walks(shipped.model, 1, 8, ()))
        done = [Done("clean_injector"), Saw(PROOF, "failed"), Done("replace_seals")]
        events = [*first, *done, Saw(PROOF, "failed")]
        theirs = advised(shipped, events)
        assert theirs is not None
        assert theirs.effective_draws is not None
        [mine] = said(shipped, [events])
        compare(mine, theirs)


class TestSmallModels:
    """Drawn models with so few joint states that each has a row of its own."""

    @pytest.mark.parametrize("family", families.FAMILIES)
    @pytest.mark.parametrize("seed", [0, 1])
    def test_the_same_acts(self, family: str, seed: int) -> None:
        checked = CheckedModel(families.model(family, seed), ())
        visits = [[], *small_walks(checked.model, 6, seed)]
        answers = [advised(checked, events) for events in visits]
        assert any(one is not None and one.choice.effective_rows == inf for one in answers)
        for mine, theirs in zip(said(checked, visits), answers, strict=True):
            compare(mine, theirs)
