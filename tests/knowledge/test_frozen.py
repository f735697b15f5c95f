"""Read-only mappings: equal to dicts, picklable, and without a way in."""

from __future__ import annotations

import copy
import pickle
from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinebayes.knowledge.frozen import ReadOnly, freeze
from brinebayes.knowledge.schema import Case, Dispute, Mechanism

ITEMS = st.dictionaries(st.text(max_size=5), st.integers(), max_size=6)


class TestReadOnly:
    """Behaves as the dict it was made from, for reading."""

    @given(ITEMS)
    def test_reads_as_a_dict(self, items: dict[str, int]) -> None:
        frozen = ReadOnly(items)
        assert isinstance(frozen, Mapping)
        assert frozen == items
        assert items == frozen
        assert list(frozen) == list(items)
        assert dict(frozen.items()) == items
        assert list(frozen.values()) == list(items.values())
        assert frozen.get("not there at all", 7) == 7
        assert {**frozen} == items

    @given(ITEMS)
    def test_pickles_and_copies(self, items: dict[str, int]) -> None:
        frozen = ReadOnly(items)
        again = pickle.loads(pickle.dumps(frozen))
        assert type(again) is ReadOnly
        assert again == frozen
        assert list(again) == list(frozen)
        assert copy.deepcopy(frozen) == frozen

    @given(ITEMS)
    def test_equal_ones_have_one_hash(self, items: dict[str, int]) -> None:
        backwards = dict(reversed(items.items()))
        assert hash(ReadOnly(items)) == hash(ReadOnly(backwards))

    def test_unequal(self) -> None:
        assert ReadOnly({"a": 1}) != ReadOnly({"a": 2})
        assert ReadOnly({"a": 1}) != {"a": 1, "b": 2}

    def test_cannot_be_changed(self) -> None:
        frozen: Any = ReadOnly({"a": 1})
        with pytest.raises(TypeError):
            frozen["b"] = 2
        with pytest.raises(TypeError):
            del frozen["a"]
        with pytest.raises(AttributeError, match="cannot be changed"):
            frozen.b = 2
        with pytest.raises(AttributeError, match="cannot be changed"):
            del frozen._items
        with pytest.raises(TypeError):
            frozen.items().mapping["b"] = 2
        assert not hasattr(frozen, "update")
        assert frozen == {"a": 1}

    def test_owns_its_items(self) -> None:
        items = {"a": 1}
        frozen = ReadOnly(items)
        items["a"] = 2
        assert frozen["a"] == 1

    def test_repr(self) -> None:
        assert repr(ReadOnly({"a": 1})) == "ReadOnly({'a': 1})"


class TestFreeze:
    """All the way down, through dataclasses, mappings and lists."""

    def test_nested(self) -> None:
        frozen: Any = freeze({"a": [{"b": [1, 2]}], "c": ("x", {"d": "e"})})
        assert type(frozen) is ReadOnly
        assert type(frozen["a"]) is tuple
        assert type(frozen["a"][0]) is ReadOnly
        assert frozen["a"][0]["b"] == (1, 2)
        assert type(frozen["c"][1]) is ReadOnly

    def test_dataclass(self) -> None:
        states: Any = ["good", "poor"]
        when: Any = {"line": ["open", "shut"]}
        mechanism = Mechanism("m", states, "why", cases=(Case(when, "good"),))
        frozen = freeze(mechanism)
        assert frozen.states == ("good", "poor")
        assert frozen.cases[0].when == {"line": ("open", "shut")}
        assert type(frozen.cases[0].when) is ReadOnly
        assert type(hash(frozen)) is int

    def test_plain_values_are_untouched(self) -> None:
        assert freeze("text") == "text"
        assert freeze(None) is None
        assert freeze(Dispute(1.0, "a")) == Dispute(1.0, "a")
