"""Generated networks to measure on: faults, mechanisms and checks in the shape of a large model.

Invented from a seed; the numbers mean nothing. What is meant to be right is the shape: how many
variables of each kind, how they hang together, how wide the junction tree becomes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinebayes.network.tables import Network, Table, Variable

FAULT = ("absent", "present")
MECHANISM = ("good", "bad")


@dataclass(frozen=True)
class Sketch:
    """A network with the names of what is asked (faults) and of what can be seen (checks)."""

    network: Network
    faults: tuple[str, ...]
    mechanisms: tuple[str, ...]
    checks: tuple[str, ...]


def sketch(
    seed: int,
    *,
    faults: int = 58,
    mechanisms: int = 26,
    checks: int = 42,
    reach: int = 6,
) -> Sketch:
    """Faults act on mechanisms through noisy-OR chains; checks see one to three mechanisms.

    Each link has a noise root of its own and so has each leak, and a chain of intermediate
    variables keeps every table small: c_k = c_(k-1) or (cause_k and noise_k). Mechanisms act on
    later mechanisms at most `reach` places away, which sets the width of the tree.
    """
    rng = np.random.default_rng(seed)
    fault_names = [f"fault{i:02d}" for i in range(faults)]
    mechanism_names = [f"mech{i:02d}" for i in range(mechanisms)]
    variables: list[Variable] = []
    tables: list[Table] = []

    def root(name: str, states: tuple[str, ...], p: float) -> None:
        variables.append(Variable(name, states))
        tables.append(Table(name, (), [1 - p, p]))

    for name in fault_names:
        root(name, FAULT, float(np.exp(rng.uniform(np.log(0.002), np.log(0.08)))))
    causes: list[list[str]] = [[] for _ in mechanism_names]
    for i, name in enumerate(fault_names):
        home = i % mechanisms
        causes[home].append(name)
        for _ in range(int(rng.choice([0, 1, 2], p=[0.5, 0.35, 0.15]))):
            other = int(np.clip(home + rng.integers(-3, 4), 0, mechanisms - 1))
            if name not in causes[other]:
                causes[other].append(name)
    for i in range(1, mechanisms):
        for j in sorted(set(rng.integers(max(0, i - reach), i, size=rng.integers(1, 3)).tolist())):
            causes[i].append(mechanism_names[j])

    for name, acting in zip(mechanism_names, causes, strict=True):
        root(f"{name}.leak", MECHANISM, float(rng.uniform(0.001, 0.02)))
        before = f"{name}.leak"
        for k, cause in enumerate(acting):
            last = k == len(acting) - 1
            link = name if last else f"{name}.{k}"
            root(f"{name}.noise{k}", ("idle", "acts"), float(rng.uniform(0.5, 0.98)))
            values = np.zeros((2, 2, 2, 2))
            for a, c, n in np.ndindex(2, 2, 2):
                values[a, c, n, int(a or (c and n))] = 1.0
            variables.append(Variable(link, MECHANISM))
            tables.append(Table(link, (before, cause, f"{name}.noise{k}"), values))
            before = link

    check_names = [f"check{i:02d}" for i in range(checks)]
    for i, name in enumerate(check_names):
        near = int(i * mechanisms / checks)
        count = int(rng.choice([1, 2, 3], p=[0.5, 0.35, 0.15]))
        places = {near}
        while len(places) < count:
            places.add(int(np.clip(near + rng.integers(-4, 5), 0, mechanisms - 1)))
        parents = tuple(mechanism_names[p] for p in sorted(places))
        outcomes = int(rng.choice([2, 3, 4], p=[0.45, 0.4, 0.15]))
        rows = rng.dirichlet(np.full(outcomes, 0.25), size=2 ** len(parents))
        misread = 0.03
        rows = (1 - misread) * rows + misread / outcomes
        variables.append(Variable(name, tuple(f"o{j}" for j in range(outcomes))))
        tables.append(Table(name, parents, rows.reshape([2] * len(parents) + [outcomes])))
    return Sketch(
        Network(variables, tables), tuple(fault_names), tuple(mechanism_names), tuple(check_names)
    )


def evidence_sets(
    network: Network, leaves: tuple[str, ...], count: int, most: int, seed: int
) -> list[dict[str, int]]:
    """`count` evidence sets of 0 to `most` observations each, drawn from the network itself."""
    rng = np.random.default_rng(seed)
    sets = []
    for _ in range(count):
        world = forward(network, rng)
        size = int(rng.integers(0, most + 1))
        picked = rng.choice(len(leaves), size=min(size, len(leaves)), replace=False)
        sets.append({leaves[i]: world[leaves[i]] for i in sorted(picked.tolist())})
    return sets


def forward(network: Network, rng: np.random.Generator) -> dict[str, int]:
    """One joint state drawn from the network, parents before children."""
    world: dict[str, int] = {}
    for name in network.topological:
        row: NDArray[np.float64] = network.table_of[name].values[
            tuple(world[parent] for parent in network.parents(name))
        ]
        world[name] = int(rng.choice(row.size, p=row / row.sum()))
    return world
