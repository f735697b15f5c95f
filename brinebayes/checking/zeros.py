"""Probabilities of nought that a single slip would run into.

Zeros in the tables are wanted where physics forbids something; beside a misreading of nought they
make one slip of the hand impossible evidence.
"""

from __future__ import annotations

from collections.abc import Iterator

from brinebayes.checking.remark import Remark, warning
from brinebayes.knowledge.schema import Model, Row
from brinebayes.knowledge.well_formed.spots import ABOUT, CHECKS, COMPLAINTS, FAULTS, Spot
from brinebayes.network.graph import COMPLAINT_STATES


def remarks(model: Model) -> Iterator[Remark]:
    """Faults that are never there, observations and complaints that can never be a slip."""
    for name, fault in model.faults.items():
        if fault.share.value <= 0.0:
            says = "a share of 0: the fault could never be found; give it a small share"
            yield warning("zero_probability", FAULTS / name / "share", says)
    for check_id, check in model.checks.items():
        for name, observation in check.observations.items():
            spot = CHECKS / check_id / "observations" / name
            if observation.misreading.value <= 0.0:
                yield from _rows(spot / "rows", observation.rows, tuple(observation.outcomes))
    for name, complaint in model.complaints.items():
        yield from _rows(COMPLAINTS / name / "rows", complaint.rows, COMPLAINT_STATES)
    proof = model.about.proof
    for field, chance in (
        ("passes_if_works", 1.0 - proof.passes_if_works.value),
        ("passes_if_not", proof.passes_if_not.value),
    ):
        if chance <= 0.0:
            says = "leaves no chance of a wrong proof; one such would be impossible evidence"
            yield warning("zero_probability", ABOUT / "proof" / field, says)


def _rows(spot: Spot, rows: tuple[Row, ...], outcomes: tuple[str, ...]) -> Iterator[Remark]:
    for place, row in enumerate(rows):
        never = [outcome for outcome in outcomes if row.gives.of.get(outcome, 0.0) <= 0.0]
        if never:
            says = (
                f"{' and '.join(never)} would be impossible here, so that one slip could not be"
                " survived; give a misreading or a small probability"
            )
            yield warning("zero_probability", spot / place / "gives", says)
