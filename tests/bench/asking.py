"""All root posteriors for every outcome of every leaf: against two libraries, paired.

Each evidence set is fresh and is asked of every contender right after one another, in turn first.
What is timed is everything that depends on the evidence: entering it, calibration, all answers.
Building a network, compiling a tree and importing anything is not.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinebayes.network.compile import compile_network
from brinebayes.network.propagate import Joints, answer, calibrate, prepare
from tests.bench.measure import Measurement, spread, timed
from tests.bench.networks import evidence_sets
from tests.bench.subjects import Subject
from tests.reference.oracles import agrum_network

Floats = NDArray[np.float64]
Evidence = dict[str, int]

MOST_OBSERVATIONS = 12


@dataclass(frozen=True)
class Effort:
    """How many evidence sets each contender is asked: ours, pyAgrum; single queries to pgmpy."""

    ours: int = 200
    agrum: int = 20
    queries: int = 12
    seed: int = 20240


@dataclass
class Times:
    """Seconds per evidence set, by contender."""

    ours: list[float] = field(default_factory=list)
    loop: list[float] = field(default_factory=list)
    incremental: list[float] = field(default_factory=list)
    paired: list[float] = field(default_factory=list)


def measure(subject: Subject, effort: Effort) -> Iterator[Measurement]:
    """Time, ratio to each contender, and largest difference of any posterior or joint."""
    ours = Ours(subject)
    loop, incremental = AgrumLoop(subject), AgrumIncremental(subject)
    # Half of the leaves at most, so that there is something left to ask in a small network.
    most = min(MOST_OBSERVATIONS, len(subject.leaves) // 2)
    sets = evidence_sets(subject.network, subject.leaves, effort.ours + 5, most, effort.seed)
    for evidence in sets[:5]:
        ours.ask(evidence)
    loop.ask({})
    incremental.ask({})
    times = Times()
    every = max(1, effort.ours // max(effort.agrum, 1))
    for i, evidence in enumerate(sets[5:]):
        if i % every or len(times.loop) >= effort.agrum:
            times.ours.append(timed(lambda evidence=evidence: ours.ask(evidence))[0])
            continue
        contenders = [(times.loop, loop), (times.incremental, incremental), (times.paired, ours)]
        for k in range(3):
            record, contender = contenders[(i // every + k) % 3]
            if contender is ours:
                # A second of another program has emptied the caches; warm is what is measured.
                ours.ask(sets[i % 5])
            record.append(timed(lambda c=contender, e=evidence: c.ask(e))[0])
        times.ours.append(times.paired[-1])
    yield Measurement(subject.name, "table entries of the tree", ours.tree.entries, "")
    yield Measurement(subject.name, "largest table", ours.tree.largest, "")
    outcomes = sum(len(subject.network.states(leaf)) for leaf in subject.leaves)
    yield Measurement(subject.name, "outcomes of all leaves", outcomes, "")
    yield Measurement(subject.name, "observations at most", most, "")
    yield Measurement(subject.name, "targets", len(subject.targets), "")
    yield from spread(subject.name, "all answers", times.ours)
    yield from _ratio(subject, "a plain pyAgrum loop", times.loop, times.paired, "100 x")
    yield from _ratio(
        subject,
        "pyAgrum, targets set, one evidence changed",
        times.incremental,
        times.paired,
        "40 x",
    )
    yield _pgmpy(subject, sets[5:], times.ours, outcomes, effort)
    yield from _agreement(subject, ours, loop, sets[5 : 5 + effort.agrum])


def _ratio(
    subject: Subject, name: str, theirs: Sequence[float], ours: Sequence[float], target: str
) -> Iterator[Measurement]:
    if not theirs:
        return
    note = f"{len(theirs)} sets, paired"
    yield Measurement(
        subject.name, f"{name}, median", 1e3 * float(np.median(theirs)), "ms", "", note
    )
    yield Measurement(
        subject.name, f"{name}: times ours, of totals", sum(theirs) / sum(ours), "x", target, note
    )


# --- contenders --------------------------------------------------------------------------------


class Ours:
    """One calibration and one answer."""

    def __init__(self, subject: Subject) -> None:
        network = subject.network
        self.tree = compile_network(network, leaves=subject.leaves, open_roots=subject.open_roots)
        self.question = prepare(self.tree, subject.targets, subject.leaves)
        self.rows = {n: np.eye(len(network.states(n))) for n in subject.leaves}
        self.priors = {n: network.table_of[n].values for n in subject.open_roots}

    def ask(self, evidence: Evidence) -> Joints:
        seen = {name: self.rows[name][state] for name, state in evidence.items()}
        return answer(calibrate(self.tree, {**self.priors, **seen}), self.question)


class AgrumLoop:
    """One inference from scratch per outcome: what a straightforward program does."""

    def __init__(self, subject: Subject) -> None:
        self.subject = subject
        self.net = agrum_network(subject.network)

    def engine(self) -> Any:
        import pyagrum

        return pyagrum.LazyPropagation(self.net)

    def ask(self, evidence: Evidence) -> dict[tuple[str, int], dict[str, Floats]]:
        engine = self.engine()
        found = {}
        for leaf, outcome in _outcomes(self.subject, evidence):
            engine.setEvidence({**evidence, leaf: outcome})
            if _possible(engine.makeInference):
                found[leaf, outcome] = {
                    name: engine.posterior(name).toarray() for name in self.subject.targets
                }
        return found

    def probabilities(self, evidence: Evidence) -> dict[tuple[str, int], float]:
        """P(outcome | evidence), each from the probability of all evidence together."""
        engine = self.engine()
        engine.setEvidence(evidence)
        engine.makeInference()
        before = engine.evidenceProbability()
        found = {}
        for leaf, outcome in _outcomes(self.subject, evidence):
            engine.setEvidence({**evidence, leaf: outcome})
            if _possible(engine.makeInference):
                found[leaf, outcome] = engine.evidenceProbability() / before
        return found


class AgrumIncremental:
    """Targets declared, and only the one outcome changed from one inference to the next."""

    def __init__(self, subject: Subject) -> None:
        self.subject = subject
        self.net = agrum_network(subject.network)

    def ask(self, evidence: Evidence) -> int:
        import pyagrum

        engine = pyagrum.LazyPropagation(self.net)
        for name in self.subject.targets:
            engine.addTarget(name)
        engine.setEvidence(evidence)
        asked, last = 0, ""
        for leaf, outcome in _outcomes(self.subject, evidence):
            if leaf != last:
                if last:
                    engine.eraseEvidence(last)
                engine.addEvidence(leaf, outcome)
                last = leaf
            else:
                engine.chgEvidence(leaf, outcome)
            if _possible(engine.makeInference):
                for name in self.subject.targets:
                    engine.posterior(name)
                asked += 1
        return asked


def _outcomes(subject: Subject, evidence: Evidence) -> Iterator[tuple[str, int]]:
    for leaf in subject.leaves:
        if leaf not in evidence:
            for outcome in range(len(subject.network.states(leaf))):
                yield leaf, outcome


def _possible(infer: Callable[[], None]) -> bool:
    import pyagrum

    try:
        infer()
    except pyagrum.IncompatibleEvidence:
        return False
    return True


def _pgmpy(
    subject: Subject, sets: Sequence[Evidence], ours: Sequence[float], outcomes: int, effort: Effort
) -> Measurement:
    """A few single queries (one target, one outcome), scaled up to all targets and outcomes."""
    from pgmpy.inference import VariableElimination

    from brinebayes.network.exchange import to_pgmpy

    model = to_pgmpy(subject.network)
    rng = np.random.default_rng(effort.seed)
    seconds = []
    for evidence in sets[: effort.queries]:
        open_leaves = [leaf for leaf in subject.leaves if leaf not in evidence]
        leaf = open_leaves[int(rng.integers(len(open_leaves)))]
        target = subject.targets[int(rng.integers(len(subject.targets)))]
        names = {n: subject.network.states(n)[state] for n, state in evidence.items()}
        names[leaf] = subject.network.states(leaf)[0]
        engine = VariableElimination(model)
        seconds.append(
            timed(lambda e=engine, t=target, n=names: e.query([t], n, show_progress=False))[0]
        )
    whole = float(np.mean(seconds)) * outcomes * len(subject.targets)
    return Measurement(
        subject.name,
        "a pgmpy loop: times ours",
        whole / float(np.mean(ours)),
        "x",
        "5,000 x",
        f"{len(seconds)} single queries, mean {1e3 * float(np.mean(seconds)):.3g} ms, "
        "times outcomes times targets",
    )


def _agreement(
    subject: Subject, ours: Ours, loop: AgrumLoop, sets: Sequence[Evidence]
) -> Iterator[Measurement]:
    """Largest differences from pyAgrum over all outcomes and targets of some evidence sets."""
    posterior = joint = 0.0
    compared = 0
    for evidence in sets:
        found = ours.ask(evidence)
        theirs, chances = loop.ask(evidence), loop.probabilities(evidence)
        for (leaf, outcome), after in theirs.items():
            chance = chances[leaf, outcome]
            for name, expected in after.items():
                mine = found.of(leaf, name)[outcome]
                joint = max(joint, float(np.abs(mine - chance * expected).max()))
                mine = mine / found.outcomes[found.rows[leaf]][outcome]
                posterior = max(posterior, float(np.abs(mine - expected).max()))
                compared += 1
    note = f"{compared:,} pairs of outcome and target"
    yield Measurement(
        subject.name, "largest difference of a posterior from pyAgrum", posterior, "", "1e-9", note
    )
    yield Measurement(
        subject.name, "largest difference of a joint from pyAgrum", joint, "", "1e-9", note
    )
