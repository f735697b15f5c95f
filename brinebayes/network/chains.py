"""A mechanism as a chain of maxima, one for each epoch that has a copy of it.

The mechanism is in the worst state that its causes, or the leak, bring about. Taken one cause after
the other, no table holds more than the running maximum and the parents of one cause. All chains
take their causes in one common order, so that two chains over the same faults run side by side and
little stays open at any place.

After a repair a chain takes the causes that no repair touches first, and the epochs share that
part. Only noise that shows in two places becomes a variable of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf

from brinebayes.knowledge.schema import Mechanism, Model
from brinebayes.network import graph
from brinebayes.network.local import Step, is_open


def common_order(model: Model) -> dict[str, float]:
    """The one order in which all chains take their causes: faults by group, as in the file; a
    mechanism where the faults behind it stand on average."""
    groups = {fault.group: None for fault in model.faults.values()}
    by_group = [f for g in groups for f, fault in model.faults.items() if fault.group == g]
    rank = {fault: float(i) for i, fault in enumerate(by_group)}
    parents = graph.parents_of(model)
    for mechanism in graph.mechanism_order(model):
        ranks = [rank[p] for p in parents[mechanism] if p in rank]
        rank[mechanism] = sum(ranks) / len(ranks) if ranks else 0.0
    return rank


@dataclass(frozen=True, slots=True)
class Link:
    """Causes of one mechanism that depend on the same parents; `place`: where in the chain."""

    place: int
    parents: tuple[str, ...]
    causes: tuple[int, ...]


def links_of(mechanism: Mechanism, rank: Mapping[str, float]) -> tuple[Link, ...]:
    """The causes grouped by their parents, in the common order."""
    groups: dict[frozenset[str], list[int]] = {}
    for j, cause in enumerate(mechanism.causes):
        groups.setdefault(frozenset(cause.when), []).append(j)

    def last(causes: list[int]) -> float:
        # A site condition has no rank: it is known on nearly every visit and costs no width then.
        return max(rank.get(p, -1.0) for p in mechanism.causes[causes[0]].when)

    return tuple(
        Link(place, tuple(mechanism.causes[causes[0]].when), tuple(causes))
        for place, causes in enumerate(sorted(groups.values(), key=last))
    )


@dataclass(frozen=True, slots=True)
class Chains:
    """The chains of one mechanism over all epochs.

    `steps` in an order that a network can be built in; `leak_root`: the variable of the leak when
    it has one of its own; `noise_roots`: causes whose noise has a variable of its own, with the
    step of the first epoch's chain that it belongs to; `like`: variables that are not part of the
    first epoch's network -> the one of it that they resemble.
    """

    steps: tuple[Step, ...]
    leak_root: str | None
    noise_roots: Mapping[int, str]
    like: Mapping[str, str]


def plan(
    name: str,
    mechanism: Mechanism,
    links: tuple[Link, ...],
    bound: Mapping[tuple[Link, int], tuple[str, ...]],
    finals: Mapping[int, str],
) -> Chains:
    """Lay out the chains of one mechanism.

    `bound`: the variables that stand for a link's parents in each epoch; `finals`: the variable
    that stands for the mechanism in each epoch that has a copy of it.
    """
    epochs = sorted(finals)
    resembles = {
        link: name if link.place == len(links) - 1 else _step_name(name, link.place)
        for link in links
    }

    def first_change(link: Link) -> float:
        changed = [e for e in epochs if bound[link, e] != bound[link, epochs[0]]]
        return changed[0] if changed else inf

    ordered = sorted(links, key=lambda link: -first_change(link))  # ties keep the common order
    chains = {epoch: [(link, bound[link, epoch]) for link in ordered] for epoch in epochs}
    prefixes = {tuple(chain[: k + 1]) for chain in chains.values() for k in range(len(chain))}
    uses = {link: sum(prefix[-1][0] == link for prefix in prefixes) for link in links}
    leak_apart = mechanism.leak is not None and uses[ordered[0]] > 1
    leak_root = f"{name}__leak" if leak_apart else None
    roots = {
        j: resembles[link]
        for link in links
        for j in link.causes
        if uses[link] > 1 and is_open(mechanism.causes[j].effect)
    }
    last_of = {tuple(chain): finals[epoch] for epoch, chain in chains.items()}
    made: dict[tuple[tuple[Link, tuple[str, ...]], ...], str] = {}
    steps: list[Step] = []
    like = {} if leak_root is None else {leak_root: resembles[links[0]]}
    for epoch in epochs:
        previous = leak_root
        for k, link in enumerate(ordered):
            prefix = tuple(chains[epoch][: k + 1])
            if prefix not in made:
                made[prefix] = last_of.get(prefix, _step_name(name, len(made)))
                like[made[prefix]] = resembles[link]
                steps.append(
                    Step(
                        name,
                        made[prefix],
                        previous,
                        bound[link, epoch],
                        link.parents,
                        link.causes,
                        tuple(j in roots for j in link.causes),
                        k == 0 and mechanism.leak is not None and not leak_apart,
                    )
                )
            previous = made[prefix]
    return Chains(tuple(steps), leak_root, roots, like)


def _step_name(mechanism: str, place: int) -> str:
    return f"{mechanism}__c{place}"
