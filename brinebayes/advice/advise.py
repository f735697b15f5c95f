"""The one question of a visit: what is likely wrong, and what to do next."""

from __future__ import annotations

from brinebayes.advice.choose import Choice, Exact, Valued, choose
from brinebayes.advice.effort import USUAL, Effort
from brinebayes.advice.explanation import Meaning, Reason, meanings, reason
from brinebayes.advice.problem import problem
from brinebayes.advice.situation import Situation, situation
from brinebayes.knowledge.rules import Fired
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.network.belief import Belief
from brinebayes.network.carried import CarriedBelief
from brinebayes.network.contradiction import Contradiction, look
from brinebayes.record import record
from brinebayes.visit.state import NumberRead, VisitState

#: Bits of conflict below which nobody is troubled: odds of two to one. Judged.
CONFLICT_TOLD_FROM = 1.0


@record
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
    now = situation(checked, state)
    model, belief, answered = now.model, now.belief, now.answered
    choice = choose(problem(now, effort.rows), now.acts, exact(now), effort)
    best = choice.ranked[0]
    return Advice(
        faults=_ranked_faults(belief),
        works=belief.works,
        next=best,
        why=reason(model, belief, choice, best, answered),
        outcomes=meanings(model, belief, best, answered),
        choice=choice,
        notes=now.notes,
        held_back=tuple(sorted(now.blocked.items())),
        left_out=now.left_out,
        contradiction=_contradiction(belief),
        readings=state.readings,
        effective_draws=belief.effective_draws if isinstance(belief, CarriedBelief) else None,
    )


def exact(now: Situation) -> Exact:
    """What the exact engine says of the first step."""
    return Exact(now.belief.works, now.belief.outcomes)


def _ranked_faults(belief: Belief | CarriedBelief) -> tuple[tuple[str, float], ...]:
    """Rounded before ranking, so that the last bits decide nothing; ties in the model's order."""
    names = list(belief.faults)
    names.sort(key=lambda name: -round(belief.faults[name], 12))
    return tuple((name, belief.faults[name]) for name in names)


def _contradiction(belief: Belief | CarriedBelief) -> Contradiction | None:
    """A conflict that is worth a technician's second look; found where beliefs are exact."""
    return None if isinstance(belief, CarriedBelief) else look(belief, CONFLICT_TOLD_FROM)
