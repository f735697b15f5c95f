"""Beliefs by brute force: the full joint table of a small network, nothing clever."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from brinebayes.network.tables import Network

Floats = NDArray[np.float64]


def full_joint(network: Network, likelihoods: Mapping[str, Floats]) -> Floats:
    """P(all variables, evidence): one axis per variable, in the network's order."""
    names = network.names
    joint = np.ones([len(network.states(name)) for name in names])
    for table in network.tables:
        joint = joint * _placed(table.values, (*table.parents, table.variable), names)
    for name, likelihood in likelihoods.items():
        joint = joint * _placed(np.asarray(likelihood, dtype=float), (name,), names)
    return joint


def evidence(network: Network, likelihoods: Mapping[str, Floats]) -> float:
    """P(evidence), likelihoods on the scale they were given in."""
    return float(full_joint(network, likelihoods).sum())


def posterior(network: Network, likelihoods: Mapping[str, Floats], names: Sequence[str]) -> Floats:
    """P(names | evidence), one axis per name."""
    joint = full_joint(network, likelihoods)
    gone = tuple(i for i, name in enumerate(network.names) if name not in names)
    kept = [name for name in network.names if name in names]
    summed: Floats = joint.sum(axis=gone).transpose([kept.index(name) for name in names])
    return summed / joint.sum()


def _placed(values: Floats, axes: Sequence[str], names: Sequence[str]) -> Floats:
    """`values` shaped to broadcast against a table over all `names`."""
    kept = [name for name in names if name in axes]
    moved = values.transpose([axes.index(name) for name in kept])
    widths = iter(moved.shape)
    return moved.reshape([next(widths) if name in axes else 1 for name in names])
