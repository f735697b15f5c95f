"""Priors at many sites, against those of one site."""

from __future__ import annotations

import numpy as np

from brinebayes.knowledge.schema import Model
from brinebayes.network import odds
from brinebayes.scoring.sites import SitePriors


class TestSitePriors:
    """Every fault and condition, at sites known in part."""

    def test_as_one_site_at_a_time(self, shipped: Model) -> None:
        draw = np.random.default_rng(1)
        sites = []
        for _ in range(40):
            told = [name for name in shipped.site if draw.random() < 0.6]
            sites.append(
                tuple((n, str(draw.choice(list(shipped.site[n].values)))) for n in sorted(told))
            )
        found = SitePriors(shipped).of(sites)
        for row, site in enumerate(sites):
            for fault, p in odds.priors(shipped, dict(site)).items():
                assert np.allclose(found[fault][row], [1.0 - p, p], atol=1e-15)
            for name in shipped.site:
                chances = odds.site_chances(shipped, dict(site), name)
                assert np.array_equal(found[name][row], chances)
