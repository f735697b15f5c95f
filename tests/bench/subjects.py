"""Networks to measure on: published ones and a generated one of the shipped model's shape."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from brinebayes.network.tables import Network
from tests.bench.networks import sketch
from tests.reference.published import NETWORKS, UnavailableError, published


@dataclass(frozen=True)
class Subject:
    """A network, the roots whose posteriors are wanted, the leaves whose outcomes are asked."""

    name: str
    network: Network
    targets: tuple[str, ...]
    leaves: tuple[str, ...]
    #: Roots whose prior is given at calibration, as it is for a visit.
    open_roots: tuple[str, ...] = ()


def subjects(wanted: tuple[str, ...]) -> Iterator[Subject]:
    """Those wanted by name, all if none is named; says which published one is not to be had."""
    for name in sorted(NETWORKS):
        if wanted and name not in wanted:
            continue
        try:
            network, _ = published(name)
        except UnavailableError as reason:
            print(f"{name} left out: {reason}")
            continue
        leaves = tuple(one for one in network.names if not network.children(one))
        roots = tuple(one for one in network.roots if one not in leaves)
        yield Subject(name, network, roots, leaves)
    if not wanted or "generated" in wanted:
        made = sketch(3)
        yield Subject("generated", made.network, made.faults, made.checks, made.faults)
