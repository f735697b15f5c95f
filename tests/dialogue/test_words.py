"""Words of a customer that are no complaint's own are asked about, and never taken for one."""

from __future__ import annotations

import pytest

from brinebayes.dialogue.words import complaint, meant, said
from brinebayes.errors import UsageError
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.shipped import model_folder
from brinebayes.visit.events import Complained


@pytest.fixture(scope="module")
def model() -> Model:
    """The shipped softener."""
    return read_model(model_folder("softener"))


class TestMeant:
    """Which complaint a sentence may mean."""

    @pytest.mark.parametrize(
        ("words", "which"),
        [
            ("water is salty in the morning", "salty_water"),
            ("there are little beads in the faucet", "resin_at_taps"),
            ("salt level does not change", "salt_unused"),
            ("it keeps running", "runs_to_drain"),
            ("the shower has no pressure", "low_pressure"),
        ],
    )
    def test_a_word_that_no_other_has(self, model: Model, words: str, which: str) -> None:
        assert meant(model, words).startswith(f" (did you mean {which},")
        assert complaint(model, words) == ""

    @pytest.mark.parametrize("words", ["hello", "water everywhere", "", "the salt never goes down"])
    def test_what_several_or_none_share(self, model: Model, words: str) -> None:
        assert meant(model, words) == ""


class TestSaid:
    """The event of a complaint that was told on the command line."""

    def test_id_name_and_words(self, model: Model) -> None:
        for text in ("salty_water", "Water tastes salty", "coffee tastes of salt"):
            assert said(model, text) == Complained("salty_water")

    def test_other_words(self, model: Model) -> None:
        with pytest.raises(UsageError, match="did you mean salty_water, Water tastes salty"):
            said(model, "water is salty in the morning")
