"""What can exist or be done at no site, and so stands in the model for nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import prod

from brinebayes.checking.remark import Remark, error, warning
from brinebayes.knowledge.schema import Condition, Model
from brinebayes.knowledge.well_formed.spots import CHECKS, FAULTS, REPAIRS, Spot
from brinebayes.setups.states import allowed


def share_of_sites(model: Model, applies: Condition) -> float:
    """The part of all calls whose site meets the condition, its variables taken as independent."""
    return prod(
        sum(model.site[name].values[value].share.value for value in allowed(values))
        for name, values in applies.items()
    )


def remarks(model: Model) -> Iterator[Remark]:
    """Faults that can exist nowhere (refused), checks and repairs that fit no site."""
    for name, fault in model.faults.items():
        if share_of_sites(model, fault.applies) <= 0.0:
            says = "can exist at no site: every site that it applies to has a share of 0"
            yield error("applies_nowhere", FAULTS / name / "applies", says)
    yield from _acts(model, CHECKS, {name: check.applies for name, check in model.checks.items()})
    yield from _acts(model, REPAIRS, {name: rep.applies for name, rep in model.repairs.items()})


def _acts(model: Model, top: Spot, acts: Mapping[str, Condition]) -> Iterator[Remark]:
    for name, applies in acts.items():
        if share_of_sites(model, applies) <= 0.0:
            says = "can be done at no site: every site that it applies to has a share of 0"
            yield warning("applies_nowhere", top / name / "applies", says)
