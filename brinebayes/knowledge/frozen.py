"""Mappings that cannot be changed after a model is read, and how a validated model is frozen."""

from __future__ import annotations

from collections.abc import ItemsView, Iterator, KeysView, Mapping, ValuesView
from dataclasses import fields, is_dataclass
from typing import Any, NoReturn, TypeVar, overload

K = TypeVar("K")
V = TypeVar("V", covariant=True)
T = TypeVar("T")
D = TypeVar("D")


class ReadOnly(Mapping[K, V]):
    """A mapping without a way to change it: hashable, picklable, equal to a dict with its items.

    Unlike `types.MappingProxyType` it can be pickled and owns its items: no one else holds the
    dict behind it.
    """

    # No slots: pickle would then call the constructor for each of the thousands in a model.
    _items: dict[K, V]

    def __init__(self, items: Mapping[K, V] | Iterator[tuple[K, V]] = {}) -> None:  # noqa: B006
        self.__dict__["_items"] = dict(items)

    def __getitem__(self, key: K) -> V:
        return self._items[key]

    def __iter__(self) -> Iterator[K]:
        return iter(self._items)

    def __len__(self) -> int:
        return len(self._items)

    # The next five are in `Mapping` too, but ten times slower there.
    @overload
    def get(self, key: K, /) -> V | None: ...
    @overload
    def get(self, key: K, /, default: V | D) -> V | D: ...
    def get(self, key: K, /, default: Any = None) -> Any:
        return self._items.get(key, default)

    def __contains__(self, key: object) -> bool:
        return key in self._items

    def keys(self) -> KeysView[K]:
        return self._items.keys()

    def values(self) -> ValuesView[V]:
        return self._items.values()

    def items(self) -> ItemsView[K, V]:
        return self._items.items()

    def __eq__(self, other: object) -> bool:
        if isinstance(other, ReadOnly):
            return self._items == other._items
        return self._items == other

    def __hash__(self) -> int:
        return hash(frozenset(self._items.items()))

    def __repr__(self) -> str:
        return f"ReadOnly({self._items!r})"

    def __setattr__(self, name: str, value: object) -> NoReturn:
        raise AttributeError(f"a ReadOnly mapping cannot be changed (setting {name!r})")

    def __delattr__(self, name: str) -> NoReturn:
        raise AttributeError(f"a ReadOnly mapping cannot be changed (deleting {name!r})")

    def __copy__(self) -> ReadOnly[K, V]:
        return self

    def __deepcopy__(self, memo: object) -> ReadOnly[K, V]:
        return self


def freeze(value: T) -> T:
    """`value` with every mapping read-only and every list a tuple, all the way down.

    Records are made anew with frozen fields; numbers and text are returned as they are.
    """
    frozen: Any = value
    if is_dataclass(value) and not isinstance(value, type):
        frozen = type(value)(**{f.name: freeze(getattr(value, f.name)) for f in fields(value)})
    elif isinstance(value, Mapping):
        frozen = ReadOnly({key: freeze(item) for key, item in value.items()})
    elif isinstance(value, list | tuple):
        frozen = tuple(freeze(item) for item in value)
    result: T = frozen
    return result
