"""What is known on a visit, laid onto its trees."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import field
from functools import cached_property
from itertools import chain, product
from math import exp, fsum, inf, log, log1p, prod

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import EvidenceConflict, UsageError
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.names import lookup
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph, odds
from brinebayes.network.propagate import Beliefs, calibrate, log_evidence
from brinebayes.network.trees import Side, Trees, trees_for
from brinebayes.record import record

Floats = NDArray[np.float64]

#: A difference this small beside what it was made of is rounding: the evidence is impossible.
LEAST = 1e-12
#: Numbers in tables that are worked on at once when many sets of findings are weighed.
AT_ONCE = 4_000_000


@record
class Seen:
    """One thing that was seen: after `epoch` repairs, a likelihood for each outcome.

    `observation` may also be a mechanism (a reading), a fault (found or ruled out), a complaint
    (with `not_said` when it was denied) or the proof. A later answer to the same question about
    the same state of the unit replaces the earlier one: a repeat shares its misreading.
    """

    epoch: int
    observation: str
    likelihood: tuple[float, ...]


@record
class Question:
    """Everything that is known. Complaints that are not named were not asked about."""

    site: Mapping[str, str] = field(default_factory=lambda: ReadOnly({}))
    complaints: tuple[str, ...] = ()
    done: tuple[str, ...] = ()
    seen: tuple[Seen, ...] = ()


@record(eq=False)
class Finding:
    """One thing that counts as evidence, about the copy that came into being in epoch `copy`."""

    observation: str
    epoch: int
    copy: int
    likelihood: Floats

    @property
    def certain(self) -> int | None:
        """The place of the outcome if only one is possible."""
        places = np.flatnonzero(self.likelihood)
        return int(places[0]) if len(places) == 1 else None


@record(eq=False)
class Term:
    """One of the calibrated trees that a belief is made of; its share may be negative."""

    share: float
    side: Side
    beliefs: Beliefs


@record(eq=False)
class Mixture:
    """What is known, as a sum of calibrated trees.

    P(x | e, call) is the sum over the terms of share · P(x | term), for any x: a call subtracts
    the unit without faults (see `trees`), and a proof with likelihood a for a unit that does not
    work and b for one that does is a · P(x) + (b - a) · P(x, works). The shares sum to 1.
    `no_fault`: P(no fault at first | e, call). `log_probability`: natural log of P(e, call).
    """

    trees: Trees
    terms: tuple[Term, ...]
    no_fault: float
    log_probability: float

    def sum(self, of: Callable[[Term], Floats]) -> Floats:
        """The sum over the terms; rounding never takes it below 0."""
        total: Floats = np.maximum(sum(term.share * of(term) for term in self.terms), 0.0)
        return total

    @cached_property
    def faults(self) -> Floats:
        """(faults,): P(present now | e, call)."""
        return self.sum(lambda t: t.side.faults.probabilities(t.beliefs) @ t.side.present)


@record(eq=False)
class Ground:
    """A question made ready for its trees.

    `site`: what is known of it; `priors`: likelihoods that stand for it. `findings`: in the order
    in which they were made, what was replaced left out.
    """

    model: Model
    site: Mapping[str, str]
    trees: Trees
    priors: Mapping[str, Floats]
    findings: tuple[Finding, ...]

    @property
    def last(self) -> int:
        """The present epoch."""
        return len(self.trees.newest[graph.WORKS]) - 1

    def working(self, epoch: int) -> dict[str, Floats]:
        """Likelihoods that hold the unit in a state in which it works, in one epoch."""
        found = {}
        for name, wanted in self.model.about.works.items():
            good = self.trees.paths[name].among(self.trees.copy(name, epoch), wanted)
            found[name] = good.astype(np.float64)
        return found

    def calibrated(self, findings: Iterable[Finding] | None = None, works: bool = False) -> Mixture:
        """Beliefs from some of the findings (None: all), and if `works` from a unit that works now.

        Raises EvidenceConflict when they cannot hold together.
        """
        chosen = self.findings if findings is None else tuple(findings)
        likelihoods = dict(self.priors)
        held = [self.working(self.last)] if works else []
        for one in chosen:
            if one.observation != graph.PROOF:
                held.append(dict([self.trees.enter(one.observation, one.epoch, one.likelihood)]))
        for name, values in chain.from_iterable(h.items() for h in held):
            likelihoods[name] = likelihoods[name] * values if name in likelihoods else values
        proofs = [one for one in chosen if one.observation == graph.PROOF]
        found: list[tuple[float, float, Side, Beliefs]] = []
        for passed in product((False, True), repeat=len(proofs)):
            factor = 1.0
            here = dict(likelihoods)
            for proof, holds in zip(proofs, passed, strict=True):
                fails, works_then = self.proof_likelihoods(proof)
                factor *= works_then - fails if holds else fails
                if holds:
                    for name, values in self.working(proof.epoch).items():
                        here[name] = here[name] * values if name in here else values
            if factor != 0.0:
                found.extend((factor, *side) for side in self._both(here))
        return self._mixed(found)

    def _both(self, likelihoods: Mapping[str, Floats]) -> Iterator[tuple[float, Side, Beliefs]]:
        """(natural log of the probability, tree, beliefs) of the whole and the healthy network,
        as far as they are possible."""
        trees = self.trees
        try:
            whole = calibrate(trees.whole.tree, likelihoods)
        except EvidenceConflict:
            return
        yield float(whole.log_evidence[0]), trees.whole, whole
        sound = dict(likelihoods)
        for fault, mask in trees.may_break.items():
            sound[fault] = sound[fault] * mask
        factor, rest = trees.reduction.translate(sound)
        if factor > 0.0 and self._without < 1.0:
            try:
                healthy = calibrate(trees.healthy.tree, rest)
            except EvidenceConflict:
                return
            yield float(healthy.log_evidence[0]) + log(factor), trees.healthy, healthy

    @cached_property
    def _without(self) -> float:
        return odds.base(self.model).call_without_fault

    def proof_likelihoods(self, finding: Finding) -> tuple[float, float]:
        """Likelihood of what a proof showed, for a unit that does not work and one that does."""
        about = self.model.about.proof
        passed, failed = finding.likelihood
        chances = (about.passes_if_not.value, about.passes_if_works.value)
        fails, works = (passed * p + failed * (1.0 - p) for p in chances)
        return float(fails), float(works)

    def _mixed(self, found: Sequence[tuple[float, float, Side, Beliefs]]) -> Mixture:
        """The terms of a belief from (factor, log probability, tree, beliefs) of each."""
        if not found:
            raise EvidenceConflict("these findings cannot hold together")
        top = max(log_p for _, log_p, _, _ in found)
        c = self._without
        shares, sound = [], 0.0
        for factor, log_p, side, _ in found:
            value = factor * exp(log_p - top)
            healthy = side is self.trees.healthy
            sound += value if healthy else 0.0
            shares.append(-(1.0 - c) * value if healthy else value)
        total = fsum(shares)
        if total <= LEAST * max(abs(share) for share in shares):
            raise EvidenceConflict("these findings cannot hold together with a call")
        terms = tuple(
            Term(share / total, side, beliefs)
            for share, (_, _, side, beliefs) in zip(shares, found, strict=True)
        )
        no_fault = min(max(c * sound / total, 0.0), 1.0)
        return Mixture(self.trees, terms, no_fault, top + log(total))

    def log_probabilities(self, sets: Sequence[Sequence[Finding]]) -> Floats:
        """(sets,): natural log of P(findings | call, site) of each; -inf for the impossible."""
        at_once = max(1, AT_ONCE // self.trees.whole.tree.entries)
        parts = [self._log_batch(sets[k : k + at_once]) for k in range(0, len(sets), at_once)]
        return np.concatenate(parts) - self.log_call

    def _log_batch(self, sets: Sequence[Sequence[Finding]]) -> Floats:
        width = len(sets)
        likelihoods: dict[str, Floats] = {
            name: np.repeat(values[None], width, axis=0) for name, values in self.priors.items()
        }
        proofs: dict[int, Finding] = {}
        for row, findings in enumerate(sets):
            for one in findings:
                if one.observation == graph.PROOF:
                    proofs[one.copy] = one
                    continue
                name, values = self.trees.enter(one.observation, one.epoch, one.likelihood)
                if name not in likelihoods:
                    likelihoods[name] = np.ones((width, len(values)))
                likelihoods[name][row] *= values
        logs, factors = [], []
        for passed in product((False, True), repeat=len(proofs)):
            factor = np.ones(width)
            here = dict(likelihoods)
            for proof, holds in zip(proofs.values(), passed, strict=True):
                fails, works = self.proof_likelihoods(proof)
                made = np.array([any(f is proof for f in findings) for findings in sets])
                factor *= np.where(made, works - fails if holds else fails, 0.0 if holds else 1.0)
                if holds:
                    for name, values in self.working(proof.epoch).items():
                        here[name] = here[name] * values if name in here else values
            for log_p, sign in self._both_logs(here):
                logs.append(log_p)
                factors.append(sign * factor)
        stacked = np.array(logs)
        top = stacked.max(axis=0)
        with np.errstate(divide="ignore", invalid="ignore"):
            parts = np.where(stacked == -inf, 0.0, np.array(factors) * np.exp(stacked - top))
            total = parts.sum(axis=0)
            least = LEAST * np.abs(parts).max(axis=0)
            result: Floats = np.where(total > least, top + np.log(np.maximum(total, 0.0)), -inf)
        return result

    def _both_logs(self, likelihoods: Mapping[str, Floats]) -> Iterator[tuple[Floats, float]]:
        trees = self.trees
        yield log_evidence(trees.whole.tree, likelihoods), 1.0
        sound = dict(likelihoods)
        for fault, mask in trees.may_break.items():
            sound[fault] = sound[fault] * mask
        factor, rest = trees.reduction.translate(sound)
        with np.errstate(divide="ignore"):
            log_p = np.log(factor) + log_evidence(trees.healthy.tree, rest)
        yield log_p, -(1.0 - self._without)

    @cached_property
    def log_call(self) -> float:
        """Natural log of P(call | site)."""
        sound = prod(
            float(self.priors[fault][self.trees.paths[fault].at(0) == 0].sum())
            for fault in self.model.faults
        )
        return log1p(-(1.0 - self._without) * sound)


def ground(model: Model, question: Question) -> Ground:
    """Check a question and find its trees.

    Raises UsageError for what the model does not have, TooLargeError when the tables would be.
    """
    everything = checked(model, question)
    trees = trees_for(model, question.done, ((s.observation, s.epoch) for s in everything))
    priors: dict[str, Floats] = {}
    for fault, p in odds.priors(model, question.site).items():
        first = trees.paths[fault].at(0)
        priors[fault] = np.where(first == 1, p, 1.0 - p) * trees.ways[fault]
    for name in trees.open_roots:
        if name in model.site:
            priors[name] = np.array(odds.site_chances(model, question.site, name))
    return Ground(model, question.site, trees, priors, latest_findings(everything, trees.newest))


def latest_findings(
    everything: Iterable[Seen], newest: Mapping[str, tuple[int, ...]]
) -> tuple[Finding, ...]:
    """What counts: of several answers about the same copy the last one, in its place in time."""
    latest: dict[tuple[str, int], Finding] = {}
    for seen in everything:
        copy = newest[seen.observation][seen.epoch]
        latest.pop((seen.observation, copy), None)
        likelihood = np.array(seen.likelihood, dtype=np.float64)
        finding = Finding(seen.observation, seen.epoch, copy, likelihood)
        latest[seen.observation, copy] = finding
    return tuple(latest.values())


def checked(model: Model, question: Question) -> tuple[Seen, ...]:
    """All that was said and seen. Raises UsageError for what the model does not have."""
    odds.check_site(model, question.site)
    for complaint in question.complaints:
        lookup("complaint", complaint, model.complaints)
    said = (Seen(0, complaint, (1.0, 0.0)) for complaint in question.complaints)
    everything = (*said, *question.seen)
    for seen in everything:
        _check(model, question, seen)
    return everything


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
