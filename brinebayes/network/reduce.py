"""A network in which some variables are known for good: smaller, and exactly the same beliefs."""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np
from numpy.typing import NDArray

from brinebayes.network.tables import Network, Table, Variable
from brinebayes.record import record

Floats = NDArray[np.float64]
#: Stands in a network in which nothing is left to decide.
NOTHING = Variable("nothing", ("so",))


@record(eq=False)
class Reduced:
    """What is left of a network, and what became of the rest.

    `settled`: variables that depend on nothing that is left -> the chance of each state. `same`:
    variable -> the one kept that it always equals, state for state.
    """

    network: Network
    settled: Mapping[str, Floats]
    same: Mapping[str, str]

    def translate(self, likelihoods: Mapping[str, Floats]) -> tuple[Floats, dict[str, Floats]]:
        """Likelihoods over the full network as a factor and likelihoods over this one.

        With a leading batch axis the factor has it too.
        """
        factor = np.ones(())
        out: dict[str, Floats] = {}
        for name, values in likelihoods.items():
            if name in self.settled:
                factor = factor * (values @ self.settled[name])
                continue
            name = self.same.get(name, name)
            out[name] = out[name] * values if name in out else values
        return factor, out


def reduced(
    network: Network,
    known: Mapping[str, int],
    left_open: Collection[str],
    leaves: Collection[str],
) -> Reduced:
    """Enter `known` states for good and drop every variable that has nothing left to decide.

    The chance of the known states themselves is not part of the result. Roots in `left_open` stay
    even if their table decides them. `leaves` are observations: they stand for one reading and are
    dropped when nothing that is left bears on them.
    """
    fixed = dict(known)
    settled = {name: np.eye(len(network.states(name)))[state] for name, state in known.items()}
    same: dict[str, str] = {}
    tables: dict[str, Table] = {}
    for name in network.topological:
        if name in fixed:
            continue
        parents, values = _entered(network.table_of[name], fixed, same)
        if not parents and name not in left_open and (name in leaves or values.max() == 1.0):
            settled[name] = values
            if name not in leaves:
                fixed[name] = int(values.argmax())
        elif len(parents) == 1 and name not in leaves and _is_identity(values):
            same[name] = parents[0]
        else:
            tables[name] = Table(name, parents, values)
    kept = [v for v in network.variables if v.name in tables]
    if all(v.name in leaves for v in kept):
        kept.append(NOTHING)
        tables[NOTHING.name] = Table(NOTHING.name, (), [1.0])
    return Reduced(Network(kept, tables.values()), settled, same)


def _is_identity(values: Floats) -> bool:
    return values.shape[0] == values.shape[1] and np.array_equal(values, np.eye(len(values)))


def _entered(
    table: Table, fixed: Mapping[str, int], same: Mapping[str, str]
) -> tuple[tuple[str, ...], Floats]:
    """A table's parents and values once what is known is entered."""
    values = table.values[tuple(fixed.get(p, slice(None)) for p in table.parents)]
    parents = [same.get(p, p) for p in table.parents if p not in fixed]
    for name in dict.fromkeys(parents):
        while parents.count(name) > 1:
            first, second = [i for i, p in enumerate(parents) if p == name][:2]
            # The diagonal of two axes comes last; put it where the first one stood.
            values = np.moveaxis(np.diagonal(values, axis1=first, axis2=second), -1, first)
            del parents[second]
    return tuple(parents), values
