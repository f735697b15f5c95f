"""The sheet on paper and as an object."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from brinebayes.advice.prepare.sheet import Sheet, prepare
from brinebayes.checking.ready import ready
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shipped import model_folder
from brinebayes.knowledge.shop import NO_SHOP
from brinebayes.visit.events import Complained, SiteKnown
from brinebayes.visit.state import fold
from brinebayes.wording.prepare import QUESTIONS, cautions, question_text, to_object, to_text


@cache
def softener() -> CheckedModel:
    return ready(model_folder("softener"))


@cache
def sheet(complaint: str) -> Sheet:
    checked = softener()
    told = [SiteKnown("water_source", "well_clear"), Complained(complaint)]
    return prepare(checked, fold(checked.model, told), 12)


@pytest.mark.parametrize("complaint", ["tank_overfull", "smelly_water", "hard_water"])
class TestText:
    """Plain, in order, and no wider than a page."""

    def test_no_line_is_wider_than_80_columns(self, complaint: str) -> None:
        text = to_text(softener().model, sheet(complaint), NO_SHOP)
        assert max(map(len, text.splitlines())) <= 80

    def test_safety_comes_before_questions_and_these_before_the_van(self, complaint: str) -> None:
        text = to_text(softener().model, sheet(complaint), NO_SHOP)
        places = [
            text.index(head) for head in ("NOW,", "ASK,", "LIKELY", "TAKE ALONG", "THE VISIT")
        ]
        assert places == sorted(places)

    def test_no_template_is_left_unfilled(self, complaint: str) -> None:
        text = to_text(softener().model, sheet(complaint), NO_SHOP)
        assert "{" not in text
        assert "}" not in text


class TestNow:
    """What the customer must do, with what must be minded."""

    def test_the_rule_and_the_cautions_of_its_move(self) -> None:
        model, found = softener().model, sheet("tank_overfull")
        (rule,) = [note for note in found.notes if note.rule.kind == "make_safe"]
        assert list(model.setups.moves["bypass_unit"].cautions) == cautions(model, rule)
        words = " ".join(to_text(model, found, NO_SHOP).split())
        assert rule.rule.reason in words
        assert cautions(model, rule)[0] in words

    def test_health_goes_to_the_authority(self) -> None:
        words = " ".join(to_text(softener().model, sheet("smelly_water"), NO_SHOP).split())
        assert "health authority or a certified laboratory" in words

    def test_nothing_to_make_safe_is_said(self) -> None:
        text = to_text(softener().model, sheet("hard_water"), NO_SHOP)
        assert "Nothing has to be made safe by what is known so far." in text


class TestQuestionText:
    """Words that a customer understands."""

    def test_every_customer_question_has_its_own(self) -> None:
        model = softener().model
        for check in model.checks.values():
            if check.who == "customer":
                for name, observation in check.observations.items():
                    assert question_text(model, name) == observation.phone
                    assert observation.phone.endswith(("?", "."))


class TestObject:
    """For programs."""

    def test_its_fields(self) -> None:
        found = to_object(softener().model, sheet("hard_water"), NO_SHOP)
        assert found["schema"] == "brinebayes.prepare.1"
        assert set(found) == {
            "schema", "model", "currency", "now", "notes", "questions", "faults", "works", "parts",
            "ends_mended", "minutes", "tools", "not_for_this_visit",
        }  # fmt: skip
        assert len(found["questions"]) >= QUESTIONS
        assert found["ends_mended"]["visits"] == 12

    def test_the_shops_code_stands_with_the_part(self) -> None:
        shop = replace(NO_SHOP, codes={"salt_bags": "S 40"})
        found = to_object(softener().model, sheet("hard_water"), shop)
        assert {p["id"]: p["code"] for p in found["parts"]}["salt_bags"] == "S 40"
        assert "Two bags of softener salt (S 40)" in to_text(
            softener().model, sheet("hard_water"), shop
        )
