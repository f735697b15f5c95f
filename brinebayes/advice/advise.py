"""The one question of a visit: what is likely wrong, and what to do next."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace

from brinebayes.advice.acts import blocked_by, doubted, open_acts
from brinebayes.advice.choose import Choice, Valued, choose
from brinebayes.advice.effort import USUAL, Effort
from brinebayes.advice.explanation import Meaning, Reason, meanings, reason
from brinebayes.advice.standing import standing
from brinebayes.knowledge.rules import Facts, Fired, fired
from brinebayes.knowledge.schema import CheckedModel, Model
from brinebayes.network.belief import Belief, Question, believe
from brinebayes.network.carried import CarriedBelief
from brinebayes.network.contradiction import Contradiction, look
from brinebayes.setups.routes import tabulate
from brinebayes.visit.state import NumberRead, VisitState, to_question

#: Bits of conflict below which nobody is troubled: odds of two to one. Judged.
CONFLICT_TOLD_FROM = 1.0


@dataclass(frozen=True, slots=True)
class Advice:
    """The answer. `faults` run from the most to the least likely; `ranked` from best act to worst.

    `notes` are the rules that fired; `held_back` says which acts a rule removed, and why;
    `left_out` are observations that a rule doubts and that are not used until repeated.
    `effective_draws`: None where the beliefs are exact; else of how many independent draws they are
    as good as.
    """

    faults: tuple[tuple[str, float], ...]
    works: float
    next: Valued
    why: Reason
    outcomes: tuple[Meaning, ...]
    choice: Choice
    notes: tuple[Fired, ...]
    held_back: tuple[tuple[str, str], ...]
    left_out: tuple[str, ...]
    contradiction: Contradiction | None
    readings: tuple[NumberRead, ...] = ()
    effective_draws: float | None = None


def advise(checked: CheckedModel, state: VisitState, effort: Effort = USUAL) -> Advice:
    """Rank the faults and choose the next act.

    The same model, history and effort always give the same answer. Raises EvidenceConflict where
    what was seen cannot hold together.
    """
    model = checked.model
    notes = fired(model, facts_of(model, state))
    doubts = doubted(notes)
    left_out = tuple(sorted(name for name in doubts if _seen_once(state, name)))
    question = _without(to_question(model, state), left_out)
    belief = believe(model, question)
    routes = tabulate(model)
    start = standing(model, routes, state)
    acts = open_acts(model, state, routes, start, notes)
    answered = _answered(belief, question)
    worlds = belief.worlds(effort.rows, _seed(model, question))
    choice = choose(model, state, acts, worlds, routes, answered)
    best = choice.ranked[0]
    return Advice(
        faults=_ranked_faults(belief),
        works=belief.works,
        next=best,
        why=reason(model, belief, choice, best, answered),
        outcomes=meanings(model, belief, best, answered),
        choice=choice,
        notes=notes,
        held_back=tuple(sorted(blocked_by(state, notes).items())),
        left_out=left_out,
        contradiction=_contradiction(model, question),
        readings=state.readings,
        effective_draws=belief.effective_draws if isinstance(belief, CarriedBelief) else None,
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
    )


def _ranked_faults(belief: Belief | CarriedBelief) -> tuple[tuple[str, float], ...]:
    """Rounded before ranking, so that the last bits decide nothing; ties in the model's order."""
    names = list(belief.faults)
    names.sort(key=lambda name: -round(belief.faults[name], 12))
    return tuple((name, belief.faults[name]) for name in names)


def _contradiction(model: Model, question: Question) -> Contradiction | None:
    """A conflict that is worth a technician's second look."""
    found = look(model, question)
    return found if found is not None and found.bits >= CONFLICT_TOLD_FROM else None


def _answered(belief: Belief | CarriedBelief, question: Question) -> frozenset[str]:
    """Observations whose answer is in the belief already: a repeat would only say the same."""
    now = len(question.done)
    made = {item.observation for item in question.seen if item.epoch == now}
    sure = {name for name, chances in belief.outcomes.items() if chances.max() > 1.0 - 1e-12}
    return frozenset(made | sure)


def _seen_once(state: VisitState, observation: str) -> bool:
    now = len(state.done)
    return sum(1 for epoch, name, _ in state.seen if (epoch, name) == (now, observation)) == 1


def _without(question: Question, left_out: tuple[str, ...]) -> Question:
    seen = tuple(item for item in question.seen if item.observation not in left_out)
    return replace(question, seen=seen)


def _seed(model: Model, question: Question) -> int:
    """A seed that follows from the model and what is known, not from the order it came in."""
    latest = {(item.epoch, item.observation): item.likelihood for item in question.seen}
    known = (
        sorted(question.site.items()),
        sorted(question.complaints),
        question.done,
        sorted(latest.items()),
    )
    text = repr((model.hash, known))
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big")
