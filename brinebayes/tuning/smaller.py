"""Networks in which less is open, for sets of evidence that settle much: the same beliefs, faster.

Where the unit is known to work, a tree with a fifth of the table entries gives exactly what the
whole one gives (shipped model); where most faults can have no effect, less than a tenth is enough.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from brinebayes.knowledge.schema import Model
from brinebayes.network.build import World
from brinebayes.network.compile import compile_network
from brinebayes.network.junction import JunctionTree
from brinebayes.network.local import Floats
from brinebayes.network.propagate import calibrate, log_evidence
from brinebayes.network.reduce import Reduced, reduced
from brinebayes.network.tables import Network, Table, Variable
from brinebayes.tuning.reader import Counted, Reader, in_reduced, reader


@dataclass(frozen=True)
class Case:
    """What is settled. `faults`: those that can have effects, in the order of the model, None: all;
    `working`: the unit is known to work."""

    faults: tuple[str, ...] | None = None
    working: bool = False


@dataclass(frozen=True, eq=False)
class Side:
    """A tree and what is counted in it. `reduction`: how its network came out of the whole one;
    None of the whole one itself. `held`: evidence on what is settled, the same for all."""

    tree: JunctionTree
    reduction: Reduced | None
    counted: tuple[Counted, ...]
    held: Mapping[str, Floats]

    @cached_property
    def reader(self) -> Reader:
        """Reads all that is counted."""
        if self.reduction is None:
            return reader(self.tree, self.counted)
        return reader(self.tree, self.counted, in_reduced(self.reduction))

    def log_p(self, likelihoods: Mapping[str, Floats], width: int) -> Floats:
        """(width,): natural log of the probability of each set of evidence."""
        factor, rest = self._own(likelihoods)
        with np.errstate(divide="ignore"):
            return np.broadcast_to(np.log(factor) + log_evidence(self.tree, rest), (width,))

    def counts(self, likelihoods: Mapping[str, Floats], width: int) -> tuple[Floats, Floats]:
        """The same, and (read, width) what is counted, given each."""
        factor, rest = self._own(likelihoods)
        beliefs = calibrate(self.tree, rest)
        with np.errstate(divide="ignore"):
            log_p = np.broadcast_to(np.log(factor) + beliefs.log_evidence, (width,))
        tables = beliefs.tables
        if tables.ndim == 1:
            tables = tables[:, None].repeat(width, axis=1)
        return log_p, self.reader.counts(tables, np.ones(width, dtype=bool))

    def _own(self, likelihoods: Mapping[str, Floats]) -> tuple[Floats, Mapping[str, Floats]]:
        if self.reduction is None:
            return np.ones(()), likelihoods
        return self.reduction.translate({**likelihoods, **self.held})


def smaller(
    model: Model,
    world: World,
    names: Sequence[str],
    case: Case,
    order: Sequence[str],
    counted: tuple[Counted, ...],
) -> Side:
    """The network of a world in such a case. `names`: its observations; `order`: the elimination
    order of the whole network, which is followed."""
    states: dict[str, int] = {}
    if case.faults is not None:
        states |= {fault: 0 for fault in model.faults if fault not in case.faults}
    held = _working(model, world) if case.working else {}
    network, leaves = _cut(world.network, held)
    left = reduced(network, {**states, **held}, world.open_roots, (*names, *leaves))
    kept = left.network.by_name
    tree = compile_network(
        left.network,
        leaves=[name for name in (*names, *leaves) if name in kept],
        open_roots=[name for name in world.open_roots if name in kept],
        order=order,
    )
    return Side(tree, left, counted, leaves)


def _working(model: Model, world: World) -> dict[str, int]:
    """The state of each variable that is settled when the unit works. A chain takes the worst of
    its links: where the end is in its best state all links before it are."""
    found: dict[str, int] = {}
    for name, wanted in model.about.works.items():
        good = np.flatnonzero(world.paths[name].among(0, wanted))
        if len(good) == 1:
            found[name] = int(good[0])
            if found[name] == 0:
                found |= {s.variable: 0 for s in world.steps if s.mechanism == name}
    return found


def _cut(network: Network, held: Mapping[str, int]) -> tuple[Network, dict[str, Floats]]:
    """What is held decides about all that hangs on it, and an observation of it speaks of what it
    hangs on itself; the latter with their evidence."""
    variables, tables = list(network.variables), []
    leaves: dict[str, Floats] = {}
    for table in network.tables:
        if table.variable not in held:
            tables.append(table)
            continue
        states = network.states(table.variable)
        known = np.eye(len(states))[held[table.variable]]
        leaf = f"{table.variable}__held"
        tables += [Table(table.variable, (), known), Table(leaf, table.parents, table.values)]
        variables.append(Variable(leaf, states))
        leaves[leaf] = known
    return Network(variables, tables), leaves
