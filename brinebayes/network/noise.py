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
class NoiseTables:
    """Prepared for one tree; the steps run from few combinations of noise to many.

    `names`: all noise; `left`: (k,) places of what no step speaks of, `prior`: (most states - 1,
    k), its chance to be at most in each state but the last.

    An entry of a step is what a draw may say of it: the path before, its parents, the path after.
    `columns`, `strides`: (most, steps), columns of the draws and what each counts in the entry; a
    column that does not exist counts nothing. `first`: (steps,) where the entries of a step begin.
    `fits`: (entries,) the chance of all combinations that lead there; `below[k]`: the first step
    with more than k + 1 combinations, and from its entries on the chance of those up to k.
    `sources[i]`: (k,) the steps with more than i sources, (k,) the place of each one's i-th among
    all noise, and (k, most combinations) its state in each combination.
    """

    names: tuple[str, ...]
    left: Indices
    prior: Floats
    columns: Indices
    strides: Indices
    first: Indices
    fits: Floats
    below: tuple[tuple[int, Floats], ...]
    sources: tuple[tuple[Indices, Indices, States], ...]

    def complete(self, draws: States, chance: Chance) -> States:
        """(noise, n): the state that every source of noise would bring about in each draw."""
        count = len(draws)
        noise = np.zeros((len(self.names), count), dtype=np.int8)
        if self.left.size:
            uniform = chance.random(noise.shape)[self.left]
            for threshold in self.prior:
                noise[self.left] += uniform >= threshold[:, None]
        else:
            chance.skip(noise.size)
        known = np.zeros((draws.shape[1] + 1, count), dtype=np.intp)
        known[:-1] = draws.T
        entry = np.repeat(self.first[:, None], count, axis=1)
        for columns, strides in zip(self.columns, self.strides, strict=True):
            entry += known[columns] * strides[:, None]
        aim = chance.random(entry.shape)
        aim *= self.fits.take(entry)
        picked = np.zeros(entry.shape, dtype=np.intp)
        for step, below in self.below:
            picked[step:] += aim[step:] >= below.take(entry[step:] - self.first[step])
        for steps, places, states in self.sources:
            noise[places] = states[np.arange(len(steps))[:, None], picked[steps]]
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
    ordered = sorted(
        (step for step in steps if step.sources),
        key=lambda step: (len(step.chances), len(step.sources)),
    )
    spoken = {place[noise_name(step.mechanism, j)] for step in ordered for j in step.sources}
    left = [i for i in range(len(names)) if i not in spoken]
    widest = max((len(m.states) for m in model.mechanisms.values()), default=1)
    prior = np.ones((widest - 1, len(left)))
    for k, i in enumerate(left):
        owner, j = sources[i]
        about = model.mechanisms[owner]
        chances = spread(about.states, about.leak if j is None else about.causes[j].effect)
        prior[: len(chances) - 1, k] = np.cumsum(chances)[:-1]
    column = {name: i for i, name in enumerate(columns)}
    most = max((len(step.parents) for step in ordered), default=0) + 2
    at = np.full((most, len(ordered)), len(column), dtype=np.intp)
    strides = np.zeros(at.shape, dtype=np.intp)
    running: list[Floats] = []
    for i, step in enumerate(ordered):
        after = len(paths[step.variable])
        widths = [*(len(paths[p]) for p in step.parents), after]
        read = [step.previous, *step.parents, step.variable]
        for k, variable in enumerate(read):
            if variable is not None:
                at[k, i], strides[k, i] = column[variable], prod(widths[k:])
        leads_to = step.leads_to.reshape(-1, 1, len(step.chances))
        fits = leads_to == np.arange(after)[:, None]
        running.append(np.cumsum(fits * step.chances, axis=-1).reshape(-1, len(step.chances)))
    combinations = [len(step.chances) for step in ordered]
    below = []
    for k in range(max(combinations, default=1) - 1):
        start = sum(count <= k + 1 for count in combinations)
        below.append((start, np.concatenate([one[:, k] for one in running[start:]])))
    return NoiseTables(
        names,
        np.array(left, dtype=np.intp),
        prior,
        at,
        strides,
        np.cumsum([0, *(len(one) for one in running)])[:-1].astype(np.intp),
        np.concatenate([np.zeros(0), *(one[:, -1] for one in running)]),
        tuple(below),
        _sources(ordered, place),
    )


def _sources(
    steps: Sequence[Step], place: Mapping[str, int]
) -> tuple[tuple[Indices, Indices, States], ...]:
    """As in `NoiseTables`."""
    most = max((len(step.chances) for step in steps), default=0)
    found = []
    for i in range(max((len(step.sources) for step in steps), default=0)):
        mine = [k for k, step in enumerate(steps) if len(step.sources) > i]
        states = np.zeros((len(mine), most), dtype=np.int8)
        for row, k in zip(states, mine, strict=True):
            row[: len(steps[k].chances)] = steps[k].noise[:, i]
        names = [noise_name(steps[k].mechanism, steps[k].sources[i]) for k in mine]
        places = np.array([place[name] for name in names], dtype=np.intp)
        found.append((np.array(mine, dtype=np.intp), places, states))
    return tuple(found)
