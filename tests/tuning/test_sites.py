"""Odds at every kind of site."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from brinebayes.network import odds
from brinebayes.tuning.chunk import chunk
from brinebayes.tuning.sites import site_odds
from brinebayes.tuning.told import Told
from tests.strategies import SLOW_LAW, small_models, visits
from tests.tuning.made import has_odds


class TestSiteOdds:
    """The tables agree with what the network is given for one site."""

    @SLOW_LAW
    @given(data=st.data())
    def test_the_same_as_for_one_site(self, data: st.DataObject) -> None:
        model = data.draw(small_models())
        assume(has_odds(model))
        sites = [data.draw(visits(model)).site for _ in range(3)]
        cases = [(Told(site=tuple(sorted(site.items()))), 1.0) for site in sites]
        tables = site_odds(model)
        before = tables.before(chunk(model, cases).site)
        for column, site in enumerate(sites):
            wanted = list(odds.priors(model, site).values())
            assert before[:, column] == pytest.approx(wanted, abs=1e-12)
        none = np.prod(1.0 - before, axis=0)
        wanted_calls = 1.0 - (1.0 - odds.base(model).call_without_fault) * none
        assert tables.called(before) == pytest.approx(wanted_calls)
