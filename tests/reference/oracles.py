"""The same questions put to two independent libraries: pyAgrum and pgmpy.

Both are filled from our own doubles. Neither notices impossible evidence in a usable way, so
callers make sure first that the evidence is possible.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinebayes.network.tables import Network

Floats = NDArray[np.float64]


def agrum_network(network: Network) -> Any:
    """The network as a pyAgrum `BayesNet`."""
    import pyagrum

    net = pyagrum.BayesNet()
    for variable in network.variables:
        net.add(pyagrum.LabelizedVariable(variable.name, variable.name, list(variable.states)))
    for table in network.tables:
        for parent in table.parents:
            net.addArc(parent, table.variable)
    for table in network.tables:
        # Its tables run through the variable itself fastest, then the first parent, and so on.
        count = len(table.parents)
        flat = table.values.transpose([*reversed(range(count)), count]).ravel()
        net.cpt(table.variable).fillWith(flat.tolist())
    return net


def agrum_posteriors(
    network: Network, likelihoods: Mapping[str, Floats], targets: Sequence[str]
) -> tuple[float, dict[str, Floats]]:
    """P(evidence) and P(target | evidence), by lazy propagation.

    Likelihoods go in scaled to a largest entry of one: it takes one with a single entry that is
    not zero for hard evidence and then forgets its scale.
    """
    import pyagrum

    # The engine only points at the network: it must not be collected before the last answer.
    net = agrum_network(network)
    engine = pyagrum.LazyPropagation(net)
    # With several threads on a busy machine an answer was twice seen to have the wrong size.
    engine.setNumberOfThreads(1)
    engine.setEvidence({name: (row / row.max()).tolist() for name, row in likelihoods.items()})
    engine.makeInference()
    scale = float(np.prod([row.max() for row in likelihoods.values()]))
    return scale * float(engine.evidenceProbability()), {
        # Now and then a posterior has axes of variables with a single state beside its own.
        name: np.asarray(engine.posterior(name).toarray(), dtype=float).ravel()
        for name in targets
    }


def pgmpy_posteriors(
    network: Network, likelihoods: Mapping[str, Floats], targets: Sequence[str]
) -> dict[str, Floats]:
    """P(target | evidence), by variable elimination; hard evidence as evidence, others virtual.

    One variable at a time and a fresh object each time: virtual evidence changes it.
    """
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination

    from brinebayes.network.exchange import to_pgmpy

    model = to_pgmpy(network)
    hard, soft = {}, []
    for name, row in likelihoods.items():
        states = list(network.states(name))
        if np.count_nonzero(row) == 1:
            hard[name] = states[int(np.argmax(row))]
        else:
            scaled = (np.asarray(row, dtype=float) / np.max(row))[:, None]
            soft.append(TabularCPD(name, len(states), scaled, state_names={name: states}))
    found = {}
    for name in targets:
        if name in hard:
            found[name] = np.asarray(likelihoods[name] > 0, dtype=float)
            continue
        result = VariableElimination(model.copy()).query(
            [name], evidence=hard, virtual_evidence=soft or None, show_progress=False
        )
        order = [result.state_names[name].index(state) for state in network.states(name)]
        found[name] = np.asarray(result.values, dtype=float)[order]
    return found
