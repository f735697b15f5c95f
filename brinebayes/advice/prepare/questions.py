"""What to ask on the phone: questions that a customer answers with eyes and memory, best first.

A question's worth is what it tells about the repair that will be called for, in bits per minute;
where several will be, about the dearest.
Two kinds are put: checks that a customer may make, without tools, with the unit as it stands; and
conditions of the site that have words for the phone. A question that decides what the customer must
do now comes before all others.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice.acts import blocked_by, open_questions
from brinebayes.advice.prepare.parts import Part, parts
from brinebayes.advice.prepare.remedies import Remedy, called_for, needed
from brinebayes.advice.situation import facts_of
from brinebayes.errors import UnsafeRoute
from brinebayes.knowledge.rules import Facts, Fired, fired
from brinebayes.knowledge.schema import Check, Model
from brinebayes.network import odds
from brinebayes.network.belief import Belief
from brinebayes.network.carried import CarriedBelief
from brinebayes.network.worlds import Worlds
from brinebayes.setups.routes import Routes
from brinebayes.setups.states import State, allowed
from brinebayes.visit.state import VisitState

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

#: Minutes that a question about the site takes on the phone. Judged.
SITE_MINUTES = 1.0
#: A question that tells less than this is not put. Judged.
LEAST_BITS = 0.01
#: A question is put for safety's sake where an answer with this chance asks for it. Judged.
DANGER_FROM = 0.15
#: Faults named behind an answer, and what to carry is told only of answers with this chance.
LEADING, CHANGES_FROM = 3, 0.02
#: A part comes on or off the list for an answer only if its need changes by so much. Judged.
MATERIAL = 0.02


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer: how likely it is, and what the sheet would then say.

    `works`: chance that the unit works; `load`, `leave`: parts that would come on or off the list;
    `rules`: what would have to be said besides.
    """

    answer: str
    chance: float
    leading: tuple[tuple[str, float], ...]
    works: float
    load: tuple[str, ...]
    leave: tuple[str, ...]
    rules: tuple[Fired, ...]


@dataclass(frozen=True, slots=True)
class Asked:
    """One thing asked about: an observation, or a site condition, with its answers."""

    id: str
    bits: float
    answers: tuple[Answer, ...]


@dataclass(frozen=True, slots=True)
class PhoneQuestion:
    """A question to the customer: a check, or a site condition. `asked`: the most telling first.

    `bits`: what all of it tells about the repair that is called for; `safety`: an answer may ask
    for something to be done at once.
    """

    id: str
    kind: str
    minutes: float
    bits: float
    safety: bool
    asked: tuple[Asked, ...]


@dataclass(frozen=True, eq=False)
class Call:
    """What is known while the customer is on the phone. `order`: repairs, cheapest first."""

    model: Model
    state: VisitState
    belief: Belief | CarriedBelief
    worlds: Worlds
    plans: Mapping[str, Remedy]
    order: Sequence[str]
    notes: tuple[Fired, ...]


def for_customers(model: Model, routes: Routes, start: State) -> dict[str, Check]:
    """The checks that a customer may make: no tools, nothing moved or left changed."""

    def as_it_stands(check: Check) -> bool:
        try:
            return not routes.way(start, check.needs).moves
        except UnsafeRoute:
            return False

    return {
        name: check
        for name, check in model.checks.items()
        if check.who == "customer"
        and not check.tools
        and not check.leaves
        and not check.waiting_minutes.value
        and as_it_stands(check)
    }


def questions(call: Call, routes: Routes, start: State) -> tuple[PhoneQuestion, ...]:
    """Every question that is worth putting, best first; ties by id."""
    now = _Now(call)
    blocked = blocked_by(call.state, call.notes)
    found = []
    for name, check in for_customers(call.model, routes, start).items():
        applies = all(
            call.state.site.get(key, values) in (values, *allowed(values))
            for key, values in check.applies.items()
        )
        if name not in blocked and name not in call.state.could_not and applies:
            asked = open_questions(call.model, call.state, call.notes, name)
            found.append(now.check(name, check.minutes.value, asked))
    for name, condition in call.model.site.items():
        if condition.phone and name not in call.state.site:
            found.append(now.site(name))
    kept = [one for one in found if one.safety or one.bits >= LEAST_BITS]
    return tuple(sorted(kept, key=lambda q: (not q.safety, -round(q.bits / q.minutes, 9), q.id)))


