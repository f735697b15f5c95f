"""Odds of faults from counts, by kind of site."""

from __future__ import annotations

import numpy as np
import pytest

from brinebayes.knowledge.schema import Model, SiteCondition, SiteValue
from brinebayes.network.evidence import Question
from brinebayes.tuning.chunk import Chunk, chunk
from brinebayes.tuning.counts import expect
from brinebayes.tuning.em import fit
from brinebayes.tuning.engine import engine, plan
from brinebayes.tuning.told import Found, told
from tests.tuning.made import model, number, observation, row

SEEN = {"o": observation(("x", "y"), [row({}, {"x": 1.0})])}


def whole(made: Model, cases: dict[tuple[tuple[str, ...], str], float]) -> Chunk:
    """Cases with these faults present, all others absent, at such a site."""
    rows = []
    for (present, site), weight in cases.items():
        findings = [(f, (0.0, 1.0) if f in present else (1.0, 0.0)) for f in sorted(made.faults)]
        bare = told(made, Question({"water": site} if site else {}))
        rows.append((type(bare)(bare.site, tuple(findings)), weight))
    return chunk(made, rows)


def shares(made: Model, cases: Chunk) -> dict[str, float]:
    """What is learned of the faults."""
    found = fit(made, lambda: iter([cases]), ("shares",), set(made.faults), gain=1e-12)
    assert found.settled
    return {str(k[-1] if k[0] == "site" else k[1]): v[0] for k, v in found.values.items()
            if k[0] != "eyes"}  # fmt: skip


def well_factor(made: Model, cases: Chunk) -> float:
    """What is learned of the factor at wells."""
    found = fit(made, lambda: iter([cases]), ("shares",), {"a", "b"})
    return found.values["site", "water", "values", "well", "factors", "a"][0]


class TestPooled:
    """Cases in which every fault is known."""

    def test_the_shares_are_the_shares_of_calls(self) -> None:
        """Two faults can be present in one call; P(fault | call) is counted, not divided up."""
        made = model({"a": number(0.6), "b": number(0.5)}, number(0.05), SEEN)
        cases = {(("a",), ""): 50.0, (("b",), ""): 30.0, (("a", "b"), ""): 12.0, ((), ""): 8.0}
        found = shares(made, whole(made, cases))
        assert found["a"] == pytest.approx(0.62, abs=1e-4)
        assert found["b"] == pytest.approx(0.42, abs=1e-4)
        assert found["calls_without_fault"] == pytest.approx(0.08, abs=1e-4)

    def test_a_weight_is_a_number_of_calls(self) -> None:
        """Where the calls agree with the prior on all else, (w p + n) / (w + N)."""
        made = model({"a": number(0.6, 40), "b": number(0.5, 40)}, number(0.05, 40), SEEN)
        p = _joint(0.6, 0.5, 0.05)
        cases = {key: 100.0 * chance for key, chance in p.items()}
        found = shares(made, whole(made, cases))
        assert found["a"] == pytest.approx(0.6, abs=1e-4)
        assert found["b"] == pytest.approx(0.5, abs=1e-4)

    def test_a_rare_fault_that_did_not_come_up_stays_possible(self) -> None:
        """With one expected call behind it and none in 400, (1 + 0) / (1 / p + N): halved or so.

        With its weight alone it would be ruled out: 10 p / 410, a fortieth.
        """
        made = model({"a": number(0.949, 1000), "b": number(0.0025, 10)}, number(0.05, 1000), SEEN)
        p = _joint(0.949, 0.0025, 0.05)
        alone = {key: 400.0 * chance for key, chance in p.items() if "b" not in key[0]}
        assert shares(made, whole(made, alone))["b"] == pytest.approx(1.0 / 800.0, rel=0.02)

    def test_few_cases_of_one_kind_of_site_count_for_the_base(self) -> None:
        """The factor of a site with few calls stays near its prior; with many it follows them."""
        values = {
            "town": SiteValue("town", number(0.8, 10)),
            "well": SiteValue("well", number(0.2, 10), {"a": number(2.0, 8)}),
        }
        site = {"water": SiteCondition("water", "?", values)}
        made = model({"a": number(0.5, 10), "b": number(0.6, 10)}, number(0.05, 20), SEEN,
                     site=site)  # fmt: skip
        factors = []
        for size in (0.04, 1.0):
            cases = {
                (("a",), "town"): 100.0, (("b",), "town"): 300.0,
                (("a",), "well"): 400.0 * size, (("b",), "well"): 100.0 * size,
            }  # fmt: skip
            factors.append(well_factor(made, whole(made, cases)))
        few, many = factors
        assert 2.0 < few < many
        # The odds of `a` against `b` are 1/3 in town and 4 at wells: a ratio near twelve.
        assert 8.0 < many < 13.0


def _joint(a: float, b: float, none: float) -> dict[tuple[tuple[str, ...], str], float]:
    """P(which faults | call) that the model itself states: independent before the call."""
    z = (a + b - (1.0 - none)) / (a * b)  # the root of Z (1 - p0) = 1 - (1 - aZ)(1 - bZ)
    p, q = a * z, b * z
    return {
        (("a",), ""): p * (1 - q) / z, (("b",), ""): q * (1 - p) / z,
        (("a", "b"), ""): p * q / z, ((), ""): none,
    }  # fmt: skip


class TestUnsure:
    """A confirmation that is not sure."""

    def test_it_counts_about_as_much_as_it_is_sure(self) -> None:
        made = model({"a": number(0.5), "b": number(0.6)}, number(0.05), SEEN)
        now = engine(made, plan(made, ["a"], ()))
        for sure in (0.6, 0.9, 1.0):
            case = told(made, Question(), [Found("a", sure)])
            share = expect(now, chunk(made, [(case, 1.0)])).faults[0, 0]
            assert share == pytest.approx(sure + (1.0 - sure) * 0.5, abs=1e-9)
        assert np.isfinite(share)
