"""Did you mean."""

from __future__ import annotations

import pytest

from brinebayes.errors import UsageError
from brinebayes.knowledge.names import a, listed, lookup, suggest

KNOWN = ("injector_clogged", "brine_line_blocked", "seals_worn")


class TestSuggest:
    """One near name, or nothing."""

    @pytest.mark.parametrize(
        "word", ["injector_cloged", "Injector-Clogged", "injector clogged", "injector"]
    )
    def test_near(self, word: str) -> None:
        assert suggest(word, KNOWN) == " (did you mean injector_clogged?)"

    @pytest.mark.parametrize("word", ["", "zzz", "motor"])
    def test_nothing_near(self, word: str) -> None:
        assert suggest(word, KNOWN) == ""

    def test_nothing_known(self) -> None:
        assert suggest("motor", ()) == ""


class TestLookup:
    """The value, or an error that helps."""

    def test_found(self) -> None:
        assert lookup("fault", "a", {"a": 1}) == 1

    def test_near(self) -> None:
        with pytest.raises(UsageError, match=r"fault 'seal_worn' .*did you mean seals_worn"):
            lookup("fault", "seal_worn", dict.fromkeys(KNOWN))

    def test_far(self) -> None:
        with pytest.raises(UsageError, match="there are: injector_clogged, brine_line_blocked"):
            lookup("fault", "motor", dict.fromkeys(KNOWN))


class TestListed:
    """Short lists."""

    def test_all(self) -> None:
        assert listed(["x", "y"]) == "x, y"

    def test_some(self) -> None:
        assert listed(["x", "y", "z"], most=2) == "x, y and 1 more"

    def test_none(self) -> None:
        assert listed([]) == "none"


def test_article() -> None:
    assert (a("check"), a("observation")) == ("a check", "an observation")
