"""What the unit of each row of the table can become through repairs, and what it then shows.

A future is a row with some of its faults cleared and perhaps a fault that a repair brought about;
all noise stays as it is. The futures of a row form a small lattice: every subset of its faults that
a repair at hand can clear. Harm adds a layer of such lattices, made when it is first asked for.
Futures from which repairs lead the same way are of one class: the rows that work already, those
where one and the same fault must go, those where two must, and so on. All that repairs and proofs
bring about depends on the class alone.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from brinebayes.knowledge import cache
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.chance import odd_factors
from brinebayes.network.local import observation_table
from brinebayes.network.worlds import Bools, States, Worlds, evaluate, works
from brinebayes.record import record

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

#: Faults of one row that are followed each by itself, unless told otherwise.
TOGETHER = 5


@record(eq=False)
class Mending:
    """One repair as the futures see it: places of faults with their chances.

    `stuck`: (rows,), where an earlier try with the same luck has failed; None: nowhere.
    """

    clears: tuple[tuple[int, float], ...]
    harms: tuple[tuple[int, float], ...]
    stuck: Bools | None = None


@record(eq=False)
class Passage:
    """From some futures to others. `futures`: (k,) those that are reached, in order.

    `start`: (moves,) places among those it starts from, `end`: (moves,) places in `futures`,
    `chances`: (moves,).
    """

    futures: Indices
    start: Indices
    end: Indices
    chances: Floats

    def carry(self, weights: Floats) -> Floats:
        """(k,): weights of what is reached."""
        moved = weights[self.start] * self.chances
        carried = np.bincount(self.end, weights=moved, minlength=len(self.futures))
        return carried.astype(np.float64)


class Futures:
    """The futures of weighted rows under some repairs; grows as harm is asked for.

    `repairs`: all that were made or may be; the first `usable` of them may still be. `together`: so
    many faults of one row may be cleared each without the others; the rest of a row stays.

    Futures are numbered; those of the rows as they are come first, in the order of the rows.
    `classes`: (futures,) and `works`: (futures,) hold all that exist.
    """

    def __init__(
        self,
        model: Model,
        worlds: Worlds,
        repairs: Sequence[Mending],
        usable: int,
        together: int = TOGETHER,
    ) -> None:
        self.model, self.worlds, self.repairs, self.usable = model, worlds, repairs, usable
        self._places = {name: j for j, name in enumerate(model.faults)}
        clearable = sorted({fault for one in repairs for fault, _ in one.clears})
        self._clearable = frozenset(clearable)
        self._unlucky = [place for place, one in enumerate(repairs) if one.stuck is not None]
        self.rows = len(worlds.weights)
        self._bit = np.full((self.rows, len(model.faults)), -1, dtype=np.int8)
        held = worlds.faults[:, clearable]
        count = np.minimum(held.cumsum(axis=1), together + 1)
        here = held & (count <= together)
        self._bit[:, clearable] = np.where(here, count - 1, -1)
        self._depth = here.sum(axis=1)
        sizes = (1 << self._depth) - 1
        self._offset = self.rows + np.cumsum(sizes) - sizes
        #: Per future of one layer: its row, and which of the row's faults are cleared.
        more = np.repeat(np.arange(self.rows), sizes)
        self.row = np.concatenate([np.arange(self.rows), more])
        cleared = np.arange(len(more)) - (self._offset[more] - self.rows) + 1
        self._cleared = np.concatenate([np.zeros(self.rows, dtype=np.intp), cleared])
        self.size = len(self.row)
        self._layers: list[tuple[int, ...]] = [()]
        bits = self._bit[more]
        gone = (cleared.astype(np.int8)[:, None] >> np.maximum(bits, 0)) & (bits >= 0) == 1
        self._faults = np.concatenate([worlds.faults, worlds.faults[more] & ~gone])
        self._site = {name: self._spread(values) for name, values in worlds.site.items()}
        later = slice(self.rows, None)
        mechanisms = evaluate(
            model,
            {name: values[later] for name, values in self._site.items()},
            self._faults[later],
            {name: self._whole(values)[more] for name, values in worlds.noise.items()},
        )
        self._mechanisms = {
            name: np.concatenate(
                [
                    self._whole(values),
                    np.broadcast_to(mechanisms[name], self.size - self.rows),
                ]
            )
            for name, values in worlds.mechanisms.items()
        }
        self.works = np.broadcast_to(works(model, self._mechanisms), self.size)
        self._all_faults = self._faults
        #: Class by key, and per class: a future of it, and the faults whose absence matters.
        self._known: dict[tuple[object, ...], int] = {}
        self._sample: list[int] = []
        self.relevant: list[tuple[int, ...]] = []
        self._unlucky_of: list[tuple[int, ...]] = []
        self.never = self._class((), b"\0", -1)
        self.sound = self._class((), b"\1", -1)
        self.classes = self._classified()

    def _spread(self, values: States) -> States:
        spread: States = self._whole(values)[self.row]
        return spread

    def _whole(self, values: States) -> States:
        """(rows,): the same, spelled out where all rows have one value."""
        return values if values.shape == (self.rows,) else np.broadcast_to(values, (self.rows,))

    @property
    def class_count(self) -> int:
        """How many classes there are so far."""
        return len(self._sample)

    # --- from one future to the next ------------------------------------------------------------

    def cleared(self, futures: Indices, fault: int | Indices) -> tuple[Bools, Indices]:
        """(n,): where a fault, or of each future another, can be cleared, and for these the
        futures without it."""
        layer, inside = np.divmod(futures, self.size)
        here = self._native(inside, fault)
        step = 1 << np.maximum(self._bit[self.row[inside], fault], 0).astype(np.intp)
        first = self._offset[self.row[inside]] - 1
        after = layer * self.size + np.where(inside < self.rows, first, inside) + step
        for place, harmed in enumerate(self._layers):
            for one in harmed:
                mine = (layer == place) & ~here & (fault == one)
                rest = tuple(name for name in harmed if name != one)
                after = np.where(mine, self._layers.index(rest) * self.size + inside, after)
                here = here | mine
        return here, after[here]

    def _native(self, inside: Indices, fault: int | Indices) -> Bools:
        """(n,): where a fault of the row itself is there and can be cleared."""
        bit = self._bit[self.row[inside], fault].astype(np.intp)
        here: Bools = (bit >= 0) & ((self._cleared[inside] >> np.maximum(bit, 0)) & 1 == 0)
        return here

    def harmed(self, futures: Indices, fault: int) -> tuple[Bools, Indices]:
        """(n,): where a fault can be brought about, and for these the futures with it."""
        layer, inside = np.divmod(futures, self.size)
        at = np.array([self._with(place, fault) for place in range(len(self._layers))])
        there = self._all_faults[futures, fault]
        bit = self._bit[self.row[inside], fault].astype(np.intp)
        gone = ~there & (bit >= 0)
        back = self._cleared[inside] - (1 << np.maximum(bit, 0))
        row = self.row[inside]
        inside_after = np.where(gone, np.where(back > 0, self._offset[row] + back - 1, row), inside)
        after = np.where(gone, layer, at[layer] if len(at) else layer) * self.size + inside_after
        here = ~there
        return here, after[here]

    def _with(self, place: int, fault: int) -> int:
        """The layer in which a fault was brought about as well; made if it does not exist."""
        harmed = self._layers[place]
        if fault in harmed:
            return place
        wanted = tuple(sorted((*harmed, fault)))
        if wanted not in self._layers:
            for name in wanted:
                rest = tuple(other for other in wanted if other != name)
                if rest not in self._layers:
                    self._with(
                        self._layers.index(tuple(n for n in rest if n != rest[-1])), rest[-1]
                    )
            self._grow(wanted)
        return self._layers.index(wanted)

    def _grow(self, harmed: tuple[int, ...]) -> None:
        faults = self._faults.copy()
        faults[:, list(harmed)] = True
        noise = {name: self._spread(values) for name, values in self.worlds.noise.items()}
        mechanisms = evaluate(self.model, self._site, faults, noise)
        self._layers.append(harmed)
        for name, values in mechanisms.items():
            spread = np.broadcast_to(values, self.size)
            self._mechanisms[name] = np.concatenate([self._mechanisms[name], spread])
        good = np.broadcast_to(works(self.model, mechanisms), self.size)
        self.works = np.concatenate([self.works, good])
        self._all_faults = np.concatenate([self._all_faults, faults])
        self.classes = np.concatenate([self.classes, self._harmed_classes(harmed)])

    def repaired(self, repair: int, futures: Indices, again: bool = True) -> Passage:
        """Where a repair leads from each of some futures. `again`: whether bad luck counts."""
        one = self.repairs[repair]
        start, at, chances = np.arange(len(futures)), futures, np.ones(len(futures))
        for fault, chance in one.clears:
            here, after = self.cleared(at, fault)
            if here.any():
                success = np.full(len(after), chance)
                if one.stuck is not None and again:
                    inside = at[here] % self.size
                    success[one.stuck[self.row[inside]] & self._native(inside, fault)] = 0.0
                start, at, chances = _split(start, at, chances, here, after, success)
        for fault, chance in one.harms:
            here, after = self.harmed(at, fault)
            harm = np.full(len(after), chance)
            start, at, chances = _split(start, at, chances, here, after, harm)
        order = at.argsort(kind="stable")
        start, at, chances = start[order], at[order], chances[order]
        new = np.ones(len(at), dtype=bool)
        new[1:] = at[1:] != at[:-1]
        return Passage(at[new], start, new.cumsum() - 1, chances)

    # --- what a future shows -------------------------------------------------------------------

    def likelihoods(self, observation: str, futures: Indices) -> Floats:
        """(outcomes, n): P(outcome | future) of an observation or the proof."""
        if observation == graph.PROOF:
            proof = self.model.about.proof
            chances = (proof.passes_if_not.value, proof.passes_if_works.value)
            passes = np.where(self.works[futures], chances[1], chances[0])
            return np.stack([passes, 1.0 - passes])
        parents, table = tables(self.model)[observation]
        past = observation in graph.history(self.model)
        inside = futures % self.size
        place = np.zeros(len(futures), dtype=np.intp)
        for parent, count in zip(parents, table.shape[1:], strict=True):
            place = place * count + self._state(parent, futures, inside, past)
        found: Floats = table.reshape(len(table), -1)[:, place]
        return found

    def _state(self, name: str, futures: Indices, inside: Indices, past: bool) -> States:
        row = self.row[inside]
        found: States
        if name in self._site:
            found = self._site[name][inside]
        elif name in self._places:
            whose = (self.worlds.first_faults, row) if past else (self._all_faults, futures)
            found = whose[0][whose[1], self._places[name]].astype(np.int8)
        elif past:
            found = np.broadcast_to(self.worlds.first_mechanisms[name], self.rows)[row]
        else:
            found = self._mechanisms[name][futures]
        return found

    # --- classes -------------------------------------------------------------------------------

    def moves(self) -> tuple[Indices, Indices, Indices, Floats]:
        """(moves,) each, by repair and then by class: a usable repair, a class before it, one that
        it becomes after it, and the chance of that; harm left out."""
        usable = self.repairs[: self.usable]
        number = np.repeat(np.arange(self.class_count), [len(one) for one in self.relevant])
        fault = np.array([f for one in self.relevant for f in one], dtype=np.intp)
        _, after = self.cleared(np.array(self._sample, dtype=np.intp)[number], fault)
        # A place that does not exist stands for a fault that no class has.
        none = len(self._places)
        steps = np.full((self.class_count, none + 1), -1, dtype=np.intp)
        steps[number, fault] = self.classes[after]
        most = max((len(one.clears) for one in usable), default=0)
        clears = np.full((len(usable), most), none, dtype=np.intp)
        sure = np.zeros(clears.shape)
        clearing = np.zeros((none, len(usable)), dtype=bool)
        for place, one in enumerate(usable):
            for k, (cleared, chance) in enumerate(one.clears):
                clears[place, k], sure[place, k] = cleared, chance
                clearing[cleared, place] = True
        touched = np.zeros((len(usable), self.class_count), dtype=bool)
        which, place_of = np.nonzero(clearing[fault])
        touched[place_of, number[which]] = True
        for place in self._unlucky:
            if place < self.usable:
                touched[place] &= [place not in places for places in self._unlucky_of]
        repair, before = np.nonzero(touched)
        pair, at, chances = np.arange(len(repair)), before, np.ones(len(repair))
        for k in range(most):
            after = steps[at, clears[repair[pair], k]]
            here = np.flatnonzero(after >= 0)
            moved = chances[here] * sure[repair[pair[here]], k]
            chances[here] -= moved
            pair, at = np.concatenate([pair, pair[here]]), np.concatenate([at, after[here]])
            chances = np.concatenate([chances, moved])
        gone = at != before[pair]
        ways, where = np.unique(pair[gone] * self.class_count + at[gone], return_inverse=True)
        pair, after = np.divmod(ways, self.class_count)
        chances = np.bincount(where, weights=chances[gone], minlength=len(ways)).astype(np.float64)
        return repair[pair], before[pair], after, chances

    def _class(
        self, relevant: tuple[int, ...], pattern: bytes, sample: int, harmed: bool = False
    ) -> int:
        unlucky = tuple(
            place
            for place in self._unlucky
            if not harmed
            and any(fault in relevant for fault, _ in self.repairs[place].clears)
            and self._failed_before(place, sample)
        )
        key = (relevant, pattern, unlucky)
        found = self._known.get(key)
        if found is None:
            found = self._known[key] = len(self._sample)
            self._sample.append(sample)
            self.relevant.append(relevant)
            self._unlucky_of.append(unlucky)
        return found

    def _failed_before(self, repair: int, future: int) -> bool:
        stuck = self.repairs[repair].stuck
        return stuck is not None and bool(stuck[self.row[future % self.size]])

    def _classified(self) -> Indices:
        """(futures without harm,): the class of each."""
        classes = np.full(self.size, self.never, dtype=np.intp)
        for depth in np.flatnonzero(np.bincount(self._depth, minlength=1)).tolist():
            rows = np.flatnonzero(self._depth == depth)
            masks = np.arange(1 << depth)
            futures = np.where(masks, self._offset[rows][:, None] + masks - 1, rows[:, None])
            works_at = self.works[futures]
            names = np.zeros((len(rows), depth), dtype=np.intp)
            at, fault = np.nonzero(self._bit[rows] >= 0)
            names[at, self._bit[rows[at], fault]] = fault
            for mask in masks.tolist():
                over = [other for other in masks.tolist() if other & mask == mask]
                left = [bit for bit in range(depth) if not mask >> bit & 1]
                here = futures[:, mask]
                classes[here] = self._keyed(works_at[:, over], names[:, left], here)
        return classes

    def _harmed_classes(self, harmed: tuple[int, ...]) -> Indices:
        """(futures of a layer,): sound, or a class of one fault that a repair brought about.

        Where more than that one fault would have to go the unit counts as past mending: harm is
        rare, and on a unit with other faults rarer still.
        """
        place = self._layers.index(harmed)
        here = slice(place * self.size, (place + 1) * self.size)
        classes = np.where(self.works[here], self.sound, self.never)
        for fault in harmed:
            rest = self._layers.index(tuple(name for name in harmed if name != fault))
            cured = self.works[rest * self.size : (rest + 1) * self.size] & ~self.works[here]
            if fault in self._clearable and cured.any():
                sample = place * self.size + int(cured.argmax())
                classes[cured] = self._class((fault,), b"\0\1", sample, harmed=True)
        return classes.astype(np.intp)

    def _keyed(self, patterns: Bools, names: Indices, futures: Indices) -> Indices:
        """(n,): classes from whether each subset of the remaining faults must go.

        `patterns`: (n, 2^k), whether the unit works with the faults of each subset cleared.
        """
        count, width = patterns.shape
        depth = names.shape[1]
        found = np.where(patterns[:, 0], self.sound, self.never).astype(np.intp)
        matters = np.zeros(count, dtype=np.intp)
        for bit in range(depth):
            halves = patterns.reshape(count, width >> (bit + 1), 2, 1 << bit)
            matters |= (halves[:, :, 0] != halves[:, :, 1]).any(axis=(1, 2)).astype(np.intp) << bit
        for which in np.flatnonzero(np.bincount(matters)).tolist():
            if which:
                at = np.flatnonzero(matters == which)
                bits = [bit for bit in range(depth) if which >> bit & 1]
                found[at] = self._alike(patterns[at], names[at][:, bits], bits, futures[at])
        return found

    def _alike(self, patterns: Bools, names: Indices, bits: list[int], futures: Indices) -> Indices:
        """(n,): classes where just the faults at `bits` matter; `names`: (n, bits), which."""
        subsets = range(1 << len(bits))
        picks = [sum(1 << bit for j, bit in enumerate(bits) if m >> j & 1) for m in subsets]
        kept = patterns[:, picks]
        row = self.row[futures % self.size]
        bad_luck = [one.stuck[row] for one in self.repairs if one.stuck is not None]
        whole = np.column_stack([names, kept, *bad_luck])
        _, first, where = np.unique(
            whole @ odd_factors(whole.shape[1]), return_index=True, return_inverse=True
        )
        numbers = [
            self._class(tuple(names[i].tolist()), kept[i].tobytes(), int(futures[i]))
            for i in first.tolist()
        ]
        result: Indices = np.array(numbers, dtype=np.intp)[where]
        return result


def _split(
    start: Indices, at: Indices, chances: Floats, here: Bools, after: Indices, chance: Floats
) -> tuple[Indices, Indices, Floats]:
    """Part of what is `here` goes on to other futures."""
    moved = chances[here] * chance
    left = chances.copy()
    left[here] -= moved
    stay, go = left > 0.0, moved > 0.0
    return (
        np.concatenate([start[stay], start[here][go]]),
        np.concatenate([at[stay], after[go]]),
        np.concatenate([left[stay], moved[go]]),
    )


#: By model hash: observation -> its parents and P(outcome | parents), outcomes first.
_tables: dict[str, dict[str, tuple[tuple[str, ...], Floats]]] = {}
MOST_TABLES = 8


def tables(model: Model) -> dict[str, tuple[tuple[str, ...], Floats]]:
    """The tables of all observations, (outcomes, *parent states); kept by the model's hash."""
    found = _tables.get(model.hash)
    if found is None:
        while len(_tables) >= MOST_TABLES:
            del _tables[next(iter(_tables))]
        found = _tables[model.hash] = cache.remember("shows", model.hash, lambda: _made(model))
    return found


def _made(model: Model) -> dict[str, tuple[tuple[str, ...], Floats]]:
    made = {}
    for name in graph.observations(model):
        parents, _, table = observation_table(model, name)
        made[name] = (parents, np.ascontiguousarray(np.moveaxis(table, -1, 0)))
    return made
