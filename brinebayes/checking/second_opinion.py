"""What pgmpy's own check says of the network: a second opinion, asked only by `model check`."""

from __future__ import annotations

from brinebayes.network.tables import Network


def second_opinion(network: Network) -> str:
    """`ok`, or what pgmpy finds wrong with the parents, states and sums of the tables."""
    from brinebayes.network.exchange import to_pgmpy

    try:
        # It raises ValueError for what it finds; a plain False has not been seen but may not pass.
        return "ok" if to_pgmpy(network).check_model() else "refused without a reason"
    except ValueError as error:
        return f"refused: {error}"
