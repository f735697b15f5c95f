"""Random visits to a unit of a model: sites, complaints, answers, readings, repairs and proofs."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.evidence import Question, Seen


def visits(model: Model, count: int, seed: int, sequences: int) -> Iterator[Question]:
    """`count` questions, the repairs of each one of `sequences` sequences of up to two repairs."""
    chance = Random(seed)
    repairs = list(model.repairs)
    done = [()] + [
        tuple(chance.choice(repairs) for _ in range(1 + k % 2)) for k in range(sequences - 1)
    ]
    for k in range(count):
        yield _visit(model, chance, done[k % len(done)])


def _visit(model: Model, chance: Random, done: tuple[str, ...]) -> Question:
    site = {
        name: chance.choice(list(condition.values))
        for name, condition in model.site.items()
        if chance.random() < 0.4
    }
    complaints = tuple(chance.sample(list(model.complaints), chance.choice((0, 1, 1, 2))))
    seen: list[Seen] = []
    for epoch in range(len(done) + 1):
        for name in chance.sample(list(graph.observations(model)), chance.randint(0, 5)):
            seen.append(Seen(epoch, name, _answer(model, chance, name)))
        if epoch:
            seen.append(Seen(epoch, graph.PROOF, (0.0, 1.0)))
    return Question(site, complaints, done, tuple(seen))


def _answer(model: Model, chance: Random, name: str) -> tuple[float, ...]:
    """An outcome, or every third time a reading: a likelihood over the outcomes."""
    states = graph.states_of(model, name)
    if chance.random() < 1 / 3:
        return tuple(chance.choice((0.01, 0.2, 0.7, 1.0)) for _ in states)
    seen = chance.randrange(len(states))
    return tuple(float(k == seen) for k in range(len(states)))
