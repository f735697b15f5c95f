"""Decision lists: of the lines of a table the first that holds decides, and each is needed."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from brinebayes.knowledge.schema import Condition, Model
from brinebayes.knowledge.shape import Finding
from brinebayes.knowledge.well_formed.known import Known
from brinebayes.knowledge.well_formed.spots import CHECKS, COMPLAINTS, MECHANISMS, Spot

MOST_PARENTS = 3


def findings(model: Model, known: Known) -> Iterator[Finding]:
    """Tables with too many parents, with gaps, or with lines that are never reached."""
    for name, mechanism in model.mechanisms.items():
        if mechanism.cases:
            whens = [case.when for case in mechanism.cases]
            yield from _list(known, MECHANISMS / name / "cases", whens)
    for check_id, check in model.checks.items():
        for name, observation in check.observations.items():
            spot = CHECKS / check_id / "observations" / name / "rows"
            yield from _list(known, spot, [row.when for row in observation.rows])
    for name, complaint in model.complaints.items():
        spot = COMPLAINTS / name / "rows"
        yield from _list(known, spot, [row.when for row in complaint.rows])


def _list(known: Known, spot: Spot, whens: Sequence[Condition]) -> Iterator[Finding]:
    if not whens:
        yield spot.says("has no line; at least one is needed", on_key=True)
        return
    parents = tuple(dict.fromkeys(parent for when in whens for parent in when))
    if len(parents) > MOST_PARENTS:
        says = f"names {len(parents)} parents ({', '.join(parents)}); at most {MOST_PARENTS}"
        yield spot.says(says, on_key=True)
        return
    if any(parent not in known.states for parent in parents):
        return  # reported as a name that leads nowhere
    reached = [False] * len(whens)
    gaps: list[str] = []
    for states in itertools.product(*(known.states[parent] for parent in parents)):
        world = dict(zip(parents, states, strict=True))
        line = next((i for i, when in enumerate(whens) if _holds(when, world)), None)
        if line is None:
            gaps.append(", ".join(f"{parent}: {state}" for parent, state in world.items()))
        else:
            reached[line] = True
    if gaps:
        more = f" (and {len(gaps) - 1} more)" if len(gaps) > 1 else ""
        yield spot.says(f"no line covers {gaps[0]}{more}", on_key=True)
    for index, is_reached in enumerate(reached):
        if not is_reached:
            says = "is never reached; the lines above it already decide"
            yield (spot / index / "when").says(says, on_key=True)


def _holds(when: Condition, world: dict[str, str]) -> bool:
    return all(
        world[parent] == states if isinstance(states, str) else world[parent] in states
        for parent, states in when.items()
    )
