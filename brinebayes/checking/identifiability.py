"""Faults that no check tells apart: alone, they show the same in everything that can be seen."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from brinebayes.checking.exact import Exact, Floats
from brinebayes.checking.remark import Remark, warning
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.well_formed.spots import FAULTS
from brinebayes.record import record

#: Columns closer than this in every entry are the same.
SAME = 1e-9


@record
class Columns:
    """`of`: fault -> (all outcomes,), P(outcome | this fault alone); `none`: without any fault.

    Complaints count as seen: what a customer says can tell two faults apart too.
    """

    of: dict[str, Floats]
    none: Floats


def columns(exact: Exact) -> Columns:
    """One calibration with each fault as the only one, and with none."""
    faults = tuple(name for name, f in exact.model.faults.items() if f.share.value > 0.0)
    shown = exact.with_only([*faults, None])
    stacked = np.concatenate([shown[name] for name in exact.shown], axis=1)
    return Columns(dict(zip(faults, stacked[:-1], strict=True)), stacked[-1])


def alike(found: Columns) -> tuple[tuple[str, ...], ...]:
    """Groups of two and more faults whose columns are the same, in file order."""
    groups: list[list[str]] = []
    for name, column in found.of.items():
        for group in groups:
            if np.abs(found.of[group[0]] - column).max(initial=0.0) <= SAME:
                group.append(name)
                break
        else:
            groups.append([name])
    return tuple(tuple(group) for group in groups if len(group) > 1)


def remarks(model: Model, found: Columns) -> Iterator[Remark]:
    """Groups that need different repairs, and faults that leave no trace."""
    hidden = {
        name
        for name, column in found.of.items()
        if np.abs(column - found.none).max(initial=0.0) <= SAME
    } - {model.about.unknown_cause}
    for name in found.of:
        if name in hidden:
            says = "leaves no trace: with it everything that can be seen is as without a fault"
            yield warning("no_trace", FAULTS / name, says)
    for group in alike(found):
        shown = tuple(name for name in group if name not in hidden)
        repairs = {frozenset(_repairs(model, name)) for name in shown}
        if len(shown) > 1 and len(repairs) > 1:
            says = (
                f"no check tells it apart from {' and '.join(shown[1:])}, and they need different"
                " repairs; add a check that shows the difference, or make them one fault"
            )
            yield warning("not_told_apart", FAULTS / shown[0], says)


def _repairs(model: Model, fault: str) -> Iterator[str]:
    for name, repair in model.repairs.items():
        if fault in repair.clears and repair.clears[fault].value > 0.0:
            yield name
