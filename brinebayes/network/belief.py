"""What a visit has shown, as beliefs about the unit as it is now."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cached_property
from math import exp, inf
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import EvidenceConflict
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.evidence import Finding, Ground, Mixture, Question, Seen, Term, ground
from brinebayes.network.propagate import answer
from brinebayes.network.sampling import draw_worlds
from brinebayes.network.tables import TooLargeError
from brinebayes.network.worlds import Worlds
from brinebayes.record import record

if TYPE_CHECKING:
    from brinebayes.network.carried import CarriedBelief

__all__ = ["Belief", "Question", "Seen", "believe"]

Floats = NDArray[np.float64]


def believe(model: Model, question: Question) -> Belief | CarriedBelief:
    """Beliefs given everything that is known; exact unless `effective_draws` says otherwise.

    Raises EvidenceConflict naming observations that cannot hold together, UsageError for what the
    model does not have, TooLargeError for a model too large even before any repair.
    """
    try:
        known = ground(model, question)
    except TooLargeError:
        if not question.done:
            raise
        from brinebayes.network.carried import carried

        return carried(model, question)
    try:
        return Belief(known, known.calibrated())
    except EvidenceConflict:
        between = smallest_conflict(known)
        reason = (
            f"these cannot all be so: {', '.join(between)}"
            if between
            else ("no fault of the model can exist on this site, and it knows no calls without one")
        )
        raise EvidenceConflict(reason, between) from None


def smallest_conflict(known: Ground) -> tuple[str, ...]:
    """Observations that cannot hold together, none of which can be left out; ids, as seen."""
    needed = list(known.findings)
    for finding in known.findings:
        rest = [f for f in needed if f is not finding]
        if known.log_probabilities([rest])[0] == -inf:
            needed = rest
    return tuple(finding.observation for finding in needed)


@record(eq=False)
class Belief:
    """Beliefs about the unit as it is now; what is not asked for is not computed.

    Outcomes are those of the next answer to each observation: what was already answered about the
    present state of the unit is answered the same way again, since a repeat shares its misreading.
    """

    ground: Ground
    mixture: Mixture

    @property
    def effective_draws(self) -> float:
        """Infinite: exact. See `carried` for beliefs that are not."""
        return inf

    @property
    def log_evidence(self) -> float:
        """Natural log of P(all that was said and seen | call, site)."""
        return self.mixture.log_probability - self.ground.log_call

    @property
    def no_fault(self) -> float:
        """Probability that no fault was present when the call was made."""
        return self.mixture.no_fault

    @cached_property
    def faults(self) -> Mapping[str, float]:
        """Fault -> probability that it is present now."""
        names = self.ground.model.faults
        return ReadOnly(dict(zip(names, self.mixture.faults.tolist(), strict=True)))

    @cached_property
    def works(self) -> float:
        """Probability that the unit works now."""
        return self._working[0]

    @cached_property
    def outcomes(self) -> Mapping[str, Floats]:
        """Observation, or `proof` -> (outcomes,), probability of each."""
        return _Each(self, 0)

    @cached_property
    def joint(self) -> Mapping[str, Floats]:
        """Observation, or `proof` -> (outcomes, faults), P(outcome and fault present)."""
        return _Each(self, 1)

    def worlds(self, n: int, seed: int) -> Worlds:
        """About `n` weighted joint states, with rows for every fault above 1e-4."""
        return draw_worlds(self.ground, self.mixture, n, seed)

    @cached_property
    def _working(self) -> tuple[float, Floats]:
        """P(works), and (faults,) P(works and fault present)."""
        try:
            good = self.ground.calibrated(works=True)
        except EvidenceConflict:
            return 0.0, np.zeros(len(self.mixture.faults))
        works = min(exp(good.log_probability - self.mixture.log_probability), 1.0)
        return works, works * good.faults

    @cached_property
    def _answered(self) -> Mapping[str, Finding]:
        """What can be asked now and was answered already."""
        trees, last = self.ground.trees, self.ground.last
        asked = {*trees.asked, graph.PROOF}
        return {
            one.observation: one
            for one in self.ground.findings
            if one.observation in asked and one.copy == trees.copy(one.observation, last)
        }

    def _joint(self, name: str) -> tuple[Floats, Floats]:
        """(outcomes,) and (outcomes, faults). To ask again takes longest and is seldom wanted."""
        found = self._joints.get(name)
        if found is None:
            found = self._joints[name] = self._again(self._answered[name])
        return found

    @cached_property
    def _joints(self) -> dict[str, tuple[Floats, Floats]]:
        """Those of all that was not answered already; the others are added when they are wanted."""
        trees = self.ground.trees
        sides = {id(term): answer(term.beliefs, term.side.ask) for term in self.mixture.terms}
        out: dict[str, tuple[Floats, Floats]] = {}
        for name, variable in trees.asked.items():
            if name in self._answered:
                continue

            def both(term: Term, leaf: str = variable) -> Floats:
                """(outcomes, 1 + faults): P(outcome), then P(outcome and fault present now)."""
                found = sides[id(term)]
                if leaf not in found.rows:  # nothing that is left bears on it
                    alone = trees.reduction.settled[leaf]
                    faults = term.side.faults.probabilities(term.beliefs) @ term.side.present
                    return np.outer(alone, np.append(1.0, faults))
                rows = found.rows[leaf]
                joint = found.values[rows] @ term.side.present
                return np.column_stack([found.outcomes[rows], joint])

            summed = self.mixture.sum(both)
            out[name] = summed[:, 0], summed[:, 1:]
        if graph.PROOF not in self._answered:
            out[graph.PROOF] = self._proof()
        return out

    def _again(self, finding: Finding) -> tuple[Floats, Floats]:
        """Outcomes and joint of a question that was already answered."""
        faults = self.mixture.faults
        chances = np.zeros(len(finding.likelihood))
        joint = np.zeros((len(chances), len(faults)))
        if finding.certain is not None:
            chances[finding.certain] = 1.0
            joint[finding.certain] = faults
            return chances, joint
        others = [f for f in self.ground.findings if f is not finding]
        for place in np.flatnonzero(finding.likelihood):
            only = np.zeros_like(finding.likelihood)
            only[place] = finding.likelihood[place]
            try:
                found = self.ground.calibrated([*others, replace(finding, likelihood=only)])
            except EvidenceConflict:
                continue
            chances[place] = exp(found.log_probability - self.mixture.log_probability)
            joint[place] = chances[place] * found.faults
        return chances, joint

    def _proof(self) -> tuple[Floats, Floats]:
        about = self.ground.model.about.proof
        works, working = self._working
        right, wrong = about.passes_if_works.value, about.passes_if_not.value
        passes = right * works + wrong * (1.0 - works)
        faults = self.mixture.faults
        with_fault = right * working + wrong * np.maximum(faults - working, 0.0)
        return np.array([passes, 1.0 - passes]), np.array([with_fault, faults - with_fault])


class _Each(Mapping[str, Floats]):
    """For every observation that can be made now, and `proof`: a part of its joint."""

    def __init__(self, belief: Belief, part: Literal[0, 1]) -> None:
        self._belief, self._part = belief, part

    def __getitem__(self, name: str) -> Floats:
        return self._belief._joint(name)[self._part]

    def __iter__(self) -> Iterator[str]:
        return iter((*self._belief.ground.trees.asked, graph.PROOF))

    def __len__(self) -> int:
        return len(self._belief.ground.trees.asked) + 1
