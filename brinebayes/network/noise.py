"""The noise of the links in joint states drawn from a tree.

The steps of the chains have the noise folded in. A draw says which path each step started from,
which it ended in and what its parents were; that leaves a small distribution over the combinations
of noise that lead from one to the other. What the tree does not speak of has its prior.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import prod

import numpy as np

from brinebayes.knowledge.schema import Model
from brinebayes.network.chance import Chance
from brinebayes.network.local import Floats, noise_name, spread
from brinebayes.network.paths import Indices, Paths, States, Step
from brinebayes.record import record


@record(eq=False)
class Group:
    """Steps that have equally many combinations of noise, c of them, and equally many sources.

    `ends`, `starts`: (steps,) and `parents`, `strides`: (steps, most parents), columns of the draws
    and what each counts in the place of the step's row; a column that does not exist stands for the
    only path there is. `first`: (steps,) where the rows of a step begin in `leads_to`: (rows, c),
    the path after. `chances`: (steps, c). `noise`: (steps, sources, c), states. `columns`: (steps,
    sources), places among all noise.
    """

    ends: Indices
    starts: Indices
    start_strides: Indices
    parents: Indices
    strides: Indices
    first: Indices
    leads_to: Indices
    chances: Floats
    noise: States
    columns: Indices


@record(eq=False)
class NoiseTables:
    """Prepared for one tree. `names`: all noise. `prior`: (most states - 1, noise), chance to be
    at most in each state but the last."""

    names: tuple[str, ...]
    prior: Floats
    groups: tuple[Group, ...]

    def complete(self, draws: States, chance: Chance) -> States:
        """(noise, n): the state that every source of noise would bring about in each draw."""
        count = len(draws)
        uniform = chance.random((len(self.names), count))
        noise = np.zeros(uniform.shape, dtype=np.int8)
        for threshold in self.prior:
            noise += uniform >= threshold[:, None]
        known = np.zeros((draws.shape[1] + 1, count), dtype=np.intp)
        known[:-1] = draws.T
        for one in self.groups:
            row = one.first[:, None] + known[one.starts] * one.start_strides[:, None]
            row = row + (known[one.parents] * one.strides[..., None]).sum(axis=1)
            fits = one.leads_to[row] == known[one.ends][..., None]
            ends = np.cumsum(fits * one.chances[:, None, :], axis=-1)
            aim = chance.random(row.shape) * ends[..., -1]
            picked = np.zeros(row.shape, dtype=np.intp)
            for k in range(ends.shape[-1] - 1):
                picked += aim >= ends[..., k]
            steps = np.arange(len(one.ends))[:, None]
            for source in range(one.columns.shape[1]):
                noise[one.columns[:, source]] = one.noise[steps, source, picked]
        return noise


def noise_tables(
    model: Model, steps: Sequence[Step], paths: Mapping[str, Paths], columns: Sequence[str]
) -> NoiseTables:
    """Prepare the noise of `model` for draws whose columns are the variables `columns`."""
    sources: list[tuple[str, int | None]] = []
    for name, mechanism in model.mechanisms.items():
        if mechanism.leak is not None:
            sources.append((name, None))
        sources.extend((name, j) for j in range(len(mechanism.causes)))
    names = tuple(noise_name(*source) for source in sources)
    place = {name: i for i, name in enumerate(names)}
    widest = max((len(m.states) for m in model.mechanisms.values()), default=1)
    prior = np.ones((widest - 1, len(names)))
    for i, (owner, j) in enumerate(sources):
        about = model.mechanisms[owner]
        chances = spread(about.states, about.leak if j is None else about.causes[j].effect)
        prior[: len(chances) - 1, i] = np.cumsum(chances)[:-1]
    alike: dict[tuple[int, int], list[Step]] = {}
    for step in steps:
        if step.sources:
            alike.setdefault((len(step.chances), len(step.sources)), []).append(step)
    column = {name: i for i, name in enumerate(columns)}
    groups = tuple(_group(alike[key], paths, column, place) for key in sorted(alike))
    return NoiseTables(names, prior, groups)


def _group(
    steps: Sequence[Step],
    paths: Mapping[str, Paths],
    column: Mapping[str, int],
    place: Mapping[str, int],
) -> Group:
    none = len(column)
    widest = max(len(step.parents) for step in steps)
    parents = np.full((len(steps), widest), none, dtype=np.intp)
    strides = np.zeros((len(steps), widest), dtype=np.intp)
    for i, step in enumerate(steps):
        widths = [len(paths[p]) for p in step.parents]
        parents[i, : len(widths)] = [column[p] for p in step.parents]
        strides[i, : len(widths)] = [prod(widths[at + 1 :]) for at in range(len(widths))]
    rows = [step.leads_to.reshape(-1, step.leads_to.shape[-1]) for step in steps]
    return Group(
        ends=np.array([column[step.variable] for step in steps], dtype=np.intp),
        starts=np.array(
            [none if s.previous is None else column[s.previous] for s in steps], dtype=np.intp
        ),
        start_strides=np.array([step.leads_to.shape[1] for step in steps], dtype=np.intp),
        parents=parents,
        strides=strides,
        first=np.cumsum([0, *(len(r) for r in rows)])[:-1].astype(np.intp),
        leads_to=np.concatenate(rows),
        chances=np.stack([step.chances for step in steps]),
        noise=np.stack([step.noise.T for step in steps]),
        columns=np.array(
            [[place[noise_name(s.mechanism, j)] for j in s.sources] for s in steps], dtype=np.intp
        ),
    )
