"""Where a visit stands: which rules hold, what is believed, how the unit stands, what is open."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from functools import cached_property

from brinebayes.advice.acts import Act, blocked_by, doubted, open_acts
from brinebayes.advice.standing import standing
from brinebayes.knowledge.rules import Facts, Fired, fired
from brinebayes.knowledge.schema import CheckedModel, Model
from brinebayes.network.belief import Belief, Question, believe
from brinebayes.network.carried import CarriedBelief
from brinebayes.network.worlds import Worlds
from brinebayes.record import record
from brinebayes.setups.routes import Routes, tabulate
from brinebayes.setups.states import State
from brinebayes.visit.state import VisitState, to_question

#: Decimal places of a likelihood that count in a seed.
SEED_PLACES = 9


@record
class Situation:
    """What every way of choosing an act looks at; beliefs are worked out when first asked for.

    `left_out`: observations that a rule doubts and that are not used until repeated. `start`: the
    setup to plan from. `draw`: which of many draws of rows is looked at; 0 for what is advised.
    """

    model: Model
    state: VisitState
    notes: tuple[Fired, ...]
    left_out: tuple[str, ...]
    question: Question
    routes: Routes
    start: State
    acts: tuple[Act, ...]
    draw: int = 0

    @cached_property
    def blocked(self) -> dict[str, str]:
        """Act -> the reason of the rule that removes it, or holds it back."""
        return blocked_by(self.state, self.notes)

    @cached_property
    def belief(self) -> Belief | CarriedBelief:
        """Raises EvidenceConflict where what was seen cannot hold together."""
        return believe(self.model, self.question)

    @cached_property
    def answered(self) -> frozenset[str]:
        """Observations whose answer is in the belief already: a repeat would say the same."""
        now = len(self.question.done)
        made = {item.observation for item in self.question.seen if item.epoch == now}
        outcomes = self.belief.outcomes
        rest = [name for name in outcomes if name not in made]
        return frozenset([*made, *(name for name in rest if outcomes[name].max() > 1.0 - 1e-12)])

    def worlds(self, rows: int) -> Worlds:
        """About `rows` weighted joint states; the same for the same model, history and draw."""
        return self.belief.worlds(rows, (self.seed + self.draw) % 2**64)

    @cached_property
    def seed(self) -> int:
        """For whatever is drawn; it follows from the model and what is known."""
        return _seed(self.model, self.question)


def situation(checked: CheckedModel, state: VisitState) -> Situation:
    """Where this visit stands. Raises UnsafeRoute if the setup that was told is not safe."""
    model = checked.model
    notes = fired(model, facts_of(model, state))
    doubts = doubted(notes)
    left_out = tuple(sorted(name for name in doubts if state.times_seen(name) == 1))
    routes = tabulate(model)
    start = standing(model, routes, state)
    return Situation(
        model=model,
        state=state,
        notes=notes,
        left_out=left_out,
        question=_without(to_question(model, state), left_out),
        routes=routes,
        start=start,
        acts=open_acts(model, state, routes, start, notes),
    )


def facts_of(model: Model, state: VisitState) -> Facts:
    """What the rules look at: the present epoch, and all that speaks of the weeks before.

    A number that leaves its outcome open is evidence, but no rule acts on it.
    """
    return Facts(
        site=state.site,
        complaints=state.complaints,
        saw=state.clear_now(),
        saw_history=state.clear_ever(),
        done=state.done,
        failed=state.failed_proofs,
    )


def _without(question: Question, left_out: tuple[str, ...]) -> Question:
    seen = tuple(item for item in question.seen if item.observation not in left_out)
    return replace(question, seen=seen)


def _seed(model: Model, question: Question) -> int:
    """A seed that follows from the model and what is known, not from the order it came in.

    Likelihoods count to some places only: the last bits of a reading differ between machines.
    """
    latest = {
        (item.epoch, item.observation): tuple(round(p, SEED_PLACES) for p in item.likelihood)
        for item in question.seen
    }
    known = (
        sorted(question.site.items()),
        sorted(question.complaints),
        question.done,
        sorted(latest.items()),
    )
    text = repr((model.hash, known))
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big")
