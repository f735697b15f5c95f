"""Records behave as the frozen dataclasses of the standard library do; those are the oracle."""

from __future__ import annotations

import copy
import pickle
from collections.abc import Mapping
from dataclasses import (
    MISSING,
    FrozenInstanceError,
    asdict,
    dataclass,
    field,
    fields,
    is_dataclass,
    replace,
)
from functools import cached_property
from typing import Any, ClassVar

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from brinebayes.record import RESERVED, record


@record
class Pipe:
    """A pipe."""

    strict: ClassVar[dict[str, Any]] = {"extra": "forbid"}
    __pydantic_config__: ClassVar[dict[str, Any]] = strict
    bore: float
    name: str
    fittings: tuple[str, ...] = ()
    bends: Mapping[str, int] = field(default_factory=dict)

    @cached_property
    def area(self) -> float:
        """Not a field."""
        return self.bore**2


@dataclass(frozen=True)
class PlainPipe:
    """A pipe."""

    strict: ClassVar[dict[str, Any]] = {"extra": "forbid"}
    __pydantic_config__: ClassVar[dict[str, Any]] = strict
    bore: float
    name: str
    fittings: tuple[str, ...] = ()
    bends: Mapping[str, int] = field(default_factory=dict)


@record
class Hose(Pipe):
    """A pipe with one field more and another default."""

    fittings: tuple[str, ...] = ("elbow",)
    length: float = 1.0


@dataclass(frozen=True)
class PlainHose(PlainPipe):
    """A pipe with one field more and another default."""

    fittings: tuple[str, ...] = ("elbow",)
    length: float = 1.0


@record
class Nothing:
    """No field at all."""


@record
class Turned:
    """Its own constructor and its own text."""

    text: str

    def __init__(self, text: str) -> None:
        object.__setattr__(self, "text", text[::-1])

    def __repr__(self) -> str:
        return f"<{self.text}>"


@record
class Least:
    """Looks at what it was given."""

    value: int

    def __post_init__(self) -> None:
        if self.value < 0:
            raise ValueError("below nothing")


@record(eq=False)
class Thing:
    """Equal to itself alone."""

    name: str


VALUES = st.dictionaries(
    st.sampled_from(["bore", "name", "fittings", "bends", "length", "colour"]),
    st.one_of(st.floats(allow_nan=False), st.text(max_size=3), st.just(("tee",))),
)


def made(kind: type[Any], args: list[Any], named: dict[str, Any]) -> str:
    """The text of what is made, under one name, or that it cannot be made."""
    try:
        return repr(kind(*args, **named)).removeprefix("Plain")
    except TypeError:
        return "TypeError"


class TestRecord:
    """The same calls, the same objects."""

    @given(args=st.lists(st.integers(), max_size=6), named=VALUES)
    def test_is_made_as_a_dataclass_is(self, args: list[int], named: dict[str, Any]) -> None:
        assert made(Pipe, args, named) == made(PlainPipe, args, named)
        assert made(Hose, args, named) == made(PlainHose, args, named)

    @pytest.mark.parametrize(
        ("args", "named", "says"),
        [
            ((), {"bore": 1.0}, "Pipe: missing: name"),
            ((1.0, "a"), {"size": 2}, "unknown: size"),
            ((1.0, "a"), {"bore": 2.0}, "given twice: bore"),
            ((1.0, "a", (), {}, 5), {}, "5 values for 4 fields"),
        ],
    )
    def test_says_what_is_wrong(self, args: Any, named: Any, says: str) -> None:
        with pytest.raises(TypeError, match=says):
            Pipe(*args, **named)

    def test_every_object_has_a_default_of_its_own(self) -> None:
        assert Pipe(1.0, "a").bends is not Pipe(1.0, "a").bends

    def test_cannot_be_changed(self) -> None:
        pipe: Any = Pipe(1.0, "a")
        with pytest.raises(FrozenInstanceError):
            pipe.bore = 2.0
        with pytest.raises(FrozenInstanceError):
            pipe.colour = "red"
        with pytest.raises(FrozenInstanceError):
            del pipe.bore

    @given(a=st.tuples(st.integers(0, 1), st.text(max_size=1)), b=st.tuples(st.integers(0, 1)))
    def test_equality_and_hash_go_by_value(self, a: tuple[int, str], b: tuple[int]) -> None:
        one, other = Pipe(*a, bends=()), Pipe(b[0], a[1], (), ())  # type: ignore[arg-type]
        assert (one == other) == (a[0] == b[0])
        if one == other:
            assert hash(one) == hash(other)

    def test_a_remembered_property_is_no_part_of_the_value(self) -> None:
        asked, fresh = Pipe(2.0, "a"), Pipe(2.0, "a")
        assert asked.area == 4.0
        assert asked == fresh
        assert repr(asked) == repr(fresh)

    def test_another_class_is_another_value(self) -> None:
        assert Pipe(1.0, "a", ("elbow",)) != Hose(1.0, "a")
        assert Pipe(1.0, "a") != (1.0, "a", (), {})

    def test_without_fields(self) -> None:
        assert Nothing() == Nothing()
        assert hash(Nothing()) == hash(Nothing())
        assert repr(Nothing()) == "Nothing()"
        assert fields(Nothing()) == ()  # type: ignore[arg-type]

    def test_keeps_its_own_constructor_and_text(self) -> None:
        assert repr(Turned("ab")) == "<ba>"
        assert Turned("ab") == Turned("ab")

    def test_looks_at_what_it_was_given(self) -> None:
        assert Least(0).value == 0
        for make in (
            lambda: Least(-1),
            lambda: Least(value=-1),
            lambda: replace(Least(1), value=-1),
        ):
            with pytest.raises(ValueError, match="below nothing"):
                make()

    def test_eq_false_is_identity(self) -> None:
        thing = Thing("a")
        assert thing == thing
        assert thing != Thing("a")
        assert len({thing, Thing("a")}) == 2

    def test_matches_by_position(self) -> None:
        match Pipe(1.0, "a"):
            case Pipe(bore, name):
                assert (bore, name) == (1.0, "a")

    @pytest.mark.parametrize(
        "one", [Pipe(1.0, "a", ("tee",)), Hose(1.0, "a"), Nothing(), Turned("ab"), Thing("a")]
    )
    def test_is_pickled_and_copied(self, one: Any) -> None:
        for again in (pickle.loads(pickle.dumps(one)), copy.deepcopy(one), copy.copy(one)):
            assert type(again) is type(one)
            assert repr(again) == repr(one)
            assert isinstance(one, Thing) or again == one

    def test_keeps_neither_defaults_nor_remembered_properties(self) -> None:
        pipe = Pipe(2.0, "a")
        assert pipe.area == 4.0
        assert pipe.__reduce_ex__(4)[2] == {"bore": 2.0, "name": "a", "bends": {}}  # type: ignore[index]


