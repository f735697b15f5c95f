"""The choice: the act with the least expected cost to end the visit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice.acts import Act
from brinebayes.advice.compared import compared
from brinebayes.advice.effort import Effort
from brinebayes.advice.estimate import WORTH
from brinebayes.advice.problem import Problem
from brinebayes.advice.search import Found, Search
from brinebayes.advice.tree import Node, Option
from brinebayes.record import record
from brinebayes.visit.state import PROOF

Floats = NDArray[np.float64]


#: The best plan that can be carried out may cost so much more than is hoped, as a part of it: up
#: to the first it alone counts, from the second on the estimate. Judged.
NEAR, FAR_APART = 0.1, 0.2


@record
class Valued:
    """An act with what it is worth.

    `expected_cost`: cost to end the visit when this act comes first, in the model's currency: an
    estimate that lies between `lower` and `upper`; `upper` itself for a check that is not worth its
    price by what it tells. `bits`: expected information about what to
    repair (checks; 0 for others). `works_after`: chance that the unit works after it.
    """

    act: Act
    expected_cost: float
    lower: float
    upper: float
    bits: float
    works_after: float


@record
class Choice:
    """Every open act, best first.

    `effective_rows` says how fine the table of worlds was, `expansions` how many beliefs were
    followed up.
    """

    ranked: tuple[Valued, ...]
    effective_rows: float
    expansions: int


@record(eq=False)
class Exact:
    """What the exact engine says of the first step. `outcomes`: observation -> chances."""

    works: float
    outcomes: Mapping[str, Floats]


def choose(problem: Problem, acts: Sequence[Act], exact: Exact, effort: Effort) -> Choice:
    """Rank the open acts by expected cost to end the visit, to the cent; ties by id."""
    found = Search(problem, effort).run()
    options = {(o.kind, o.index): o for o in found.root.options}
    valued = []
    for act in acts:
        option = options.get(_key(problem, act))
        if option is not None or act.kind == "escalate":
            valued.append(_valued(problem, found, act, option, exact))
    valued = _careful(valued)
    valued.sort(key=lambda item: (round(float(compared(item.expected_cost)), 2), item.act.id))
    return Choice(tuple(valued), problem.table.effective_rows, found.expansions)


def _careful(valued: list[Valued]) -> list[Valued]:
    """Estimates moved towards the upper bounds where these are nearly as low as what is hoped for.

    An estimate hopes for the best way on, an upper bound is a plan that can be carried out. Where
    much is still to be learnt only the estimate tells acts apart; where the plan costs hardly more
    it is the better judge, since a check that tells nothing never makes it cheaper.
    """
    plan = min(v.upper for v in valued)
    hoped = min(v.expected_cost for v in valued)
    apart = (plan - hoped) / max(plan, 0.01)
    trust = min(max((FAR_APART - apart) / (FAR_APART - NEAR), 0.0), 1.0)
    return [
        replace(v, expected_cost=(1.0 - trust) * v.expected_cost + trust * v.upper) for v in valued
    ]


def _key(problem: Problem, act: Act) -> tuple[str, int]:
    if act.kind == "check":
        return "check", problem.checks.index(act.id)
    if act.id in problem.repairs:
        return "repair", problem.repairs.index(act.id)
    return ("prove" if act.id == PROOF else act.kind), -1 if act.id != PROOF else 0


def _valued(
    problem: Problem, found: Found, act: Act, option: Option | None, exact: Exact
) -> Valued:
    root, works = found.root, exact.works
    if act.kind == "escalate" or option is None:
        return Valued(act, act.cost, act.cost, act.cost, 0.0, works)
    if act.kind == "finish":
        cost = act.cost + (1.0 - works) * problem.bounds.stakes.second_visit
        return Valued(act, cost, cost, cost, 0.0, works)
    factors = _factors(problem, root, act, option, exact)
    guess, lower, upper = (
        act.cost + float(factors @ np.array(of))
        for of in (option.fair(), option.lowers, option.uppers)
    )
    if act.kind == "check" and not _worth_its_price(problem, found, option):
        guess = upper
    if act.kind == "check" or act.kind == "prove":
        return Valued(act, guess, lower, upper, option.bits, works)
    # Classes that harm brought about since then have no part in it.
    after = float(problem.bounds.mends[option.index, : len(root.belief)] @ root.belief)
    return Valued(act, guess, lower, upper, 0.0, after)


def _worth_its_price(problem: Problem, found: Found, option: Option) -> bool:
    """Whether a check tells enough for its price, beside the one that tells most.

    What follows is always hoped to be better than what can be planned now. So a check that tells
    nothing would do better than any repair, by that hope alone, and the repair would be put off.
    One that is not worth its price by what it tells has to show the plan that is.
    """
    if found.rate.check < 0:
        return False
    asked = float(problem.prices.own_checks[option.index])
    return bool(compared(found.rate.price * option.bits) >= compared(WORTH * asked))


def _factors(problem: Problem, root: Node, act: Act, option: Option, exact: Exact) -> Floats:
    """(outcomes,): exact chance of each outcome over its chance in the table of rows."""
    ones = np.ones(len(option.totals))
    name = PROOF
    if act.kind == "check":
        observations = problem.model.checks[act.id].observations
        fresh = [one for one in observations if one not in problem.answered]
        if len(fresh) != 1:
            return ones
        name = fresh[0]
    elif act.kind != "prove":
        return ones
    chances, rows = exact.outcomes[name], np.array(option.totals)
    factors: Floats = np.divide(chances, rows, out=ones, where=rows > 0.0)
    return factors
