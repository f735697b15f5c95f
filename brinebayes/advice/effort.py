"""How much work goes into one choice; the same effort and history always give the same answer."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Effort:
    """`rows`: of the weighted table of worlds that acts are compared on, before the strata."""

    rows: int


#: What `next` and `visit` use unless asked otherwise.
USUAL = Effort(rows=600)
