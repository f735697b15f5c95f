"""Stated shares of calls and the odds that give exactly these shares."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st

from brinebayes.errors import ModelError, UsageError
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Fault, Model, SiteCondition, SiteValue
from brinebayes.network import odds
from tests.strategies import number, small_models


def with_faults(
    model: Model, shares: dict[str, float], without: float, *, name: str, **fields: object
) -> Model:
    """`model` with other faults, under a hash of its own."""
    faults = {f: Fault(f, "a", number(share), "invented") for f, share in shares.items()}
    about = replace(model.about, calls_without_fault=number(without))
    return replace(model, hash=f"odds {name}", about=about, faults=faults, **fields)  # type: ignore[arg-type]


def solvable(model: Model) -> odds.Odds:
    """The odds of a model, or the end of this example if independent faults cannot have them."""
    try:
        return odds.base(model)
    except ModelError:
        assume(False)
        raise


def chances_given_a_call(model: Model, site: dict[str, str]) -> dict[str, float]:
    """P(fault | call, site), by counting every set of faults."""
    q = list(odds.priors(model, site).values())
    without = odds.base(model).call_without_fault
    total, with_fault = 0.0, np.zeros(len(q))
    for present in product((0, 1), repeat=len(q)):
        weight = float(
            np.prod([p if here else 1.0 - p for p, here in zip(q, present, strict=True)])
        )
        weight *= 1.0 if any(present) else without
        total += weight
        with_fault += weight * np.array(present)
    return dict(zip(model.faults, (with_fault / total).tolist(), strict=True))


class TestBase:
    """The probability of a call, and of each fault before it."""

    def test_two_equal_faults_by_hand(self) -> None:
        """s = .6, .6 and no calls without a fault: Z = 1 - (1 - .6 Z)^2, so .36 Z = .2, Z = 5/9."""
        model = with_faults(any_model(), {"a": 0.6, "b": 0.6}, 0.0, name="by hand")
        found = odds.base(model)
        assert found.call == pytest.approx(5.0 / 9.0, abs=1e-14)
        assert found.before["a"] == pytest.approx(1.0 / 3.0, abs=1e-14)
        assert found.call_without_fault == 0.0

    def test_one_fault_in_nearly_every_call_by_hand(self) -> None:
        """One fault with s = .9, p0 = .2 is impossible: .8 of the calls have a fault, and one has
        to be there in .9. With s = .8 + .1 spread over two it is Z = (.9 - .8) / (.4 * .5)."""
        shares = {"a": 0.4, "b": 0.5}
        found = odds.base(with_faults(any_model(), shares, 0.2, name="spread"))
        # .8 Z = .9 Z - .2 Z^2
        assert found.call == pytest.approx(0.5, abs=1e-14)
        # P(call | no fault) = .2 * .5 / (.8 * .75)
        assert found.call_without_fault == pytest.approx(1.0 / 6.0, abs=1e-14)

    @settings(max_examples=40, phases=[Phase.generate])
    @given(small_models())
    def test_a_call_has_each_fault_with_its_stated_share(self, model: Model) -> None:
        solvable(model)
        found = chances_given_a_call(model, {})
        for fault_id, fault in model.faults.items():
            assert found[fault_id] == pytest.approx(fault.share.value, abs=1e-9)

    @settings(max_examples=40, phases=[Phase.generate])
    @given(small_models())
    def test_calls_without_a_fault_have_their_stated_share(self, model: Model) -> None:
        solvable(model)
        none = odds.fault_counts(model, {})[0]
        assert none == pytest.approx(model.about.calls_without_fault.value, abs=1e-12)

    def test_shares_that_are_too_small_are_refused(self) -> None:
        model = with_faults(any_model(), {"a": 0.3, "b": 0.3}, 0.1, name="too small")
        with pytest.raises(ModelError, match=r"sum to 0\.6; .* more than 0\.9"):
            odds.base(model)

    def test_shares_that_are_too_large_are_refused(self) -> None:
        model = with_faults(any_model(), {"a": 0.9, "b": 0.9}, 0.1, name="too large")
        with pytest.raises(ModelError, match=r"fewer than 0\.1"):
            odds.base(model)

    def test_a_fault_more_common_than_its_sites_is_refused(self) -> None:
        condition = SiteCondition(
            "c", "?", {"x": SiteValue("x", number(0.98)), "y": SiteValue("y", number(0.02))}
        )
        model = with_faults(
            any_model(), {"a": 0.9, "b": 0.6}, 0.0, name="rare site", site={"c": condition}
        )
        limited = replace(model.faults["a"], applies={"c": "y"})
        model = replace(model, faults={**model.faults, "a": limited})
        with pytest.raises(ModelError, match=r"a: share: more than the 0\.02 of sites"):
            odds.base(model)


class TestPriors:
    """What is known of the site."""

    @settings(max_examples=40, phases=[Phase.generate])
    @given(small_models())
    def test_the_average_over_all_sites_is_the_probability_without_a_site(
        self, model: Model
    ) -> None:
        found = solvable(model)
        average = dict.fromkeys(model.faults, 0.0)
        names = list(model.site)
        for values in product(*(model.site[name].values.items() for name in names)):
            share = float(np.prod([value.share.value for _, value in values]))
            site = {name: value_id for name, (value_id, _) in zip(names, values, strict=True)}
            for fault, p in odds.priors(model, site).items():
                average[fault] += share * p
        for fault, p in average.items():
            assert p == pytest.approx(found.before[fault], abs=1e-12)

    @settings(max_examples=40, phases=[Phase.generate])
    @given(small_models(), st.data())
    def test_factors_act_on_the_odds(self, model: Model, data: st.DataObject) -> None:
        solvable(model)
        assume(model.site)
        name = data.draw(st.sampled_from(sorted(model.site)))
        usual, other = (odds.priors(model, {name: value}) for value in ("usual", "other"))
        rest = [c for c in model.site if c != name]
        for fault_id, fault in model.faults.items():
            if fault.applies or any(
                fault_id in value.factors for c in rest for value in model.site[c].values.values()
            ):
                continue
            factor = model.site[name].values["other"].factors.get(fault_id, number(1.0)).value
            o, u = other[fault_id], usual[fault_id]
            assert o / (1 - o) == pytest.approx(factor * u / (1 - u), rel=1e-9)

    def test_a_fault_that_cannot_exist_there_is_exactly_absent(self) -> None:
        condition = SiteCondition(
            "c", "?", {"x": SiteValue("x", number(0.5)), "y": SiteValue("y", number(0.5))}
        )
        model = with_faults(
            any_model(), {"a": 0.5, "b": 0.6}, 0.0, name="limited", site={"c": condition}
        )
        limited = replace(model.faults["a"], applies={"c": ("y",)})
        model = replace(model, faults={**model.faults, "a": limited})
        assert odds.priors(model, {"c": "x"})["a"] == 0.0
        assert odds.priors(model, {"c": "y"})["a"] == pytest.approx(
            2 * odds.base(model).before["a"], abs=1e-12
        )

    def test_unknown_conditions_and_values_are_refused_with_a_near_name(self) -> None:
        model = with_faults(
            any_model(),
            {"a": 0.5, "b": 0.6},
            0.0,
            name="words",
            site={"supply": SiteCondition("c", "?", {"well": SiteValue("w", number(1.0))})},
        )
        with pytest.raises(UsageError, match="did you mean supply"):
            odds.priors(model, {"suply": "well"})
        with pytest.raises(UsageError, match="did you mean well"):
            odds.priors(model, {"supply": "wel"})


class TestFaultCounts:
    """How many faults a call has."""

    @settings(max_examples=40, phases=[Phase.generate])
    @given(small_models())
    def test_against_counting_every_set_of_faults(self, model: Model) -> None:
        solvable(model)
        q = list(odds.priors(model, {}).values())
        expected = np.zeros(4)
        for present in product((0, 1), repeat=len(q)):
            weight = np.prod([p if here else 1 - p for p, here in zip(q, present, strict=True)])
            expected[min(sum(present), 3)] += weight
        expected[0] *= odds.base(model).call_without_fault
        np.testing.assert_allclose(
            odds.fault_counts(model, {}), expected / expected.sum(), atol=1e-12
        )


def any_model() -> Model:
    """Some model; the tests above put other faults into it."""
    model = read_model(Path(__file__).resolve().parents[1] / "models" / "small")
    return replace(model, site={})
