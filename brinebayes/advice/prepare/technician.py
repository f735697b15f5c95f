"""The plain technician of the visits on paper: what he knows, and what he does next.

He makes the check that tells most for its money, until trying a repair in vain would cost less than
making sure of it; he leaves when finding the repair costs more than mending now would save. Rules
hold acts back as they do on a real visit. He looks one step ahead and tries a repair again only
where its luck may turn.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice.acts import blocked_by
from brinebayes.advice.estimate import BIT_MARKUP, weighed_log
from brinebayes.advice.prepare.remedies import Remedy, called_for, costs
from brinebayes.errors import EvidenceConflict, UnsafeRoute
from brinebayes.knowledge.rules import Facts, fired
from brinebayes.knowledge.schema import Condition, Model
from brinebayes.network import graph
from brinebayes.network.belief import believe
from brinebayes.network.worlds import Worlds
from brinebayes.setups.routes import Routes
from brinebayes.setups.states import State
from brinebayes.visit.brine import refill_time
from brinebayes.visit.state import VisitState, to_question

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

#: A check that tells less about what to repair is none. Judged.
LEAST_BITS = 0.003
#: Part of the belief that a decision may leave out, the lightest rows.
LIGHT = 0.03
#: Where fewer units than this fit what he has seen he thinks anew, of so many. Judged.
FEW, ANEW = 30, 1000
#: For the units that he thinks of anew.
SEED = 1000


@dataclass(frozen=True, eq=False)
class Table:
    """Units as they may be, between two repairs.

    `chances`: (outcomes of all observations, rows). `classes`: (rows,), see `remedies.called_for`.
    """

    worlds: Worlds
    chances: Floats
    classes: Places
    done: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Known:
    """What he knows: the unit's setup, the weights of the table's rows, what was seen.

    `drawn`: brine draws made since the last refill.
    """

    setup: State
    table: Table
    weights: Floats
    seen: Mapping[str, str]
    drawn: float


@dataclass(frozen=True, slots=True)
class Step:
    """What he does next."""

    kind: Literal["check", "repair", "end"]
    id: str = ""


class Technician:
    """One technician on one kind of visit."""

    def __init__(
        self, model: Model, state: VisitState, routes: Routes, plans: Mapping[str, Remedy]
    ) -> None:
        self.model, self.state, self.routes, self.plans = model, state, routes, plans
        prices = costs(model, state, routes)
        self.checks = {
            name: check
            for name, check in model.checks.items()
            if check.who != "licensed"
            and name not in state.could_not
            and all(
                key not in state.site or state.site[key] in graph.named_states(values)
                for key, values in check.applies.items()
            )
        }
        sizes = {
            name: len(item.outcomes)
            for check in self.checks.values()
            for name, item in check.observations.items()
        }
        self.observations = tuple(sizes)
        self.starts = np.concatenate([[0], np.cumsum(list(sizes.values()))[:-1]]).astype(np.intp)
        self.place = {name: i for i, name in enumerate(self.observations)}
        money, proof = model.about.money, model.about.proof
        # What a row can call for: a repair, cheapest first; what ends the visit; nothing.
        self.repairs: list[str] = sorted(prices, key=lambda name: (prices[name], name))
        self.stop, self.nothing = len(self.repairs), len(self.repairs) + 1
        self.second, self.pass_on = money.second_visit.value, money.escalation.value
        # What it costs to be wrong about each; a unit that works need only be proven.
        proving = proof.minutes.value * money.attention_per_minute.value
        proving += proof.waiting_minutes.value * money.waiting_per_minute.value
        self.class_costs = np.array(
            [*(prices[name] for name in self.repairs), self.pass_on, proving]
        )
        #: How surely each repair mends what it is for, at best.
        self.sure = np.array(
            [max(p.value for p in model.repairs[name].clears.values()) for name in self.repairs]
        )
        #: What a repair that was wrong costs beside itself: a proof that passes all the same.
        self.missed = proof.passes_if_not.value * self.second

    def arrives(self, start: State, worlds: Worlds) -> Known:
        """What he knows at the door."""
        draws = self.model.about.brine.draws.value if self.model.about.brine else 0.0
        empty = any(
            any(refill_time(self.model, self.state, name))
            for name, check in self.checks.items()
            if check.spends_brine
        )
        table = self.table((), worlds)
        seen = self.state.seen_now()
        return Known(start, table, worlds.weights, seen, draws if empty else 0.0)

    def table(self, done: tuple[str, ...], worlds: Worlds) -> Table:
        """The table for what follows these repairs."""
        classes = called_for(self.model, self.plans, self.repairs, worlds, done)
        rows = [worlds.observation_likelihoods(name).T for name in self.observations]
        return Table(worlds, np.concatenate(rows), classes, done)

    def row(self, observation: str, outcome: int) -> int:
        """Where an outcome stands in the table's chances."""
        return int(self.starts[self.place[observation]]) + outcome

    # --- when the rows run out -------------------------------------------------------------------

    def unsure(self, known: Known) -> bool:
        """Whether too few units fit what was seen for a repair, or for leaving; he thinks again.

        A row stands for as many draws as it weighed at first, so w over v leaves n / sum(w^2 / v)
        of n draws. Source: Kong, Liu & Wong 1994 (from memory).
        """
        rows = known.table.worlds
        spent = float((known.weights**2 / rows.weights).sum())
        return not known.table.done and rows.effective_draws < FEW * spent

    def anew(self, known: Known) -> Known:
        """The same with a table of units that were drawn from all that he knows, before a repair.

        Where what was drawn cannot hold together it stays as it is: a row that fits is a rare one.
        """
        told = {name for _, name, _ in self.state.seen}
        since = ((0, name, outcome) for name, outcome in known.seen.items() if name not in told)
        now = replace(self.state, seen=(*self.state.seen, *since))
        try:
            belief = believe(self.model, to_question(self.model, now))
        except EvidenceConflict:
            return known
        worlds = belief.worlds(ANEW, SEED)
        return replace(known, table=self.table((), worlds), weights=worlds.weights)

    # --- the next step ---------------------------------------------------------------------------

    def next(self, known: Known) -> Step:
        """What he does next."""
        blocked, joint = self.blocked(known), self.joint(known)
        told = self.bits(joint)
        rates = [
            (round(price / bits, 9), name)
            for name in self.checks
            if name not in blocked
            and (bits := sum(told[self.place[one]] for one in self.open(known, name))) > LEAST_BITS
            and (price := self.price(known, name)) < np.inf
        ]
        rate, check = min(rates, default=(np.inf, ""))
        repair = self.worth_trying(joint[0], rate)
        first = self.held_by(known, repair, blocked) if repair in blocked else ""
        if first:
            return Step("check", first)
        if repair and repair not in blocked:
            return Step("repair", repair)
        if check and not self.finished(joint[0], rate):
            return Step("check", check)
        return Step("end")

    def joint(self, known: Known) -> Floats:
        """(1 + outcomes, classes): P(class), then P(outcome and class), by what was seen."""
        heavy = np.argsort(-known.weights.round(12), kind="stable")
        enough = np.searchsorted(known.weights[heavy].cumsum(), 1.0 - LIGHT) + 1
        kept = np.sort(heavy[:enough])
        weights = known.weights[kept] / known.weights[kept].sum()
        present, which = np.unique(known.table.classes[kept], return_inverse=True)
        member = np.zeros((len(weights), len(present)))
        member[np.arange(len(weights)), which] = weights
        joint = np.zeros((1 + len(known.table.chances), self.nothing + 1))
        joint[0, present] = member.sum(axis=0)
        joint[1:, present] = known.table.chances[:, kept] @ member
        return joint

    def bits(self, joint: Floats) -> Floats:
        """(observations,): what each tells about what the unit calls for, in bits."""
        terms = weighed_log(joint).sum(axis=1) - weighed_log(joint.sum(axis=1))
        told: Floats = np.add.reduceat(terms[1:], self.starts) - terms[0]
        return told

    def worth_trying(self, shares: Floats, rate: float) -> str:
        """The repair to try now: to make sure of it first would cost more than to try it in vain.

        `shares`: (classes,); `rate`: price of a bit. Of several, the one that gives most for its
        money; empty if there is none.
        """
        shares, prices = shares[: self.stop], self.class_costs[: self.stop]
        for place in np.argsort((-shares / prices).round(12), kind="stable"):
            share, cost = float(shares[place] * self.sure[place]), float(prices[place])
            helps = share * self.pass_on >= cost
            if helps and (1.0 - share) * (cost + self.missed) <= rate * _doubt(share):
                return str(self.repairs[place])
        return ""

    def finished(self, shares: Floats, rate: float) -> bool:
        """Whether to look no further: going on costs more than coming again, or passing it on.

        Going on costs what mending would with the cause known and the missing bits at the price of
        the best check, or a sequence of repairs in the hope that one helps, whichever is less.
        """
        stop, left = self.pass_on, 1.0 - float(shares[self.nothing])
        repairs, prices = shares[: self.stop], self.class_costs[: self.stop]
        known = float(repairs @ np.minimum(prices, stop)) + float(shares[self.stop]) * stop
        missing = -float(weighed_log(shares).sum())
        finding = BIT_MARKUP * rate * missing if missing > 0.0 else 0.0
        going_on = min(known + finding, _tried(repairs, prices, stop, left))
        return going_on >= min(left * self.second, stop)

    # --- what is open ----------------------------------------------------------------------------

    def open(self, known: Known, check: str) -> tuple[str, ...]:
        """The observations of a check that are not known yet."""
        return tuple(name for name in self.checks[check].observations if name not in known.seen)

    def blocked(self, known: Known) -> Mapping[str, str]:
        """Acts that a rule removes or holds back, or to which no way leads; with the reason."""
        facts = Facts(
            self.state.site, self.state.complaints, known.seen, known.seen, known.table.done
        )
        return blocked_by(self.visit(known), fired(self.model, facts))

    def held_by(self, known: Known, repair: str, blocked: Mapping[str, str]) -> str:
        """The cheapest check that a rule wants to be made before a repair; empty: there is none."""
        wanted = {
            name
            for rule in self.model.rules.values()
            if rule.kind == "first" and rule.reason == blocked[repair]
            for name in rule.until
            if name not in known.seen
        }
        able = [
            (self.price(known, name), name)
            for name, check in self.checks.items()
            if name not in blocked and wanted.intersection(check.observations)
        ]
        return min(able, default=(0.0, ""))[1]

    def visit(self, known: Known) -> VisitState:
        """The visit as rules see it."""
        now = len(known.table.done)
        seen = tuple((now, key, value) for key, value in known.seen.items())
        return replace(self.state, seen=seen, done=known.table.done)

    def price(self, known: Known, name: str) -> float:
        """What a check costs from here; infinite where no safe way leads to it."""
        check, money = self.checks[name], self.model.about.money
        refill, standing = self.refill(known, name)
        cost = (check.minutes.value + refill) * money.attention_per_minute.value
        cost += (check.waiting_minutes.value + standing) * money.waiting_per_minute.value
        return cost + self.way(known.setup, check.needs)

    def refill(self, known: Known, name: str) -> tuple[float, float]:
        """Minutes of work and of waiting until there is brine enough for a check."""
        brine, spends = self.model.about.brine, self.checks[name].spends_brine
        if brine is None or not spends or known.drawn + spends <= brine.draws.value + 1e-9:
            return 0.0, 0.0
        return brine.refill_minutes.value, brine.saturation_minutes.value

    def way(self, setup: State, needs: Condition) -> float:
        try:
            return self.routes.cost(setup, needs)
        except UnsafeRoute:
            return np.inf


def _tried(shares: Floats, prices: Floats, stop: float, left: float) -> float:
    """Expected cost of repairs one after the other, best for their money first, and then to stop.

    `left`: chance that the unit does not work; a repair that is right ends the visit.
    """
    order = np.argsort((-shares / prices).round(12), kind="stable")
    mended = np.concatenate([[0.0], shares[order].cumsum()])
    paid = np.concatenate([[0.0], (prices[order] * (left - mended[:-1])).cumsum()])
    return float((paid + (left - mended) * stop)[1:].min())


def _doubt(share: float) -> float:
    """Bits that are missing to know whether something is so. Source: Shannon 1948."""
    return -float(weighed_log(np.array([share, max(1.0 - share, 0.0)])).sum())
