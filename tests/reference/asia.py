"""The "Asia" network of Lauritzen & Spiegelhalter 1988 (chest clinic), tables as published."""

from __future__ import annotations

from brinebayes.network.tables import Network, Table, Variable


def asia() -> Network:
    """Visit to Asia, smoking, tuberculosis, lung cancer, bronchitis, either, X-ray, dyspnoea."""
    names = ("asia", "smoke", "tub", "lung", "bronc", "either", "xray", "dysp")
    return Network(
        [Variable(name, ("no", "yes")) for name in names],
        [
            Table("asia", (), [0.99, 0.01]),
            Table("smoke", (), [0.5, 0.5]),
            Table("tub", ("asia",), [[0.99, 0.01], [0.95, 0.05]]),
            Table("lung", ("smoke",), [[0.99, 0.01], [0.9, 0.1]]),
            Table("bronc", ("smoke",), [[0.7, 0.3], [0.4, 0.6]]),
            Table("either", ("tub", "lung"), [[[1, 0], [0, 1]], [[0, 1], [0, 1]]]),
            Table("xray", ("either",), [[0.95, 0.05], [0.02, 0.98]]),
            Table(
                "dysp",
                ("either", "bronc"),
                [[[0.9, 0.1], [0.2, 0.8]], [[0.3, 0.7], [0.1, 0.9]]],
            ),
        ],
    )
