"""A flow chart names what exists, and every step of it can be come to."""

from __future__ import annotations

from collections.abc import Iterator

from brinebayes.knowledge.schema import FlowChart, Model
from brinebayes.knowledge.shape import Finding
from brinebayes.knowledge.well_formed.known import (
    CHECK,
    COMPLAINT,
    CONDITION,
    OBSERVATION,
    REPAIR,
    Known,
)
from brinebayes.knowledge.well_formed.references import condition, ids, one_of
from brinebayes.knowledge.well_formed.spots import FLOW_CHART, Spot

#: Steps that are neither a check nor a repair.
ENDS = ("finish", "escalate")


def findings(model: Model, known: Known) -> Iterator[Finding]:
    """Names that lead nowhere, sections that nothing leads to, complaints without an order."""
    chart = model.flow_chart
    if chart is None:
        return
    yield from ids(known, FLOW_CHART / "complaints", chart.complaints, (COMPLAINT,))
    for name, sections in chart.complaints.items():
        yield from _sections(chart, FLOW_CHART / "complaints" / name, sections)
    yield from _sections(chart, FLOW_CHART / "otherwise", chart.otherwise)
    if not chart.otherwise:
        says = "names the sections for a call that has no order of its own"
        yield (FLOW_CHART / "otherwise").says(says, on_key=True)
    used = {name for order in (*chart.complaints.values(), chart.otherwise) for name in order}
    for name, steps in chart.sections.items():
        spot = FLOW_CHART / "sections" / name
        if name not in used:
            yield spot.says("is never come to; no complaint names it", on_key=True)
        for place, step in enumerate(steps):
            if step.do not in ENDS:
                refused = known.refuses(step.do, (CHECK, REPAIR))
                if refused:
                    yield (spot / place / "do").says(refused)
            yield from condition(known, spot / place / "when", step.when, (OBSERVATION, CONDITION))


def _sections(chart: FlowChart, spot: Spot, names: tuple[str, ...]) -> Iterator[Finding]:
    for place, name in enumerate(names):
        yield from one_of(spot / place, name, chart.sections, "section")
        if name in names[:place]:
            yield (spot / place).says(f"{name} is named twice")
