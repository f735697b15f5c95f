"""A state of the unit, all states in one numbering, and the states in which a condition holds."""

from __future__ import annotations

from collections.abc import Mapping
from math import prod

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import UsageError
from brinebayes.knowledge.names import lookup
from brinebayes.knowledge.schema import Condition, Setups, States

#: One value per setup variable, in the order of setups.yaml.
State = tuple[str, ...]

Mask = NDArray[np.bool_]
Numbers = NDArray[np.int32]


def worst_case(setups: Setups, known: Mapping[str, str]) -> State:
    """The state to start from when only `known` is known: what is not takes its worst value.

    It may be one that cannot come about (an open body that is known, a pressure that is not);
    `Routes.start` takes the worst value that what is known still allows.
    Raises `UsageError` for a variable or value that does not exist.
    """
    for variable, value in known.items():
        lookup(f"value of {variable}", value, lookup("setup", variable, setups.variables).values)
    return tuple(known.get(name, variable.worst) for name, variable in setups.variables.items())


def service(setups: Setups) -> State:
    """The state in which the unit is handed back."""
    return tuple(variable.service for variable in setups.variables.values())


def named(setups: Setups, state: State) -> dict[str, str]:
    """The state as variable -> value."""
    return dict(zip(setups.variables, state, strict=True))


def with_values(setups: Setups, state: State, changes: Mapping[str, str]) -> State:
    """The state with some of its variables set anew."""
    after = named(setups, state)
    after.update(changes)
    return tuple(after.values())


def allowed(states: States) -> tuple[str, ...]:
    """The values that one line of a condition accepts."""
    return (states,) if isinstance(states, str) else states


def holds(setups: Setups, state: State, condition: Condition) -> bool:
    """Whether every variable named in the condition has one of the values named there."""
    now = named(setups, state)
    return all(now[name] in allowed(values) for name, values in condition.items())


class Space:
    """All states of a model, numbered: the last variable of setups.yaml counts fastest.

    `shape`: number of values per variable. Arrays over states are flat, in that numbering.
    """

    def __init__(self, setups: Setups) -> None:
        self.names = tuple(setups.variables)
        self.values = tuple(tuple(v.values) for v in setups.variables.values())
        self.shape = tuple(len(values) for values in self.values)
        self.size = prod(self.shape)
        strides = [prod(self.shape[axis + 1 :]) for axis in range(len(self.shape))]
        self._strides = dict(zip(self.names, strides, strict=True))
        self._steps = tuple(
            {value: place * stride for place, value in enumerate(values)}
            for values, stride in zip(self.values, strides, strict=True)
        )

    def number(self, state: State) -> int:
        """The number of a state. Raises `UsageError` if it is none of this model's."""
        try:
            return sum(steps[value] for steps, value in zip(self._steps, state, strict=True))
        except (KeyError, ValueError):
            raise UsageError(f"{state} is no state of {', '.join(self.names)}") from None

    def state(self, number: int) -> State:
        """The state with this number."""
        places = np.unravel_index(number, self.shape)
        return tuple(values[p] for values, p in zip(self.values, places, strict=True))

    def where(self, condition: Condition) -> Mask:
        """(states,): where the condition holds. An empty condition holds everywhere."""
        mask = np.ones(self.shape, dtype=np.bool_)
        for name, states in condition.items():
            axis = self.names.index(name)
            accepted = np.isin(self.values[axis], allowed(states))
            mask &= accepted.reshape([-1 if a == axis else 1 for a in range(len(self.shape))])
        return mask.ravel()

    def after(self, leaves: Mapping[str, str]) -> Numbers:
        """(states,): the number of the state that each becomes when `leaves` is set."""
        numbers = np.arange(self.size, dtype=np.int32)
        for name, value in leaves.items():
            axis, stride = self.names.index(name), self._strides[name]
            places = numbers // stride % self.shape[axis]
            numbers += (self.values[axis].index(value) - places).astype(np.int32) * stride
        return numbers
