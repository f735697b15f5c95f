"""How much work goes into one choice; the same effort and history always give the same answer."""

from __future__ import annotations

from brinebayes.record import record


@record
class Effort:
    """How far a search looks.

    `rows`: of the weighted table of worlds that acts are compared on, before the strata. `beam`:
    acts that are followed up at each belief, by each of the ways to find the promising ones.
    `depth`: acts in a row that are followed at most; 1: one act and then an estimate.
    `expansions`: beliefs that are followed up in all; small ones count for less (`follow.LEAST`).
    """

    rows: int
    beam: int
    depth: int
    expansions: float


#: What `next` and `visit` use unless asked otherwise.
USUAL = Effort(rows=400, beam=3, depth=6, expansions=6)
#: For one who has time.
THOROUGH = Effort(rows=1600, beam=10, depth=12, expansions=400)
