"""What is known on a visit, laid onto its trees."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import exp, inf, log, log1p, prod

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import EvidenceConflict, UsageError
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.names import lookup
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph, odds
from brinebayes.network.propagate import Beliefs, calibrate
from brinebayes.network.trees import Trees, trees_for

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Seen:
    """One thing that was seen: after `epoch` repairs, a likelihood for each outcome.

    `observation` may also be a mechanism (a reading), a fault (found or ruled out), a complaint
    (with `not_said` when it was denied) or the proof. A later answer to the same question about
    the same state of the unit replaces the earlier one: a repeat shares its misreading.
    """

    epoch: int
    observation: str
    likelihood: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """Everything that is known. Complaints that are not named were not asked about."""

    site: Mapping[str, str] = field(default_factory=lambda: ReadOnly({}))
    complaints: tuple[str, ...] = ()
    done: tuple[str, ...] = ()
    seen: tuple[Seen, ...] = ()


@dataclass(frozen=True, eq=False)
class Finding:
    """One thing that counts as evidence: a variable of the trees with its likelihood."""

    observation: str
    epoch: int
    variable: str
    likelihood: Floats

    @property
    def certain(self) -> int | None:
        """The place of the outcome if only one is possible."""
        places = np.flatnonzero(self.likelihood)
        return int(places[0]) if len(places) == 1 else None


@dataclass(frozen=True, eq=False)
class Pair:
    """Beliefs of the unit as it may be, and of a unit without faults, under the same findings.

    With `share` the part (1 - c) P(no fault, e) of P(e), any P(x | e, call) is
    (P(x | e) - share P(x | no fault, e)) / (1 - share). `healthy` is None where a unit without
    faults is ruled out. `no_fault`: P(no fault | e, call). `log_probability`: natural log of
    P(e, call).
    """

    trees: Trees
    whole: Beliefs
    healthy: Beliefs | None
    share: float
    no_fault: float
    log_probability: float

    def mixed(self, whole: Floats, healthy: Floats) -> Floats:
        """P(x | e, call) from P(x | e) and P(x | no fault, e); rounding never takes it below 0."""
        result: Floats = np.maximum(whole - self.share * healthy, 0.0) / (1.0 - self.share)
        return result

    @cached_property
    def faults(self) -> Floats:
        """(faults,): P(present now | e, call)."""
        return self.mixed(self.trees.present.probabilities(self.whole), self.faults_by_harm)

    @cached_property
    def faults_by_harm(self) -> Floats:
        """(faults,): P(present now | no fault at first, e): only a repair can have caused it."""
        values = np.zeros(len(self.trees.now))
        if self.healthy is not None:
            values[list(self.trees.harmed)] = self.trees.by_harm.probabilities(self.healthy)
        return values


@dataclass(frozen=True, eq=False)
class Ground:
    """A question made ready for its trees.

    `priors`: likelihoods that stand for the site. `findings`: in the order in which they were
    made, what was replaced left out.
    """

    model: Model
    trees: Trees
    priors: Mapping[str, Floats]
    findings: tuple[Finding, ...]

    def calibrated(
        self, findings: Iterable[Finding] | None = None, held: Mapping[str, Floats] | None = None
    ) -> Pair:
        """Beliefs from some of the findings (None: all), and what else is `held` to be so.

        Raises EvidenceConflict when they cannot hold together.
        """
        chosen = self.findings if findings is None else tuple(findings)
        likelihoods = dict(self.priors)
        given = [(f.variable, f.likelihood) for f in chosen]
        for name, values in (*given, *(held or {}).items()):
            likelihoods[name] = likelihoods[name] * values if name in likelihoods else values
        whole = calibrate(self.trees.tree, likelihoods)
        top = float(whole.log_evidence[0])
        factor, rest = self.trees.reduction.translate(likelihoods)
        healthy, none = None, 0.0
        if factor > 0.0:
            try:
                healthy = calibrate(self.trees.healthy, rest)
            except EvidenceConflict:
                pass
            else:
                none = min(exp(float(healthy.log_evidence[0]) + log(factor) - top), 1.0)
        c = odds.base(self.model).call_without_fault
        left = 1.0 - (1.0 - c) * none
        if left <= 0.0:
            raise EvidenceConflict("no fault is left that could be the reason for the call")
        share, no_fault = (1.0 - c) * none, c * none / left
        return Pair(self.trees, whole, healthy, share, no_fault, top + log(left))

    def log_probabilities(self, sets: Sequence[Iterable[Finding]]) -> Floats:
        """(sets,): natural log of P(findings | call, site) of each; -inf for the impossible."""
        width = len(sets)
        likelihoods: dict[str, Floats] = {
            name: np.repeat(values[None], width, axis=0) for name, values in self.priors.items()
        }
        for row, findings in enumerate(sets):
            for one in findings:
                if one.variable not in likelihoods:
                    likelihoods[one.variable] = np.ones((width, len(one.likelihood)))
                likelihoods[one.variable][row] *= one.likelihood
        whole = calibrate(self.trees.tree, likelihoods).log_evidence
        factor, rest = self.trees.reduction.translate(likelihoods)
        with np.errstate(divide="ignore", invalid="ignore"):
            none = np.log(factor) + calibrate(self.trees.healthy, rest).log_evidence
            c = odds.base(self.model).call_without_fault
            shares = np.where(none == -inf, 0.0, (1.0 - c) * np.minimum(np.exp(none - whole), 1.0))
            result: Floats = whole + np.log(np.where(whole == -inf, 1.0, 1.0 - shares))
        return result - self.log_call

    @cached_property
    def log_call(self) -> float:
        """Natural log of P(call | site)."""
        none = prod(float(self.priors[fault][0]) for fault in self.model.faults)
        return log1p(-(1.0 - odds.base(self.model).call_without_fault) * none)


def ground(model: Model, question: Question) -> Ground:
    """Check a question and find its trees. Raises UsageError for what the model does not have."""
    odds.check_site(model, question.site)
    for complaint in question.complaints:
        lookup("complaint", complaint, model.complaints)
    said = (Seen(0, complaint, (1.0, 0.0)) for complaint in question.complaints)
    everything = (*said, *question.seen)
    for seen in everything:
        _check(model, question, seen)
    trees = trees_for(model, question.done, ((s.observation, s.epoch) for s in everything))
    priors: dict[str, Floats] = {
        fault: np.array([1.0 - p, p]) for fault, p in odds.priors(model, question.site).items()
    }
    for name in trees.open_roots:
        if name in model.site:
            priors[name] = np.array(odds.site_chances(model, question.site, name))
    latest: dict[str, Finding] = {}
    for seen in everything:
        variable = trees.name(seen.observation, seen.epoch)
        latest.pop(variable, None)
        likelihood = np.array(seen.likelihood, dtype=np.float64)
        latest[variable] = Finding(seen.observation, seen.epoch, variable, likelihood)
    return Ground(model, trees, priors, tuple(latest.values()))


def _check(model: Model, question: Question, seen: Seen) -> None:
    states = graph.states_of(model, seen.observation)
    if not 0 <= seen.epoch <= len(question.done):
        raise UsageError(
            f"{seen.observation}: epoch {seen.epoch}, but {len(question.done)} repairs were done"
        )
    if len(seen.likelihood) != len(states):
        raise UsageError(
            f"{seen.observation}: {len(seen.likelihood)} likelihoods for {len(states)} outcomes"
        )
    if not all(0.0 <= value < inf for value in seen.likelihood):
        raise UsageError(f"{seen.observation}: a likelihood is negative or not a number")
