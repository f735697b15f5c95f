"""Log probability of the cases along one number, all others held.

A case's probability is linear in each probability of a spread, the rest of the spread kept in
proportion; one count of the complete records therefore gives it at every other value. Intervals of
numbers of which little is known lean on that: their distributions are no hills of a known shape.
"""

from __future__ import annotations

import numpy as np

from brinebayes.network.local import Floats

#: Steps of the log odds at which it is worked out, both ways, and the finest and widest reach.
STEPS = 0.01 * 1.6 ** np.arange(20)
NODES = np.concatenate([-STEPS[::-1], STEPS])
LEAST = 1e-12


def along(p: Floats, counts: Floats, weights: Floats) -> Floats:
    """(states, nodes): gain in log probability with the log odds of each state moved by `NODES`.

    `p`: (states,) of a spread, `counts`: (states, cases) how often each is expected to have come
    about, `weights`: (cases,).
    """
    whole = counts.sum(axis=0)
    told = whole > 0.0
    found = np.zeros((len(p), len(NODES)))
    for k in np.flatnonzero((p > 0.0) & (p < 1.0)):
        part = (counts[k] - p[k] * whole)[told] / (p[k] * (1.0 - p[k]))
        grown = p[k] * np.exp(NODES)
        change = grown / (1.0 - p[k] + grown) - p[k]
        inside = np.maximum(1.0 + part[:, None] * change[None, :], LEAST)
        found[k] = weights[told] @ np.log(inside)
    return found


def quantiles(
    p: float, gain: Floats, prior: tuple[float, float], stretch: float, level: float
) -> tuple[float, float]:
    """Where p lies with probability `level`.

    `gain`: as from `along`. `prior`: weight of the prior on p and on its opposite. `stretch`: how
    much wider the log odds are spread with all other numbers unknown too, as with normal ones.
    """
    grown = p * np.exp(NODES)
    after = grown / (1.0 - p + grown)
    rest = (1.0 - p) / (1.0 - p + grown)
    gain = gain + prior[0] * np.log(after / p) + prior[1] * np.log(rest / (1.0 - p))
    near = len(STEPS)
    # Nothing leans where p is likeliest, but for what the rounds have left.
    lean = (gain[near] - gain[near - 1]) / (2.0 * STEPS[0])
    bend = (gain - lean * NODES) / NODES**2
    at = np.linspace(-1.0, 1.0, 8001)
    at = np.sign(at) * np.abs(at) ** 3 * STEPS[-1]
    logs = np.log(STEPS)
    size = np.log(np.maximum(np.abs(at), STEPS[0]))
    below = np.interp(size, logs, bend[:near][::-1])
    above = np.interp(size, logs, bend[near:])
    density = np.exp(np.where(at < 0.0, below, above) * at**2)
    mass = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(at))])
    tail = 0.5 * (1.0 - level)
    low, high = np.interp([tail, 1.0 - tail], mass / mass[-1], at * max(stretch, 1.0))
    odds = p / (1.0 - p) * np.exp([low, high])
    ends = odds / (1.0 + odds)
    return float(ends[0]), float(ends[1])