class TestDataclasses:
    """What the standard library and pydantic know of dataclasses they know of records."""

    @pytest.mark.parametrize(("kind", "plain"), [(Pipe, PlainPipe), (Hose, PlainHose)])
    def test_has_the_same_fields(self, kind: Any, plain: Any) -> None:
        assert is_dataclass(kind)
        seen = [
            [(f.name, f.type, f.default, f.default_factory, f.init) for f in fields(each)]
            for each in (kind, plain)
        ]
        assert seen[0] == seen[1]
        assert any(f.default_factory is not MISSING for f in fields(kind))

    def test_replace(self) -> None:
        assert replace(Pipe(1.0, "a"), name="b") == Pipe(1.0, "b")
        assert replace(Hose(1.0, "a"), length=2.0) == Hose(1.0, "a", length=2.0)
        with pytest.raises(TypeError, match="unknown: colour"):
            replace(Pipe(1.0, "a"), colour="red")  # type: ignore[call-arg]

    def test_asdict(self) -> None:
        assert asdict(Hose(1.0, "a")) == asdict(PlainHose(1.0, "a"))

    @pytest.mark.parametrize(
        "data",
        [
            '{"bore": 1.0, "name": "a"}',
            '{"bore": 1, "name": "a", "fittings": ["tee"], "bends": {"x": 2}, "length": 2.5}',
            '{"bore": "wide", "name": 3}',
            '{"name": "a", "colour": "red"}',
            "[1.0]",
        ],
    )
    def test_pydantic_validates_it_alike(self, data: str) -> None:
        found = []
        for kind in (Hose, PlainHose):
            try:
                found.append(vars(TypeAdapter(kind).validate_json(data, strict=True)))
            except ValidationError as error:
                wrong = error.errors(include_url=False, include_context=False)
                found.append({str((e["type"], e["loc"])): e["input"] for e in wrong})
        assert found[0] == found[1]

    def test_pydantic_prints_the_same_schema(self) -> None:
        ours, plain = (TypeAdapter(kind).json_schema() for kind in (Hose, PlainHose))
        assert {**ours, "title": ""} == {**plain, "title": ""}


class TestReserved:
    """Names that a record keeps for itself."""

    @pytest.mark.parametrize("name", sorted(RESERVED))
    def test_no_field_is_called_so(self, name: str) -> None:
        body = {"__annotations__": {"bore": float, name: str}}
        with pytest.raises(TypeError, match=f"Taken: no field may be called {name}"):
            record(type("Taken", (), body))

    def test_these_are_all(self) -> None:
        """What a record without fields has on its class and a plain class has not."""
        kept = vars(record(type("Bare", (), {}))).keys() - vars(type("Plain", (), {})).keys()
        assert {name for name in kept if not name.startswith("__")} == RESERVED
