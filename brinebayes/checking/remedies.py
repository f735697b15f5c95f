"""Faults that nothing repairs, repairs that clear nothing, and who may do them."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from brinebayes.checking.remark import Remark, warning
from brinebayes.knowledge.schema import Condition, Model
from brinebayes.knowledge.well_formed.spots import FAULTS, REPAIRS
from brinebayes.setups.states import allowed


def remarks(model: Model) -> Iterator[Remark]:
    """All of it; the unknown cause has no repair by its nature and is left out."""
    for name in model.faults:
        if name != model.about.unknown_cause:
            yield from _unrepaired(model, name)
    for name, repair in model.repairs.items():
        if not any(chance.value > 0.0 for chance in repair.clears.values()):
            says = "clears nothing: every chance is 0"
            yield warning("clears_nothing", REPAIRS / name / "clears", says)
            continue
        for fault, chance in repair.clears.items():
            if chance.value > 0.0 and not _sites(
                model, model.faults[fault].applies, (repair.applies,), True
            ):
                says = f"{fault} cannot exist where this repair applies"
                yield warning("clears_nothing", REPAIRS / name / "clears" / fault, says)
    yield from _licensed(model)


def _unrepaired(model: Model, fault: str) -> Iterator[Remark]:
    clearing = tuple(
        repair.applies
        for repair in model.repairs.values()
        if fault in repair.clears and repair.clears[fault].value > 0.0
    )
    if not clearing:
        says = "no repair clears it; add one, or the licensed work that does"
        yield warning("no_repair", FAULTS / fault, says)
        return
    left = _sites(model, model.faults[fault].applies, clearing, False)
    if left:
        where = ", ".join(f"{name}: {value}" for name, value in left.items())
        says = f"no repair clears it where {where}; widen what a repair applies to"
        yield warning("no_repair", FAULTS / fault, says)


def _sites(
    model: Model, inside: Condition, repairs: tuple[Condition, ...], covered: bool
) -> dict[str, str]:
    """A site within `inside` that some repair covers, or that none does; empty if there is none.

    Only conditions that anything here names are gone through; a site without any is {"site": any}.
    """
    names = tuple(dict.fromkeys(name for each in (inside, *repairs) for name in each))
    for values in product(*(tuple(model.site[name].values) for name in names)):
        site = dict(zip(names, values, strict=True))
        if _within(site, inside) and any(_within(site, each) for each in repairs) == covered:
            return site or {"site": "any"}
    return {}


def _within(site: dict[str, str], condition: Condition) -> bool:
    return all(site[name] in allowed(values) for name, values in condition.items())


def _licensed(model: Model) -> Iterator[Remark]:
    for name, repair in model.repairs.items():
        if (repair.kind == "LP") != (repair.who == "licensed"):
            says = (
                f"kind {repair.kind} and who {repair.who} do not fit; work of a licensed trade has"
                " the kind LP and who licensed"
            )
            yield warning("licensed_work", REPAIRS / name / "who", says)
