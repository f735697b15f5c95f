"""What a visit has shown, as beliefs about the unit as it is now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from math import exp, inf

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import EvidenceConflict
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.evidence import Finding, Ground, Pair, Question, Seen, ground
from brinebayes.network.propagate import answer
from brinebayes.network.sampling import draw_worlds
from brinebayes.network.worlds import Worlds

__all__ = ["Belief", "Question", "Seen", "believe"]

Floats = NDArray[np.float64]


def believe(model: Model, question: Question) -> Belief:
    """Exact beliefs given everything that is known.

    Raises EvidenceConflict naming observations that cannot hold together, UsageError for what the
    model does not have, ModelError when so many repairs were done that the tables grow too large.
    """
    known = ground(model, question)
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


@dataclass(frozen=True, eq=False)
class Belief:
    """Beliefs about the unit as it is now; what is not asked for is not computed.

    Outcomes are those of the next answer to each observation: what was already answered about the
    present state of the unit is answered the same way again, since a repeat shares its misreading.
    """

    ground: Ground
    pair: Pair

    @property
    def log_evidence(self) -> float:
        """Natural log of P(all that was said and seen | call, site)."""
        return self.pair.log_probability - self.ground.log_call

    @property
    def no_fault(self) -> float:
        """Probability that no fault was present when the call was made."""
        return self.pair.no_fault

    @cached_property
    def faults(self) -> Mapping[str, float]:
        """Fault -> probability that it is present now."""
        names = self.ground.model.faults
        return ReadOnly(dict(zip(names, self.pair.faults.tolist(), strict=True)))

    @cached_property
    def works(self) -> float:
        """Probability that the unit works now."""
        return self._working[0]

    @cached_property
    def outcomes(self) -> Mapping[str, Floats]:
        """Observation, or `proof` -> (outcomes,), probability of each."""
        return ReadOnly({name: outcomes for name, (outcomes, _) in self._joints.items()})

    @cached_property
    def joint(self) -> Mapping[str, Floats]:
        """Observation, or `proof` -> (outcomes, faults), P(outcome and fault present)."""
        return ReadOnly({name: joint for name, (_, joint) in self._joints.items()})

    def worlds(self, n: int, seed: int) -> Worlds:
        """About `n` weighted joint states, with rows for every fault above 1e-4."""
        return draw_worlds(self.ground, self.pair, n, seed)

    @cached_property
    def _working(self) -> tuple[float, Floats]:
        """P(works), and (faults,) P(works and fault present)."""
        try:
            good = self.ground.calibrated(held=self.ground.trees.good)
        except EvidenceConflict:
            return 0.0, np.zeros(len(self.pair.faults))
        works = min(exp(good.log_probability - self.pair.log_probability), 1.0)
        return works, works * good.faults

    @cached_property
    def _joints(self) -> dict[str, tuple[Floats, Floats]]:
        pair, trees = self.pair, self.ground.trees
        found = answer(pair.whole, trees.ask)
        healthy = None if pair.healthy is None else answer(pair.healthy, trees.healthy_ask)
        answered = {finding.variable: finding for finding in self.ground.findings}
        out: dict[str, tuple[Floats, Floats]] = {}
        for name, variable in trees.asked.items():
            if variable in answered:
                out[name] = self._again(answered[variable])
                continue
            rows = found.rows[variable]
            outcomes, joint = found.outcomes[rows], found.values[rows]
            if healthy is None:
                out[name] = outcomes, joint
                continue
            if variable in trees.reduction.settled:
                sound = trees.reduction.settled[variable]
                by_harm = np.outer(sound, pair.faults_by_harm)
            else:
                at = healthy.rows[variable]
                sound = healthy.outcomes[at]
                by_harm = np.zeros_like(joint)
                by_harm[:, list(trees.harmed)] = healthy.values[at]
            out[name] = pair.mixed(outcomes, sound), pair.mixed(joint, by_harm)
        out[graph.PROOF] = self._proof(answered)
        return out

    def _again(self, finding: Finding) -> tuple[Floats, Floats]:
        """Outcomes and joint of a question that was already answered."""
        faults = self.pair.faults
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
                pair = self.ground.calibrated([*others, replace(finding, likelihood=only)])
            except EvidenceConflict:
                continue
            chances[place] = exp(pair.log_probability - self.pair.log_probability)
            joint[place] = chances[place] * pair.faults
        return chances, joint

    def _proof(self, answered: Mapping[str, Finding]) -> tuple[Floats, Floats]:
        trees = self.ground.trees
        variable = trees.name(graph.PROOF, len(trees.newest[graph.PROOF]) - 1)
        if variable in answered:
            return self._again(answered[variable])
        about = self.ground.model.about.proof
        works, working = self._working
        right, wrong = about.passes_if_works.value, about.passes_if_not.value
        passes = right * works + wrong * (1.0 - works)
        with_fault = right * working + wrong * np.maximum(self.pair.faults - working, 0.0)
        return (
            np.array([passes, 1.0 - passes]),
            np.array([with_fault, self.pair.faults - with_fault]),
        )
