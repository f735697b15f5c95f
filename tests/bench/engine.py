"""The parts of the engine by themselves: compiling, loading, calibrating, batches, draws."""

from __future__ import annotations

import pickle
from collections.abc import Iterator

import numpy as np

from brinebayes.network.compile import compile_network
from brinebayes.network.propagate import Stratum, answer, calibrate, draw, posteriors, prepare
from tests.bench.measure import Measurement, processor_timed, spread, timed
from tests.bench.networks import evidence_sets
from tests.bench.subjects import Subject

CASES = 4_000


def measure(subject: Subject, sets: int) -> Iterator[Measurement]:
    """Times of single steps on one subject."""
    network, name = subject.network, subject.name
    made = {"leaves": subject.leaves, "open_roots": subject.open_roots}
    seconds, tree = timed(lambda: compile_network(network, **made))
    yield Measurement(name, "compile, order searched", 1e3 * seconds, "ms")
    again = [timed(lambda: compile_network(network, order=tree.order, **made))[0] for _ in range(5)]
    yield Measurement(name, "compile, order given, median", 1e3 * float(np.median(again)), "ms")
    seconds, question = timed(lambda: prepare(tree, subject.targets, subject.leaves))
    yield Measurement(name, "prepare the question", 1e3 * seconds, "ms")
    stored = pickle.dumps((tree, question), protocol=pickle.HIGHEST_PROTOCOL)
    loads = [timed(lambda: pickle.loads(stored))[0] for _ in range(25)]
    note = f"{len(stored) / 1e6:.2f} MB"
    load = 1e3 * float(np.median(loads))
    yield Measurement(name, "load tree and question, median", load, "ms", "", note)
    yield from _single(subject, tree, question, sets)
    yield from _batch(subject, tree)


def _single(subject: Subject, tree: object, question: object, sets: int) -> Iterator[Measurement]:
    calibrations, answers, draws = [], [], []
    for evidence in evidence_sets(subject.network, subject.leaves, sets, 12, seed=3):
        seen = _likelihoods(subject, evidence)
        seconds, beliefs = timed(lambda seen=seen: calibrate(tree, seen))
        calibrations.append(seconds)
        answers.append(timed(lambda b=beliefs: answer(b, question))[0])
        strata = [
            Stratum(target, 1, 4)
            for target in subject.targets
            if beliefs.marginal(target)[0, 1] > 1e-4
        ]
        draws.append(timed(lambda b=beliefs, s=strata: draw(b, 500, 1, s))[0])
    yield from spread(subject.name, "calibrate", calibrations)
    yield from spread(subject.name, "answer", answers)
    yield from spread(subject.name, "draw 500 rows and 4 given each target", draws)


def _batch(subject: Subject, tree: object) -> Iterator[Measurement]:
    """Posteriors of many different cases of six to twelve observations."""
    network = subject.network
    sets = evidence_sets(network, subject.leaves, CASES, 12, seed=9)
    batch = {
        leaf: np.array(
            [
                np.eye(len(network.states(leaf)))[evidence[leaf]]
                if leaf in evidence
                else np.ones(len(network.states(leaf)))
                for evidence in sets
            ]
        )
        for leaf in subject.leaves
    }
    batch |= {root: network.table_of[root].values for root in subject.open_roots}
    seconds, _ = processor_timed(lambda: posteriors(tree, batch, subject.targets))
    yield Measurement(
        subject.name,
        "posteriors of recorded cases",
        CASES / seconds,
        "a second",
        "2,500 a second",
        f"{CASES} cases, every leaf entered in each, seconds of processor time",
    )


def _likelihoods(subject: Subject, evidence: dict[str, int]) -> dict[str, np.ndarray]:
    network = subject.network
    seen = {name: np.eye(len(network.states(name)))[state] for name, state in evidence.items()}
    return {**{n: network.table_of[n].values for n in subject.open_roots}, **seen}
