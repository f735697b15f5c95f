"""Shares of calls: the network's own, and the remark when they differ."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import prod

import numpy as np
import pytest
from scipy.optimize import brentq

from brinebayes.checking.exact import exact
from brinebayes.checking.report import report
from brinebayes.checking.shares import Shares, remarks, shares
from tests.checking.planted import small

GOOD = Shares({"a": 0.4, "b": 0.7}, {"a": 0.4, "b": 0.7}, 0.05, 0.05)


class TestRemarks:
    """A share that is not met refuses the model."""

    def test_none_when_met(self) -> None:
        assert list(remarks(GOOD)) == []

    def test_a_fault(self) -> None:
        (found,) = remarks(replace(GOOD, found={"a": 0.4, "b": 0.7001}))
        assert (found.severity, found.kind) == ("error", "share_not_met")
        assert found.says == "P(b | a call) is 0.7001, stated is 0.7"
        assert found.spot.path == ("faults", "b", "share")

    def test_calls_without_a_fault(self) -> None:
        (found,) = remarks(replace(GOOD, none_found=0.06))
        assert found.says == "P(no fault | a call) is 0.06, stated is 0.05"
        assert (found.spot.file, found.spot.path) == ("model.yaml", ("calls_without_fault",))


class TestShares:
    """The small model, against enumeration of all sets of faults."""

    def test_the_network_gives_back_what_is_stated(self) -> None:
        found = shares(exact(small()))
        assert found.found == pytest.approx(found.stated, abs=1e-12)
        assert found.none_found == pytest.approx(0.05, abs=1e-12)

    def test_calls_with_none_one_two_more_by_enumeration(self) -> None:
        """Z (1 - p0) = 1 - prod(1 - s Z) by Brent's method; all 16 sets of faults weighed."""
        stated, none = [0.4, 0.25, 0.2, 0.2], 0.05
        z = brentq(lambda x: 1 - prod(1 - s * x for s in stated) - x * (1 - none), 0.01, 1.0)
        without = none * z / prod(1 - s * z for s in stated)
        weights = np.zeros(4)
        for present in product((0, 1), repeat=4):
            chance = prod(s * z if p else 1 - s * z for s, p in zip(stated, present, strict=True))
            weights[min(sum(present), 3)] += chance * (without if not any(present) else 1.0)
        assert report(small()).calls == pytest.approx(tuple(weights / weights.sum()), abs=1e-12)
