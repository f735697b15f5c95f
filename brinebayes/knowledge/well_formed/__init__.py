"""Is a model whose files have the right shape well-formed? Everything between the files."""

from __future__ import annotations

from collections.abc import Iterator

from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.shape import Finding
from brinebayes.knowledge.well_formed import (
    flow_chart,
    ids,
    lines,
    mechanisms,
    numbers,
    readings,
    references,
    rules,
)
from brinebayes.knowledge.well_formed.known import Known

__all__ = ["findings"]


def findings(model: Model) -> Iterator[Finding]:
    """Everything that is not well-formed, in no particular order."""
    known = Known.of(model)
    yield from ids.findings(model)
    yield from numbers.findings(model)
    yield from references.findings(model, known)
    yield from mechanisms.findings(model)
    yield from lines.findings(model, known)
    yield from rules.findings(model, known)
    yield from readings.findings(model)
    yield from flow_chart.findings(model, known)
