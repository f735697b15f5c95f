"""What can be done while a check waits, without disturbing how the unit stands."""

from __future__ import annotations

from brinebayes.advice.choose import Valued
from brinebayes.knowledge.schema import Model
from brinebayes.setups.routes import Routes
from brinebayes.setups.states import State, holds

#: A check that would tell less than this is not worth filling a wait with; in bits. Judged.
LEAST_BITS = 0.01


def can_wait(model: Model, check: str) -> bool:
    """Whether other checks may run while this one waits: it has a wait, and moves nothing after."""
    item = model.checks[check]
    return item.waiting_minutes.value > 0.0 and not item.leaves


def meanwhile(
    model: Model, routes: Routes, ranked: tuple[Valued, ...], running: str, setup: State
) -> tuple[Valued, ...]:
    """Checks that fit into the wait of `running` in this setup, in the order of their rank.

    They need no move, leave nothing changed, do not disturb the one that runs, wait for nothing
    themselves, spend no brine, and take no longer than the wait.
    """
    time = model.checks[running].waiting_minutes.value
    found = []
    for item in ranked:
        if item.act.kind != "check" or item.act.id == running or item.bits < LEAST_BITS:
            continue
        check = model.checks[item.act.id]
        quiet = not check.leaves and running not in check.disturbs
        short = not check.waiting_minutes.value and not check.spends_brine
        fits = check.minutes.value <= time and holds(model.setups, setup, check.needs)
        if quiet and short and fits and not routes.way(setup, check.needs).moves:
            found.append(item)
    return tuple(found)
