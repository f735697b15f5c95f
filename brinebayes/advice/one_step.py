"""What one act brings about in every row: for policies that look no further than the next act."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice.estimate import missing
from brinebayes.knowledge.schema import Model
from brinebayes.network.worlds import Worlds
from brinebayes.visit.state import VisitState

Floats = NDArray[np.float64]


def mends(model: Model, state: VisitState, repairs: Sequence[str], worlds: Worlds) -> Floats:
    """(repairs, rows): chance that each repair makes the unit of each row work.

    All faults that a repair clears in a row must go together; when one stays the row is as it was.
    A second try that shares the luck of a first one that failed brings nothing.
    """
    now = worlds.works.astype(np.float64)
    cleared = [tuple(model.repairs[name].clears) for name in repairs]
    harms = [(k, fault) for k, name in enumerate(repairs) for fault in model.repairs[name].harms]
    changed = worlds.works_after(
        [*cleared, *(cleared[k] for k, _ in harms)],
        [*(() for _ in repairs), *((fault,) for _, fault in harms)],
    ).astype(np.float64)
    result = np.empty((len(repairs), len(now)))
    for k, name in enumerate(repairs):
        repair = model.repairs[name]
        success = np.full(len(now), 0.0 if repair.same_luck and name in state.done else 1.0)
        for fault, chance in repair.clears.items():
            success = np.where(worlds.has(fault), success * chance.value, success)
        result[k] = success * changed[k] + (1.0 - success) * now
    for (k, fault), spoiled in zip(harms, changed[len(repairs) :], strict=True):
        harm = model.repairs[repairs[k]].harms[fault].value
        result[k] *= 1.0 - harm * (1.0 - spoiled)
    return result


def outcome_rows(
    model: Model, check_id: str, worlds: Worlds, answered: frozenset[str] = frozenset()
) -> Floats:
    """(outcomes, rows): chance of each joint outcome of a check's new observations in each row."""
    joint = np.ones((1, len(worlds.weights)))
    for name in model.checks[check_id].observations:
        if name in answered:
            continue
        each = worlds.observation_likelihoods(name).T
        joint = (joint[:, None, :] * each[None, :, :]).reshape(-1, joint.shape[1])
    return joint


def bits(joint: Floats, classes: NDArray[np.intp]) -> float:
    """Mutual information in bits between an outcome and the class of a row.

    `joint`: (outcomes, rows), P(outcome, row). Source: Shannon 1948.
    """
    table = np.zeros((len(joint), int(classes.max()) + 1))
    for row, target in zip(joint, table, strict=True):
        target += np.bincount(classes, weights=row, minlength=len(target))
    before = table.sum(axis=0, keepdims=True)
    return max(0.0, float(missing(before)[0] - missing(table).sum()))
