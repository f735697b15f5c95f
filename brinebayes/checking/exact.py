"""The exact beliefs of a model when only the call is known, made once for all questions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import ModelError
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.belief import Belief, Question, believe
from brinebayes.network.build import build
from brinebayes.network.compile import compile_network
from brinebayes.network.junction import JunctionTree
from brinebayes.network.propagate import posteriors
from brinebayes.record import record

Floats = NDArray[np.float64]


@record
class Exact:
    """`called`: beliefs given a call. `alone`: a tree to enter faults in, without call and proof.

    `shown`: observation or complaint -> its outcomes.
    """

    model: Model
    called: Belief
    alone: JunctionTree
    shown: Mapping[str, tuple[str, ...]]

    def with_only(self, chosen: Sequence[str | None]) -> dict[str, Floats]:
        """Observation or complaint -> (chosen, outcomes), P(outcome | only this fault is present).

        None chooses a unit without faults; the site is averaged over. Rows of a fault that is
        never present are 0.
        """
        seen: dict[str, Floats] = {}
        for name in self.model.faults:
            present = np.array([name == each for each in chosen], dtype=np.float64)
            seen[name] = np.stack([1.0 - present, present], axis=1)
        names = tuple(self.shown)
        return dict(zip(names, posteriors(self.alone, seen, names)[1], strict=True))


def exact(model: Model) -> Exact:
    """Compile the model's trees. Raises `ModelError` when the shares or the size are impossible."""
    called = believe(model, Question())
    if not isinstance(called, Belief):
        raise ModelError("mechanisms.yaml: the tables are too large for exact beliefs; simplify")
    names = (*graph.observations(model), *model.complaints)
    network = build(model, {}, keep=[(name, 0) for name in names]).network
    shown = {name: graph.states_of(model, name) for name in names}
    return Exact(model, called, compile_network(network, leaves=names), shown)
