"""Discrete Bayesian networks as plain frozen data: variables, tables, and the graph they make."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from functools import cached_property
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinebayes.errors import ModelError
from brinebayes.record import record


class TooLargeError(ModelError):
    """The tables of a visit would grow beyond the budget; see `carried` for what is done then."""

    def __init__(self, entries: int) -> None:
        super().__init__(f"the tables of this model would have {entries} entries or more")
        self.entries = entries


#: How far a row of a table may be off from one. More is refused; nothing is renormalised.
ROW_TOLERANCE = 1e-9


@record
class Variable:
    """A discrete variable and its states, in a fixed order. Raises `ModelError`."""

    name: str
    states: tuple[str, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "states", tuple(self.states))
        if not self.states:
            raise ModelError(f"variable {self.name}: has no states")
        if len(set(self.states)) != len(self.states):
            raise ModelError(f"variable {self.name}: two states share a name: {self.states}")


@record(eq=False)
class Table:
    """P(variable | parents).

    `values`: (*parent states, states), float64, in the order of `parents`, read-only; the last
    axis sums to 1 within 1e-9. Raises `ModelError` for a negative entry or another sum.
    """

    variable: str
    parents: tuple[str, ...]
    values: NDArray[np.float64]

    def __init__(self, variable: str, parents: Iterable[str], values: ArrayLike) -> None:
        array = np.array(values, dtype=np.float64, order="C")
        array.setflags(write=False)
        object.__setattr__(self, "variable", variable)
        object.__setattr__(self, "parents", tuple(parents))
        object.__setattr__(self, "values", array)
        self._check()

    def _check(self) -> None:
        if len(set(self.parents)) != len(self.parents) or self.variable in self.parents:
            raise ModelError(f"table of {self.variable}: repeated name among {self.parents}")
        if self.values.ndim != len(self.parents) + 1:
            raise ModelError(
                f"table of {self.variable}: {self.values.ndim} axes for {len(self.parents)} "
                "parents; there must be one per parent and a last one for the variable"
            )
        if not np.all(self.values >= 0.0):
            raise ModelError(f"table of {self.variable}: an entry is negative or not a number")
        off = np.abs(self.values.sum(axis=-1) - 1.0)
        if off.size and not off.max() <= ROW_TOLERANCE:
            where = np.unravel_index(int(off.argmax()), off.shape)
            raise ModelError(
                f"table of {self.variable}: row {tuple(map(int, where))} sums to "
                f"{float(self.values[where].sum())!r}; it must sum to 1"
            )

    def __reduce__(self) -> tuple[object, ...]:
        return (Table, (self.variable, self.parents, self.values))


@record(eq=False)
class Network:
    """Variables and one table for each, acyclic.

    `variables` keeps the order given; `tables` is in the same order. Raises `ModelError` when a
    variable has no table or two, a parent is unknown, an axis does not fit, or there is a cycle.
    """

    variables: tuple[Variable, ...]
    tables: tuple[Table, ...]

    def __init__(self, variables: Iterable[Variable], tables: Iterable[Table]) -> None:
        object.__setattr__(self, "variables", tuple(variables))
        by_name: dict[str, Table] = {}
        names = {variable.name for variable in self.variables}
        if len(names) != len(self.variables):
            raise ModelError("two variables of the network share a name")
        for table in tables:
            if table.variable in by_name:
                raise ModelError(f"variable {table.variable}: has two tables")
            if table.variable not in names:
                raise ModelError(f"table of {table.variable}: there is no such variable")
            by_name[table.variable] = table
        for name in (variable.name for variable in self.variables):
            if name not in by_name:
                raise ModelError(f"variable {name}: has no table")
        ordered = tuple(by_name[variable.name] for variable in self.variables)
        object.__setattr__(self, "tables", ordered)
        self._check()

    def _check(self) -> None:
        for table in self.tables:
            for axis, name in enumerate((*table.parents, table.variable)):
                if name not in self.by_name:
                    raise ModelError(f"table of {table.variable}: unknown parent {name}")
                states = len(self.by_name[name].states)
                if table.values.shape[axis] != states:
                    raise ModelError(
                        f"table of {table.variable}: axis {axis} ({name}) has "
                        f"{table.values.shape[axis]} entries for {states} states"
                    )
        if len(self.topological) != len(self.variables):
            rest = sorted(set(self.by_name) - set(self.topological))
            raise ModelError(f"the network has a cycle among {', '.join(rest)}")

    @cached_property
    def names(self) -> tuple[str, ...]:
        """The names of the variables, in the order given."""
        return tuple(variable.name for variable in self.variables)

    @cached_property
    def by_name(self) -> Mapping[str, Variable]:
        """Variables by name."""
        return MappingProxyType({variable.name: variable for variable in self.variables})

    @cached_property
    def table_of(self) -> Mapping[str, Table]:
        """Tables by the name of their variable."""
        return MappingProxyType({table.variable: table for table in self.tables})

    @cached_property
    def children_of(self) -> Mapping[str, tuple[str, ...]]:
        """For each variable those that have it as a parent, in the network's order."""
        found: dict[str, list[str]] = {name: [] for name in self.names}
        for table in self.tables:
            for parent in table.parents:
                found[parent].append(table.variable)
        return MappingProxyType({name: tuple(children) for name, children in found.items()})

    @cached_property
    def topological(self) -> tuple[str, ...]:
        """Names with every parent before its children; ties in the network's order."""
        missing = {table.variable: len(table.parents) for table in self.tables}
        ready = [name for name in self.names if not missing[name]]
        for name in ready:  # grows while it is walked
            for child in self.children_of[name]:
                missing[child] -= 1
                if not missing[child]:
                    ready.append(child)
        return tuple(ready)

    @cached_property
    def roots(self) -> tuple[str, ...]:
        """Variables without parents, in the network's order."""
        return tuple(table.variable for table in self.tables if not table.parents)

    def states(self, name: str) -> tuple[str, ...]:
        """The states of a variable."""
        return self.by_name[name].states

    def parents(self, name: str) -> tuple[str, ...]:
        """The parents of a variable, in the order of its table's axes."""
        return self.table_of[name].parents

    def children(self, name: str) -> tuple[str, ...]:
        """The variables that have this one as a parent."""
        return self.children_of[name]

    def ancestors(self, names: Iterable[str]) -> frozenset[str]:
        """The named variables and everything upstream of them."""
        return _reach(names, lambda name: self.table_of[name].parents)

    def descendants(self, names: Iterable[str]) -> frozenset[str]:
        """The named variables and everything downstream of them."""
        return _reach(names, lambda name: self.children_of[name])

    def pruned(self, keep: Collection[str]) -> Network:
        """The network without barren variables: only `keep` and what lies upstream of it.

        Every joint over kept variables stays as it was.
        """
        wanted = self.ancestors(keep)
        return Network(
            (variable for variable in self.variables if variable.name in wanted),
            (table for table in self.tables if table.variable in wanted),
        )

    def __reduce__(self) -> tuple[object, ...]:
        return (Network, (self.variables, self.tables))

    def __repr__(self) -> str:
        return f"Network({len(self.variables)} variables)"


def _reach(start: Iterable[str], step: Callable[[str], Iterable[str]]) -> frozenset[str]:
    """Everything reached from `start`, itself included."""
    seen = set(start)
    waiting = list(seen)
    while waiting:
        for name in step(waiting.pop()):
            if name not in seen:
                seen.add(name)
                waiting.append(name)
    return frozenset(seen)