class _Now:
    """The sheet as it is, against which every answer is held."""

    def __init__(self, call: Call) -> None:
        self.call = call
        # Where there are several faults, what matters is the work that takes most.
        self.classes = called_for(call.model, call.plans, call.order, call.worlds, dearest=True)
        self.present = needed(call.worlds)
        self.listed = self._listed(call.worlds.weights)
        self.rules = {item.rule_id for item in call.notes}

    def check(self, name: str, minutes: float, observations: Sequence[str]) -> PhoneQuestion:
        """A check, all its open observations together."""
        call = self.call
        rows = {one: call.worlds.observation_likelihoods(one).T for one in observations}
        joint = np.ones((1, len(call.worlds.weights)))
        for each in rows.values():
            joint = (joint[:, None, :] * each[None, :, :]).reshape(-1, joint.shape[1])
        asked = [
            Asked(one, self._bits(each), tuple(self._observed(one, each)))
            for one, each in rows.items()
        ]
        return self._question(name, "check", minutes, self._bits(joint), asked)

    def site(self, name: str) -> PhoneQuestion:
        """A site condition: its values judged by the faults that each makes likelier."""
        rows = _site_rows(self.call, name)
        asked = Asked(name, self._bits(rows), tuple(self._told(name, rows)))
        return self._question(name, "site", SITE_MINUTES, asked.bits, [asked])

    def _question(
        self, name: str, kind: str, minutes: float, bits: float, asked: list[Asked]
    ) -> PhoneQuestion:
        safety = any(
            answer.chance >= DANGER_FROM and item.rule.kind == "make_safe"
            for one in asked
            for answer in one.answers
            for item in answer.rules
        )
        asked.sort(key=lambda one: (-round(one.bits, 9), one.id))
        return PhoneQuestion(name, kind, minutes, bits, safety, tuple(asked))

    def _observed(self, name: str, rows: Floats) -> Iterator[Answer]:
        call = self.call
        faults = list(call.model.faults)
        history = call.model.observation(name).history
        for place, outcome in enumerate(call.model.observation(name).outcomes):
            chance = float(call.belief.outcomes[name][place])
            if chance <= 0.0:
                continue
            shares = call.belief.joint[name][place] / chance
            facts = facts_of(call.model, call.state)
            if history:
                facts = replace(facts, saw_history={**facts.saw_history, name: outcome})
            else:
                facts = replace(facts, saw={**facts.saw, name: outcome})
            leading = dict(zip(faults, shares.tolist(), strict=True))
            yield self._answer(outcome, chance, leading, rows[place], facts)

    def _told(self, name: str, rows: Floats) -> Iterator[Answer]:
        """The values of a site condition; shares and faults estimated on the rows, since every
        site has a network of its own, which takes seconds to build."""
        call = self.call
        for place, value in enumerate(call.model.site[name].values):
            joint = call.worlds.weights * rows[place]
            chance = float(joint.sum())
            if chance <= 0.0:
                continue
            faults = (joint @ call.worlds.faults / chance).tolist()
            facts = facts_of(call.model, call.state)
            facts = replace(facts, site={**facts.site, name: value})
            leading = dict(zip(call.model.faults, faults, strict=True))
            yield self._answer(value, chance, leading, rows[place], facts)

    def _answer(
        self, answer: str, chance: float, faults: Mapping[str, float], row: Floats, facts: Facts
    ) -> Answer:
        call = self.call
        weights = call.worlds.weights * row
        weights = weights / weights.sum()
        then = self._listed(weights) if chance >= CHANGES_FROM else self.listed
        changed = [name for name, part in then.items() if self._changes(part)]
        order = sorted(faults, key=lambda fault: -round(faults[fault], 9))
        return Answer(
            answer=answer,
            chance=chance,
            leading=tuple((fault, faults[fault]) for fault in order[:LEADING]),
            works=float(weights @ call.worlds.works),
            load=tuple(name for name in changed if then[name].carry),
            leave=tuple(name for name in changed if not then[name].carry),
            rules=tuple(
                item
                for item in fired(call.model, facts)
                if item.rule_id not in self.rules and item.rule.kind in SAID_AT_ONCE
            ),
        )

    def _listed(self, weights: Floats) -> dict[str, Part]:
        call = self.call
        return {part.part: part for part in parts(call.model, call.plans, self.present, weights)}

    def _changes(self, part: Part) -> bool:
        """Whether a part comes on the list or off it, for more than a trifle."""
        now = self.listed[part.part]
        return part.carry != now.carry and abs(part.needed - now.needed) >= MATERIAL

    def _bits(self, rows: Floats) -> float:
        """Mutual information of an answer and what is called for. Source: Shannon 1948.

        `rows`: (answers, rows), P(answer | row).
        """
        member = np.zeros((rows.shape[1], len(self.call.order) + 2))
        member[np.arange(rows.shape[1]), self.classes] = self.call.worlds.weights
        table = rows @ member
        expected = table.sum(axis=1, keepdims=True) * table.sum(axis=0, keepdims=True)
        here = table > 0.0
        return max(0.0, float((table[here] * np.log2(table[here] / expected[here])).sum()))


#: Rules that would be read to the customer, or change who comes.
SAID_AT_ONCE = ("make_safe", "outside", "escalates")


def _site_rows(call: Call, name: str) -> Floats:
    """(values, rows): P(value of a site condition | faults of the row)."""
    model, site = call.model, call.state.site
    faults = call.worlds.first_faults
    logs = []
    for value, share in zip(
        model.site[name].values, odds.site_chances(model, site, name), strict=True
    ):
        before = np.array(list(odds.priors(model, {**site, name: value}).values()))
        with np.errstate(divide="ignore"):
            there, gone = np.log(before), np.log1p(-before)
            each = np.where(faults, there, gone).sum(axis=1)
            logs.append(each + np.log(share))
    table = np.array(logs)
    # Two faults of a row may each need another site: then nothing is learnt from it.
    most = table.max(axis=0)
    lost = np.isneginf(most)
    table[:, lost], most[lost] = 0.0, 0.0
    rows = np.exp(table - most)
    found: Floats = rows / rows.sum(axis=0)
    return found
