"""Expected counts of cases under a model: the E step, through the exact network.

P(x, evidence, call) is a sum of calibrated trees (see `network.trees`): the whole network minus the
one without faults, once for each way in which the proofs may have come about (see `standing`).
Counts are read off the tables of each and added up with its share.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.evidence import LEAST
from brinebayes.network.local import Floats
from brinebayes.tuning.chunk import Chunk, Column, Indices, clearable, some, with_luck_anew
from brinebayes.tuning.engine import Engine
from brinebayes.tuning.numbers import Entry, Path
from brinebayes.tuning.smaller import Case
from brinebayes.tuning.standing import settled, standing, stays, tries

#: Where less than this is left of a sum over proofs, its parts do not go together.
TORN = 0.01
#: Table entries that are worked on at once.
AT_ONCE = 2_000_000


@dataclass(frozen=True, eq=False)
class Expected:
    """Per case what is expected to have been so, given its evidence and the call.

    `log_p`: (cases,) natural log of P(evidence | call, site), -inf where the model holds it for
    impossible; then nothing is counted. `before`: (faults, cases) before the call is known.
    `faults`: (faults, cases), `none`: (cases,) no fault at all. `counts`: key of an entry ->
    (states, cases); of a probability (yes, no). `rows`: observation -> (rows, cases) which row of
    its table holds, whether it was made or not.
    """

    log_p: Floats
    before: Floats
    called: Floats
    faults: Floats
    none: Floats
    counts: Mapping[Path, Floats] = field(default_factory=dict)
    rows: Mapping[str, Floats] = field(default_factory=dict)


def expect(engine: Engine, chunk: Chunk, counting: bool = True) -> Expected:
    """What each case of a chunk leads to expect; `counting` False: its probability alone."""
    found = _expected(engine, chunk, counting)
    proven = {one.case for one in chunk.columns if one.cleared_by is not None}
    torn = np.array([c for c in np.flatnonzero(np.isneginf(found.log_p)) if c in proven], np.intp)
    if not len(torn):
        return found
    again = _expected(engine, with_luck_anew(some(chunk, torn)), counting)
    log_p, faults, none = found.log_p.copy(), found.faults.copy(), found.none.copy()
    log_p[torn], faults[:, torn], none[torn] = again.log_p, again.faults, again.none

    def put(into: Mapping[Any, Floats], other: Mapping[Any, Floats]) -> dict[Any, Floats]:
        mixed = dict(into)
        for key, values in other.items():
            mixed[key] = mixed[key].copy() if key in mixed else np.zeros((len(values), len(chunk)))
            mixed[key][:, torn] = values
        return mixed

    counts, rows = put(found.counts, again.counts), put(found.rows, again.rows)
    return Expected(log_p, found.before, found.called, faults, none, counts, rows)


def _expected(engine: Engine, chunk: Chunk, counting: bool) -> Expected:
    before = engine.odds.before(chunk.site)
    called = engine.odds.called(before)
    log_p, none, read, cleared = _summed(engine, chunk, before, called, counting)
    if not counting:
        return Expected(log_p, before, called, read, none)
    faults = read[: len(engine.model.faults)]
    rows = {str(key[1]): read[at] for key, at in engine.first.items() if key[0] == "rows"}
    rows |= dict(_of_direct(engine, faults, np.isfinite(log_p)))
    counts = _of_entries(engine, chunk, read, rows, cleared)
    return Expected(log_p, before, called, faults, none, counts, rows)


# --- the evidence ------------------------------------------------------------------------------


def _summed(
    engine: Engine, chunk: Chunk, before: Floats, called: Floats, counting: bool
) -> tuple[Floats, Floats, Floats, dict[Path, Floats]]:
    """(cases,) log P, (cases,) no fault, (read, cases) counts, repairs' (2, cases)."""
    model, columns, n = engine.model, chunk.columns, len(chunk)
    case = np.array([one.case for one in columns], dtype=np.intp)
    firsts = np.searchsorted(case, np.arange(n))  # those of a case lie together
    held = np.array([one.cleared_by is not None for one in columns], dtype=bool)
    factor = np.array([one.factor for one in columns])
    after = np.array([one.cleared is not None for one in columns], dtype=bool)
    factor = np.where(after, factor * engine.plan.sound, factor)
    stand = standing(engine, chunk, columns, before)
    seen = _seen_things(engine, chunk, case)
    as_found = held & ~after
    for name, good in engine.working.items() if as_found.any() else ():
        working = np.where(as_found[:, None], good, 1.0)
        seen[name] = seen[name] * working if name in seen else working
    faults = stand.likelihoods
    evidence = {**dict(zip(model.faults, faults, strict=True)), **seen}
    log_whole, from_whole = _asked(engine, columns, evidence, counting)
    # Without any fault none is idle either.
    faults[..., 0] = stand.absent
    c = engine.odds.without
    healthy = engine.side(Case(()))
    if counting:
        log_well, from_well = healthy.counts(evidence, len(case))
    else:
        log_well = healthy.log_p(evidence, len(case))
    top = np.maximum.reduceat(log_whole, firsts)
    safe = np.where(np.isfinite(top), top, 0.0)[case]
    p_whole = factor * np.exp(log_whole - safe)
    p_well = factor * np.exp(np.minimum(log_well - safe, 0.0))
    total = np.bincount(case, p_whole - (1.0 - c) * p_well, minlength=n)
    scale = np.bincount(case, np.abs(p_whole), minlength=n)
    same_luck = [one.cleared_by is not None and one.same_luck for one in columns]
    tied = np.bincount(case, same_luck, minlength=n) > 0
    fine = np.isfinite(top) & (total > np.where(tied, TORN, LEAST) * scale)
    divisor = np.where(fine, total, 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        log_p = np.where(fine, top + np.log(divisor) - np.log(called), -np.inf)
    share = np.where(fine[case], 1.0, 0.0) / divisor[case]
    none: Floats = np.bincount(case, c * p_well * share, minlength=n).astype(np.float64)
    if not counting:
        return log_p, none, np.zeros((len(model.faults), n)), {}
    acting = from_whole[: len(model.faults)].copy()
    from_whole[: len(model.faults)] = stand.present(acting)
    there = from_whole[: len(model.faults)] * (p_whole * share)
    held_down = acting * stand.cleared * (p_whole * share)
    from_whole *= p_whole * share
    from_whole -= from_well * ((1.0 - c) * p_well * share)
    read = np.maximum(np.add.reduceat(from_whole, firsts, axis=1), 0.0)
    return log_p, none, read, _cleared(engine, chunk, there, held_down)


def _asked(
    engine: Engine, columns: Sequence[Column], evidence: Mapping[str, Floats], counting: bool
) -> tuple[Floats, Floats]:
    """(columns,) log P of each column and (read, columns) what is counted in it, nothing if not
    `counting`; each in the smallest network that will do."""
    alike: dict[Case, list[int]] = {}
    for at, column in enumerate(columns):
        alike.setdefault(settled(engine, column), []).append(at)
    log_p = np.empty(len(columns))
    read = np.empty((engine.read, len(columns) if counting else 0))
    for what, places in alike.items():
        side = engine.side(what)
        width = max(1, AT_ONCE // side.tree.entries)
        for start in range(0, len(places), width):
            here = np.array(places[start : start + width], dtype=np.intp)
            told = {name: values[here] for name, values in evidence.items()}
            if counting:
                log_p[here], read[:, here] = side.counts(told, len(here))
            else:
                log_p[here] = side.log_p(told, len(here))
    return log_p, read


def _seen_things(engine: Engine, chunk: Chunk, case: Indices) -> dict[str, Floats]:
    """Likelihoods of all that says more than how one fault stands, a row for each column."""
    model = engine.model
    found: dict[str, Floats] = {}
    for place, (name, condition) in enumerate(model.site.items()):
        if name in engine.whole.tree.open_roots:
            shares = np.array([value.share.value for value in condition.values.values()])
            known = np.vstack([np.eye(len(shares)), shares])  # the last for what is not known
            found[name] = known[chunk.site[case, place]]
    for name, (rows, likelihoods) in chunk.found.items():
        if name not in model.faults and name not in engine.plan.direct:
            whole = np.ones((len(chunk), likelihoods.shape[1]))
            whole[rows] = likelihoods
            found[name] = found[name] * whole[case] if name in found else whole[case]
    return found


def _cleared(
    engine: Engine,
    chunk: Chunk,
    there: Floats,
    held_down: Floats,
) -> dict[Path, Floats]:
    """Key of a repair's chance -> (2, cases): tries on a fault that was there, cleared and not.

    `there`: (faults, columns) shares of it having been there; `held_down`: of it being cleared by
    the time the unit is taken to work.
    """
    model = engine.model
    place = {fault: i for i, fault in enumerate(model.faults)}
    entries = {(e.path[1], e.path[3]): e.key for e in engine.plan.of("repairs")}
    found = {key: np.zeros((2, len(chunk))) for key in entries.values()}
    alike: dict[tuple[tuple[str, ...], tuple[str, ...]], list[int]] = {}
    for at, column in enumerate(chunk.columns if found else ()):
        alike.setdefault((chunk.done[column.case], column.cleared_by or ()), []).append(at)
    for (done, cleared_by), places in alike.items():
        to = [chunk.columns[at].case for at in places]
        for fault in clearable(model, done):
            cleared = held_down[place[fault], places]
            left = there[place[fault], places] - cleared
            for repair, of_cleared, of_left in _tries(model, done, cleared_by, fault):
                if (repair, fault) in entries:
                    key = entries[repair, fault]
                    for k in range(2):
                        tried = cleared * of_cleared[k] + left * of_left[k]
                        found[key][k] += np.bincount(to, tried, minlength=len(chunk))
    return {key: np.maximum(values, 0.0) for key, values in found.items()}


def _tries(
    model: Model, done: tuple[str, ...], cleared_by: tuple[str, ...], fault: str
) -> Iterable[tuple[str, tuple[float, float], tuple[float, float]]]:
    """Each try on a fault that was there: how often it is one that cleared and one that did not,
    if any of `cleared_by` did clear the fault, and if none of them did.

    A repair of what is cleared already is no try.
    """
    by_any = 1.0 - stays(model, cleared_by, fault)
    within = len(tries(model, cleared_by, fault))
    reach, later = 1.0, 1.0
    for number, repair in enumerate(tries(model, done, fault)):
        p = model.repairs[repair].clears[fault].value
        if number < within:
            part = reach * p / by_any if by_any > 0.0 else 0.0
            rest = (reach * (1.0 - p) - (1.0 - by_any)) / by_any if by_any > 0.0 else 0.0
            yield repair, (part, max(rest, 0.0)), (0.0, 1.0)
            reach *= 1.0 - p
        else:
            yield repair, (0.0, 0.0), (later * p, later * (1.0 - p))
            later *= 1.0 - p


# --- what is expected --------------------------------------------------------------------------


def _of_direct(
    engine: Engine, faults: Floats, fine: NDArray[np.bool_]
) -> Iterable[tuple[str, Floats]]:
    """Rows of what shows one fault and nothing else, from that fault."""
    place = {fault: i for i, fault in enumerate(engine.model.faults)}
    for name, fault in engine.plan.direct.items():
        rows = np.zeros((len(engine.tables[name]), len(fine)))
        absent, present = engine.shows[name]
        there = np.minimum(faults[place[fault]], 1.0)
        rows[present] += there
        rows[absent] += np.where(fine, 1.0 - there, 0.0)
        yield name, rows


def _of_entries(
    engine: Engine,
    chunk: Chunk,
    read: Floats,
    rows: Mapping[str, Floats],
    cleared: Mapping[Path, Floats],
) -> dict[Path, Floats]:
    model, plan = engine.model, engine.plan
    found: dict[Path, Floats] = dict(cleared)
    found.update(_seen(model, chunk, read))
    for entry in plan.of("links"):
        if entry.key in engine.first:
            states = _states(model, entry)
            found[entry.key] = read[engine.first[entry.key]][states]
    misread = {entry.path[3]: entry for entry in plan.of("misreadings")}
    tables = {(e.path[3], e.path[5]): e for e in plan.of("observations")}
    for name in engine.tables:
        if name not in rows or name not in chunk.found:
            continue
        cases, likelihoods = chunk.found[name]
        table = engine.tables[name]
        about = graph.observations(model)[name]
        # (rows, outcomes, cases with this observation): the row that held, the outcome it gave.
        given = table[:, :, None] * likelihoods.T[None, :, :]
        total = given.sum(axis=1, keepdims=True)
        np.divide(given, total, out=given, where=total > 0.0)
        given *= rows[name][:, None, cases]
        by_chance = about.misreading.value / table.shape[1]
        slip = np.divide(by_chance, table, out=np.zeros_like(table), where=table > 0.0)
        if name in misread:
            slipped = (given * slip[:, :, None]).sum(axis=(0, 1))
            whole = given.sum(axis=(0, 1))
            found[misread[name].key] = _at(cases, len(chunk), [slipped, whole - slipped])
        outcomes = tuple(about.outcomes)
        for place in range(len(about.rows)):
            if (name, place) in tables:
                entry = tables[name, place]
                seen = given[place] * (1.0 - slip[place])[:, None]
                chosen = [outcomes.index(state) for state in entry.states]
                found[entry.key] = _at(cases, len(chunk), seen[chosen])
    return found


def _seen(model: Model, chunk: Chunk, read: Floats) -> dict[Path, Floats]:
    """Of faults that were there at their repair, seen and not seen; what is said to be seen may not
    have been there, but it was looked at."""
    place = {fault: i for i, fault in enumerate(model.faults)}
    found: dict[Path, Floats] = {}
    for case, repair, fault, seen in chunk.looked:
        key: Path = ("eyes", repair, fault)
        if key not in found:
            found[key] = np.zeros((2, len(chunk)))
        found[key][0 if seen else 1, case] += 1.0 if seen else read[place[fault], case]
    return found


def _states(model: Model, entry: Entry) -> list[int]:
    names = model.mechanisms[str(entry.path[1])].states
    return [names.index(state) for state in entry.states]


def _at(cases: Indices, count: int, values: Sequence[Floats] | Floats) -> Floats:
    """(states, all cases) from the values at some of them."""
    whole = np.zeros((len(values), count))
    whole[:, cases] = values
    return whole
