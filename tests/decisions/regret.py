"""How much more than the least possible every policy costs on the drawn models."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np

from brinebayes.advice import policies
from brinebayes.advice.effort import USUAL, Effort
from brinebayes.knowledge.schema import CheckedModel
from tests.decisions import families
from tests.decisions.follow import Policy, follow
from tests.decisions.optimum import Optimum, solve
from tests.decisions.problem import Problem, problem

#: Bounds that lie so near each other, as a part of the cost, count as the optimum.
SOLVED = 2e-3
#: Acts looked into before a model is given up as too large; those are counted.
MOST = 2_500
#: What is to be reached: mean, 95th percentile, worst.
TARGET = (0.003, 0.015, 0.04)


def _with(effort: Effort) -> Policy:
    """The search with another effort."""
    return lambda checked, state: policies.search(checked, state, effort)


POLICIES: Mapping[str, Policy] = {
    "search": policies.search,
    "depth 1": _with(replace(USUAL, depth=1)),
    "depth 2": _with(replace(USUAL, depth=2)),
    "depth 3": _with(replace(USUAL, depth=3)),
    "repairs alone": policies.repairs_alone,
    "bits then repair": policies.bits_then_repair,
    "fixed order": policies.flow_chart,
}


@dataclass(frozen=True)
class Case:
    """One drawn model: bounds on its least cost, that with the cause known, and what policies cost.

    `cut`: the largest weight of visits that were ended early while following a policy.
    """

    family: str
    seed: int
    low: float
    high: float
    known: float
    costs: Mapping[str, float]
    cut: float = 0.0

    @property
    def solved(self) -> bool:
        """Whether the bounds meet."""
        return self.high - self.low <= SOLVED * self.low

    def regret(self, policy: str) -> float:
        """Against the lower bound: never too small, by up to `SOLVED` too large."""
        return self.costs[policy] / self.low - 1.0


def solved(family: str, seed: int, kept: Path | None = None) -> tuple[float, float, float]:
    """Bounds on the least cost, and the cost with the cause known; read from `kept` if there."""
    model = families.model(family, seed)
    place = kept / f"{model.hash[:24]}.json" if kept else None
    if place and place.exists():
        low, high, known = json.loads(place.read_text("utf-8"))
        return low, high, known
    optimum = solve(problem(model), exactly=SOLVED / 2, most=MOST)
    found = optimum.root.low, optimum.root.high, optimum.known
    if place:
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(json.dumps(found), "utf-8")
    return found


def measure(family: str, seed: int, chosen: Mapping[str, Policy], kept: Path | None = None) -> Case:
    """Solve one model and follow each policy on it; unsolved models are not followed."""
    low, high, known = solved(family, seed, kept)
    case = Case(family, seed, low, high, known, {})
    if not case.solved:
        return case
    model = families.model(family, seed)
    asked = problem(model)
    followed = {
        name: follow(CheckedModel(model, ()), asked, policy) for name, policy in chosen.items()
    }
    costs = {name: item.cost for name, item in followed.items()}
    return Case(
        family, seed, low, high, known, costs, max((i.cut for i in followed.values()), default=0.0)
    )


@dataclass(frozen=True)
class Line:
    """One line of the table: regrets as parts of the least cost."""

    policy: str
    family: str
    models: int
    mean: float
    p95: float
    worst: float


def lines(cases: Iterable[Case]) -> Iterator[Line]:
    """Per policy: each family, then all."""
    done = [case for case in cases if case.solved]
    for policy in dict.fromkeys(name for case in done for name in case.costs):
        for family in (*families.FAMILIES, "all"):
            found = [
                case.regret(policy)
                for case in done
                if family in ("all", case.family) and policy in case.costs
            ]
            if found:
                yield Line(
                    policy,
                    family,
                    len(found),
                    float(np.mean(found)),
                    float(np.percentile(found, 95)),
                    float(max(found)),
                )


def table(cases: list[Case]) -> str:
    """The lines for a reader, in per cent, and what was left out."""
    rows = [f"{'policy':<18}{'family':<12}{'models':>7}{'mean':>9}{'95th':>9}{'worst':>9}"]
    for line in lines(cases):
        figures = "".join(f"{100 * value:8.2f}%" for value in (line.mean, line.p95, line.worst))
        rows.append(f"{line.policy:<18}{line.family:<12}{line.models:>7}{figures}")
    done = [case for case in cases if case.solved]
    gaps = [case.high / case.low - 1.0 for case in done]
    rows.append(
        f"{len(cases) - len(done)} of {len(cases)} models were too large to solve and are left out;"
        f" of the others the bounds lie {100 * max(gaps, default=0):.2f} % apart at most,"
        f" and at most {100 * max((case.cut for case in done), default=0):.1f} % of the visits were"
        " ended early while following a policy."
    )
    return "\n".join(rows)


def as_json(cases: list[Case]) -> str:
    """Cases and lines."""
    return json.dumps(
        {"lines": [asdict(line) for line in lines(cases)], "cases": [asdict(c) for c in cases]}
    )


def worst(cases: Iterable[Case], policy: str) -> list[Case]:
    """The solved ones, those with the most regret first."""
    return sorted((case for case in cases if case.solved), key=lambda case: -case.regret(policy))


@dataclass(frozen=True)
class Slip:
    """One choice that cost something: when, what was chosen, what would have been best."""

    loss: float
    chance: float
    seen: tuple[tuple[int, str, str], ...]
    done: tuple[str, ...]
    chosen: str
    best: str


def slips(family: str, seed: int, policy: Policy, most: int = 3) -> list[Slip]:
    """The choices that cost most when a policy is followed on one model."""
    model = families.model(family, seed)
    asked: Problem = problem(model)
    optimum: Optimum = solve(asked, exactly=SOLVED / 2, most=MOST)
    found = []
    for turn in follow(CheckedModel(model, ()), asked, policy).turns:
        (node,) = optimum.nodes((turn.belief / turn.chance)[None, :], turn.place)
        costs = optimum.costs(node, 0.01 / turn.chance)
        best = min(costs, key=lambda act: costs[act][1])
        if turn.act in costs:
            loss = turn.chance * (costs[turn.act][0] - costs[best][1])
            found.append(Slip(loss, turn.chance, turn.seen, turn.done, turn.act, best))
    return sorted(found, key=lambda slip: -slip.loss)[:most]
