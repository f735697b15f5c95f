"""Generators that more than one room's tests use."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from hypothesis import settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from brinebayes.network.tables import Network, Table, Variable

Floats = NDArray[np.float64]

#: Laws that are checked on generated data: no deadline, since a busy machine proves nothing.
LAW = settings(max_examples=60, deadline=None)
#: The same where an outside library is asked each time, which takes its time.
SLOW_LAW = settings(max_examples=15, deadline=None)


# --- discrete networks -------------------------------------------------------------------------


@dataclass(frozen=True)
class Question:
    """A network, what is left out of the tree, and evidence: hard, virtual, or impossible."""

    network: Network
    leaves: tuple[str, ...]
    likelihoods: dict[str, Floats]


def rows(states: int, *, zeros: bool = True) -> st.SearchStrategy[Floats]:
    """One row of a table: small whole numbers over their sum, sometimes with zeros among them."""
    numbers = st.lists(st.integers(0 if zeros else 1, 9), min_size=states, max_size=states)
    return numbers.filter(any).map(lambda row: np.array(row, dtype=float) / sum(row))


@st.composite
def networks(draw: st.DrawFn, *, most: int = 7, zeros: bool = True) -> Network:
    """One to `most` variables of two or three states, each with up to three earlier parents."""
    count = draw(st.integers(1, most))
    states = [draw(st.integers(2, 3)) for _ in range(count)]
    variables = [Variable(f"v{i}", tuple(f"s{k}" for k in range(n))) for i, n in enumerate(states)]
    tables = []
    for i, n in enumerate(states):
        parents = draw(st.lists(st.integers(0, i - 1), max_size=3, unique=True)) if i else []
        shape = [states[p] for p in parents]
        flat = [draw(rows(n, zeros=zeros)) for _ in range(int(np.prod(shape)))]
        tables.append(Table(f"v{i}", [f"v{p}" for p in parents], np.reshape(flat, [*shape, n])))
    return Network(draw(st.permutations(variables)), tables)


@st.composite
def likelihoods(draw: st.DrawFn, states: int) -> Floats:
    """Hard evidence, or virtual evidence on any scale."""
    if draw(st.booleans()):
        return np.eye(states)[draw(st.integers(0, states - 1))]
    return draw(rows(states)) * draw(st.sampled_from([1.0, 0.25, 7.0]))


@st.composite
def questions(draw: st.DrawFn, *, most: int = 7, zeros: bool = True) -> Question:
    """A network with evidence on some of its variables."""
    network = draw(networks(most=most, zeros=zeros))
    childless = [name for name in network.names if not network.children(name)]
    # One variable at least stays in the tree; which of the others do is drawn.
    leaves = tuple(name for name in childless if draw(st.booleans()))[: len(network.names) - 1]
    observed = draw(st.lists(st.sampled_from(network.names), max_size=4, unique=True))
    evidence = {name: draw(likelihoods(len(network.states(name)))) for name in observed}
    return Question(network, leaves, evidence)
