"""The chances that a site gives to faults and conditions, worked out once per kind of site."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from brinebayes.knowledge.schema import Model
from brinebayes.network import odds
from brinebayes.network.local import Floats

Site = tuple[tuple[str, str], ...]


class SitePriors:
    """Priors of faults and site conditions at very many sites.

    A fault looks at a few conditions only, and faults that look at the same ones are worked out
    together, once for each combination of what is known of them.
    """

    def __init__(self, model: Model) -> None:
        self._model = model
        groups: dict[tuple[str, ...], list[str]] = {}
        for fault, matters in odds.base(model).factors.items():
            groups.setdefault(tuple(name for name, _ in matters), []).append(fault)
        self._groups = groups
        self._known: dict[tuple[str, ...], dict[tuple[str | None, ...], Floats]] = {
            conditions: {} for conditions in groups
        }

    def of(self, sites: Sequence[Site]) -> Mapping[str, Floats]:
        """Fault or site condition -> (sites, states), its chances before the call is known."""
        told = [dict(site) for site in sites]
        found: dict[str, Floats] = {}
        for conditions, faults in self._groups.items():
            values = np.array([self._present(conditions, faults, site) for site in told])
            for column, fault in enumerate(faults):
                present = values[:, column]
                found[fault] = np.stack([1.0 - present, present], axis=1)
        for name in self._model.site:
            found[name] = np.array([odds.site_chances(self._model, s, name) for s in told])
        return found

    def _present(
        self, conditions: tuple[str, ...], faults: Sequence[str], site: Mapping[str, str]
    ) -> Floats:
        key = tuple(site.get(name) for name in conditions)
        known = self._known[conditions]
        if key not in known:
            here = {name: site[name] for name in conditions if name in site}
            priors = odds.priors(self._model, here)
            known[key] = np.array([priors[fault] for fault in faults])
        return known[key]
