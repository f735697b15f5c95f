"""Beliefs after more repairs than the trees can hold: rows carried forward.

Where the tables of the whole visit would grow beyond the budget, the exact engine answers for as
many repairs as it can, joint states are drawn from it, and these are carried through the repairs
that are left: success and harm are drawn for each row, what was seen afterwards weighs it. Success
and harm are drawn more evenly than they come, and weighted for it, since what follows is often a
proof that failed. The result is as good as its number of effective draws says, and says so.
Source: sequential importance sampling, Liu & Chen 1998 (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cached_property
from math import log

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import EvidenceConflict
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.chance import Chance
from brinebayes.network.evidence import (
    Finding,
    Ground,
    Question,
    Seen,
    checked,
    ground,
    latest_findings,
)
from brinebayes.network.sampling import Drawn, draw_states
from brinebayes.network.tables import TooLargeError
from brinebayes.network.worlds import States, Worlds, evaluate, outcome_chances, works
from brinebayes.record import record

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: Rows that are carried.
ROWS = 8_000
#: Chance of success within these bounds, of harm at least the second, while drawing.
EVEN = (0.35, 0.65)
HARM = 0.05


@record(eq=False)
class CarriedBelief:
    """As `belief.Belief`, from weighted rows instead of exact trees."""

    model: Model
    table: Worlds
    findings: tuple[Finding, ...]
    log_evidence: float
    last: int
    newest: Mapping[str, tuple[int, ...]]

    @property
    def effective_draws(self) -> float:
        """How many independent draws of equal weight would be as exact."""
        return self.table.effective_draws

    @property
    def no_fault(self) -> float:
        """Probability that no fault was present when the call was made."""
        return float(self.table.weights @ ~self.table.first_faults.any(axis=1))

    @cached_property
    def faults(self) -> Mapping[str, float]:
        """Fault -> probability that it is present now."""
        values = self.table.weights @ self.table.faults
        return ReadOnly(dict(zip(self.model.faults, values.tolist(), strict=True)))

    @property
    def works(self) -> float:
        """Probability that the unit works now."""
        return float(self.table.weights @ self.table.works)

    @cached_property
    def outcomes(self) -> Mapping[str, Floats]:
        """Observation, or `proof` -> (outcomes,), probability of each."""
        return ReadOnly({name: both[:, 0] for name, both in self._joints.items()})

    @cached_property
    def joint(self) -> Mapping[str, Floats]:
        """Observation, or `proof` -> (outcomes, faults), P(outcome and fault present)."""
        return ReadOnly({name: both[:, 1:] for name, both in self._joints.items()})

    def worlds(self, n: int, seed: int) -> Worlds:
        """About `n` of the rows, drawn by weight at even distances; equal weights, merged."""
        aims = (np.arange(n) + Chance(seed).random(1)) / n
        ends = np.cumsum(self.table.weights)
        at, counts = np.unique(np.searchsorted(ends / ends[-1], aims), return_counts=True)
        kept = np.minimum(at, len(ends) - 1)
        return self.table.only(kept, counts / n, min(float(n), self.effective_draws))

    @cached_property
    def _joints(self) -> dict[str, Floats]:
        """Per observation (outcomes, 1 + faults): P(outcome), P(outcome and fault present)."""
        count = len(self.table.weights)
        present = np.column_stack([np.ones(count), self.table.faults])
        names = (*graph.observations(self.model), graph.PROOF)
        weighed = [self._weighed(name) for name in names]
        ends = np.cumsum([each.shape[1] for each in weighed])
        joint = np.concatenate(weighed, axis=1).T @ present
        return dict(zip(names, np.split(joint, ends[:-1]), strict=True))

    def _weighed(self, name: str) -> Floats:
        """(n, outcomes): P(row and next outcome)."""
        chances = self.table.observation_likelihoods(name)
        for one in self.findings:
            if one.observation == name and one.copy == self.newest[name][self.last]:
                # Answered already: the answer given, as far as it is known, is given again.
                chances = chances * one.likelihood
                total = chances.sum(axis=1, keepdims=True)
                chances = np.divide(chances, total, out=np.zeros_like(chances), where=total > 0)
        return chances * self.table.weights[:, None]


def carried(model: Model, question: Question) -> CarriedBelief:
    """Beliefs from rows, exact up to the last repair that the trees can hold.

    Raises EvidenceConflict when no row fits what was seen.
    """
    newest = graph.versions(model, question.done)
    findings = latest_findings(checked(model, question), newest)
    known = _exact_part(model, question, findings)
    mixture = known.calibrated()
    seed = 1
    drawn = draw_states(known, mixture, ROWS, seed, merge=False)
    chance = Chance(seed, 2)
    rows = _Rows(model, question.done, drawn, chance)
    for epoch in range(known.last + 1, len(question.done) + 1):
        rows.repair(epoch)
        for one in findings:
            if one.copy == epoch:
                rows.weigh(one)
    total = float(rows.weights.sum())
    if total <= 0.0:
        raise EvidenceConflict("none of the rows drawn fits what was seen after the last repairs")
    table = rows.worlds()
    log_evidence = mixture.log_probability - known.log_call + log(total)
    last = len(question.done)
    return CarriedBelief(model, table, findings, log_evidence, last, newest)


def _exact_part(model: Model, question: Question, findings: tuple[Finding, ...]) -> Ground:
    """The question up to the last repair that the trees can hold."""
    for count in range(len(question.done) - 1, -1, -1):
        seen = tuple(
            Seen(min(one.epoch, count), one.observation, tuple(one.likelihood.tolist()))
            for one in findings
            if one.copy <= count
        )
        part = replace(question, complaints=(), done=question.done[:count], seen=seen)
        try:
            return ground(model, part)
        except TooLargeError:
            if count == 0:
                raise
    raise AssertionError("only what comes after a repair is carried")


class _Rows:
    """Rows on their way through the repairs (local to `carried`)."""

    def __init__(self, model: Model, done: tuple[str, ...], drawn: Drawn, chance: Chance) -> None:
        self.model, self.done, self.drawn, self.chance = model, done, drawn, chance
        self.weights = drawn.weights.copy()
        #: Faults after each repair so far.
        self.epochs: list[Bools] = list(drawn.faults)
        self.luck: dict[tuple[str, str], Bools] = {}
        self.mechanisms = self._evaluated()

    def _evaluated(self) -> dict[str, States]:
        return evaluate(self.model, self.drawn.site, self.epochs[-1], self.drawn.noise)

    def repair(self, epoch: int) -> None:
        """Draw what the repair that opens `epoch` brought about."""
        name = self.done[epoch - 1]
        repair = self.model.repairs[name]
        after = self.epochs[-1].copy()
        for j, fault in enumerate(self.model.faults):
            if fault in repair.clears:
                success = self._luck(name, fault, j, epoch, repair.clears[fault].value)
                after[:, j] &= ~success
            if fault in repair.harms:
                p = repair.harms[fault].value
                everywhere = np.ones(len(after), dtype=bool)
                after[:, j] |= self._drawn(p, max(p, HARM), everywhere)
        self.epochs.append(after)
        self.mechanisms = self._evaluated()

    def _luck(self, name: str, fault: str, j: int, epoch: int, p: float) -> Bools:
        """(n,): whether the repair succeeds, with the luck of earlier tries where it is shared."""
        present = self.epochs[-1][:, j]
        told = shared = np.zeros(len(present), dtype=bool)
        if self.model.repairs[name].same_luck:
            told, shared = self._told(name, fault, j, epoch, p)
        even = min(max(p, EVEN[0]), EVEN[1]) if 0.0 < p < 1.0 else p
        success = np.where(told, shared, self._drawn(p, even, present & ~told))
        if self.model.repairs[name].same_luck:
            self.luck[name, fault] = success
        return success

    def _told(self, name: str, fault: str, j: int, epoch: int, p: float) -> tuple[Bools, Bools]:
        """Where an earlier try has told the luck of this one, and what it was."""
        count = len(self.weights)
        if (name, fault) in self.luck:
            return np.ones(count, dtype=bool), self.luck[name, fault]
        harms = self.model.repairs[name].harms
        harm = harms[fault].value if fault in harms else 0.0
        # Present after a try: it failed, or it did harm all the same.
        spoiled = p * harm / (p * harm + 1.0 - p) if p * harm > 0.0 or p < 1.0 else 0.0
        told, luck = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
        for earlier in range(1, epoch):
            if self.done[earlier - 1] == name:
                before, after = self.epochs[earlier - 1][:, j], self.epochs[earlier][:, j]
                here = np.where(after, self.chance.random(count) < spoiled, True)
                luck = np.where(before & ~told, here, luck)
                told = told | before
        return told, luck

    def _drawn(self, p: float, drawn_with: float, matters: Bools) -> Bools:
        """Draw an event of probability `p` with another one, weighted where it matters."""
        happens = self.chance.random(len(self.weights)) < np.where(matters, drawn_with, p)
        if p != drawn_with:
            ratio = np.where(happens, p / drawn_with, (1.0 - p) / (1.0 - drawn_with))
            self.weights = self.weights * np.where(matters, ratio, 1.0)
        return happens

    def weigh(self, finding: Finding) -> None:
        """Weigh the rows by what was seen in the present epoch."""
        name, model = finding.observation, self.model
        if name in model.faults:
            here = self.epochs[-1][:, list(model.faults).index(name)]
            factor = finding.likelihood[here.astype(np.intp)]
        elif name in model.mechanisms:
            factor = finding.likelihood[self.mechanisms[name]]
        elif name == graph.WORKS:
            factor = finding.likelihood[works(model, self.mechanisms).astype(np.intp)]
        else:
            faults = self.epochs[-1]
            chances = outcome_chances(model, name, self.drawn.site, faults, self.mechanisms)
            factor = chances @ finding.likelihood
        self.weights = self.weights * factor

    def worlds(self) -> Worlds:
        """The rows as they are now."""
        weights = self.weights / self.weights.sum()
        first = self.epochs[0]
        return Worlds(
            model=self.model,
            site=self.drawn.site,
            faults=self.epochs[-1],
            noise=self.drawn.noise,
            mechanisms=self.mechanisms,
            works=np.broadcast_to(works(self.model, self.mechanisms), weights.shape),
            weights=weights,
            effective_draws=1.0 / float(weights @ weights),
            first_faults=first,
            first_mechanisms=evaluate(self.model, self.drawn.site, first, self.drawn.noise),
        )
