"""A mechanism as a chain of maxima, one for each epoch that has a copy of it.

The mechanism is in the worst state that its causes, or the leak, bring about. Taken one cause after
the other, no table holds more than the running maximum and the parents of one cause.

After a repair a chain takes the causes that no repair touches first, and the epochs share that
part. Only noise that shows in two places becomes a variable of its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf

from brinebayes.knowledge.schema import Mechanism
from brinebayes.network.local import Step, is_open


@dataclass(frozen=True, slots=True)
class Link:
    """Causes of one mechanism that depend on the same parents; `place`: where in the chain."""

    place: int
    parents: tuple[str, ...]
    causes: tuple[int, ...]


def links_of(mechanism: Mechanism, order: Sequence[tuple[int, ...]]) -> tuple[Link, ...]:
    """The links of a mechanism, given its causes in the order of its chain (see `ordering`)."""
    return tuple(
        Link(place, tuple(mechanism.causes[causes[0]].when), causes)
        for place, causes in enumerate(order)
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

    ordered = sorted(links, key=lambda link: -first_change(link))  # ties keep their order
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
