"""pgmpy's own check of the network."""

from __future__ import annotations

import numpy as np

from brinebayes.checking.second_opinion import second_opinion
from brinebayes.network.build import build
from brinebayes.network.tables import Network, Table, Variable
from tests.checking.planted import small


class TestSecondOpinion:
    """It passes a sound network and refuses one that does not sum to one."""

    def test_the_small_model(self) -> None:
        assert second_opinion(build(small(), {}).network) == "ok"

    def test_a_table_that_does_not_sum_to_one(self) -> None:
        """Our own classes would refuse it, so the values are put in behind their back."""
        table = Table("a", (), [0.5, 0.5])
        object.__setattr__(table, "values", np.array([0.5, 0.4]))
        network = Network([Variable("a", ("x", "y"))], [table])
        assert second_opinion(network).startswith("refused: ")
