"""A number read as an observation: laws of every method of the shipped model."""

from __future__ import annotations

import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pint import UnitRegistry

from brinebayes.errors import UsageError
from brinebayes.network.belief import Belief, Question, Seen, believe
from brinebayes.readings.interpret import CLEAR, Reading, interpret, method_of
from tests.readings.shipped import (
    METHODS,
    numbers,
    observations,
    other_units,
    span,
    told,
    written,
)
from tests.situations.situations import shipped

LAW = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def read(name: str, number: float, site: dict[str, str]) -> Reading:
    return interpret(shipped(), name, written(name, number, span(name)[0]), site)


def on_scale(reading: Reading) -> dict[str, float]:
    """Outcome -> likelihood, for those on the scale of the method."""
    outcomes = method_of(shipped(), reading.observation)[0].outcomes
    named = dict(zip(outcomes, reading.likelihood, strict=True))
    return {name: named[name] for name in METHODS[reading.observation].scale}


class TestLaws:
    """Whatever is read, and whatever is known of the site."""

    @LAW
    @given(observations, st.data(), told())
    def test_the_likelihood_is_proper(
        self, name: str, data: st.DataObject, site: dict[str, str]
    ) -> None:
        found = read(name, data.draw(numbers(name)), site)
        assert len(found.likelihood) == len(method_of(shipped(), name)[0].outcomes)
        assert all(math.isfinite(value) and value >= 0 for value in found.likelihood)
        assert max(found.likelihood) == 1.0
        assert found.challenge is None
        assert found.outcome in METHODS[name].scale

    @LAW
    @given(observations, st.data(), told())
    def test_a_larger_number_never_makes_a_smaller_outcome_relatively_likelier(
        self, name: str, data: st.DataObject, site: dict[str, str]
    ) -> None:
        small, large = sorted((data.draw(numbers(name)), data.draw(numbers(name))))
        low = list(on_scale(read(name, small, site)).values())
        high = list(on_scale(read(name, large, site)).values())
        for i in range(len(low)):
            for j in range(i + 1, len(low)):
                assert high[i] * low[j] <= low[i] * high[j] * (1 + 1e-6) + 1e-12

    @LAW
    @given(observations, st.data(), told())
    def test_the_outcome_never_falls_back_as_the_number_rises(
        self, name: str, data: st.DataObject, site: dict[str, str]
    ) -> None:
        small, large = sorted((data.draw(numbers(name)), data.draw(numbers(name))))
        scale = METHODS[name].scale
        low, high = (scale.index(read(name, n, site).outcome) for n in (small, large))
        assert low <= high

    @LAW
    @given(observations, st.data(), told())
    def test_units_round_trip(self, name: str, data: st.DataObject, site: dict[str, str]) -> None:
        """The same amount in any unit of its kind says the same to 1e-9."""
        number, here = data.draw(numbers(name)), span(name)[0]
        first = read(name, number, site)
        for other in other_units(name):
            text = written(name, other.from_si(here.to_si(number)), other)
            again = interpret(shipped(), name, text, site)
            assert again.likelihood == pytest.approx(first.likelihood, abs=1e-9)

    @settings(max_examples=30, deadline=None)
    @given(st.floats(0.05, 30), told())
    def test_litres_a_minute_by_pint(self, gpm: float, site: dict[str, str]) -> None:
        """The conversion by pint, an independent library."""
        litres = (gpm * REGISTRY("gallon/minute")).to("liter/minute").magnitude
        one = interpret(shipped(), "backwash_at_drain", f"{gpm!r} gpm", site)
        two = interpret(shipped(), "backwash_at_drain", f"{litres!r} L/min", site)
        assert two.likelihood == pytest.approx(one.likelihood, abs=1e-9)

    @LAW
    @given(observations, st.data(), told())
    def test_the_same_reading_says_the_same(
        self, name: str, data: st.DataObject, site: dict[str, str]
    ) -> None:
        number = data.draw(numbers(name))
        assert read(name, number, site) == read(name, number, dict(reversed(site.items())))

    @LAW
    @given(observations, st.data())
    def test_what_is_not_told_widens(self, name: str, data: st.DataObject) -> None:
        """The reading's own uncertainty is never larger with a measure told as it usually is."""
        number = data.draw(numbers(name))
        assert read(name, number, USUAL).sigma <= read(name, number, {}).sigma + 1e-12

    @LAW
    @given(observations, st.data(), told())
    def test_it_is_said_in_plain_lines(
        self, name: str, data: st.DataObject, site: dict[str, str]
    ) -> None:
        found = read(name, data.draw(numbers(name)), site)
        assert found.says.rpartition(": ")[2].split(" or ")
        assert (found.outcome in found.says.rpartition(": ")[2]) or not found.clear
        for line in (found.says, *found.steps):
            assert "\n" not in line
            assert not any(word in line for word in ("nan", "inf ", "None", "e+"))


#: The middle of every measure of the shipped model, as it would be told.
USUAL = {
    name: f"{measure.middle.value!r} {measure.unit}"
    for name, measure in shipped().measures.items()
    if measure.middle is not None
}

REGISTRY: UnitRegistry = UnitRegistry()


class TestOneNumber:
    """0.6 gpm in backwash on a 10-inch tank."""

    found = interpret(shipped(), "backwash_at_drain", "0.6 gpm", {"tank_diameter": "10 in"})

    def test_in_one_line(self) -> None:
        assert self.found.says == "0.6 gpm is 22 % of the 2.7 gpm expected: low"

    def test_as_numbers(self) -> None:
        """10 in is 0.5454 ft2, 2.727 gpm at 5 gpm/ft2; 0.6 of that is 0.22 [X]."""
        assert self.found.value == pytest.approx(0.6)
        assert self.found.expected == pytest.approx(2.727, abs=0.001)
        assert self.found.ratio == pytest.approx(0.22, abs=0.001)
        assert self.found.clear

    def test_uncertainty_is_in_quadrature(self) -> None:
        """7 % of the pail, 2 ln 1.03 of the tank, ln 1.12 of how controls differ [the model's]."""
        parts = (0.07, 2 * math.log(1.03), math.log(1.12))
        assert self.found.sigma == pytest.approx(math.hypot(*parts))

    def test_the_arithmetic_is_shown(self) -> None:
        text = "\n".join(self.found.steps)
        for piece in (
            "0.545 ft²",
            "5 gpm per ft²",
            "2.73 gpm",
            "0.6 gpm / 2.73 gpm = 0.22",
            "12 %",
        ):
            assert piece in text


class TestOpen:
    """A number that leaves its outcome open names all that it may be, and what to tell."""

    def test_in_one_line(self) -> None:
        found = interpret(shipped(), "backwash_at_drain", "2 gpm")
        assert not found.clear
        assert found.says == (
            "2 gpm is 73 % of the 2.7 gpm expected (not told: tank_diameter): low or full"
        )

    def test_clear_is_a_share_of_the_likelihood(self) -> None:
        for text in ("2 gpm", "2.2 gpm", "2.6 gpm", "0.6 gpm"):
            found = interpret(shipped(), "backwash_at_drain", text)
            share = max(found.likelihood) / math.fsum(found.likelihood)
            assert found.clear == (share >= CLEAR)


class TestChallenge:
    """What cannot be, and what was taken too early, is said and not used."""

    @pytest.mark.parametrize(
        ("name", "text", "kind", "says"),
        [
            ("backwash_at_drain", "200 gpm", "implausible", "200 gpm is more than 40 gpm"),
            ("static_pressure", "900 psi", "implausible", "900 psi is more than 200 psi"),
            ("drain_line_seen", "2 m", None, ""),
            ("drain_line_seen", "2 d", None, ""),
            ("tap_hardness", "5000 mg/L", "implausible", "5000 mg/L is more than 250 gpg"),
            ("level_in_draw", "0.1 in in 2 min", "too_early", "taken too early; wait 5 minutes"),
            ("level_in_draw", "0.1 in in 5 min", None, ""),
            ("brine_sg", "1.12 SG after 20 min", "too_early", "wait 60 minutes"),
            ("brine_sg", "1.12 SG after 2 h", None, ""),
            ("brine_sg", "1.12 SG", None, ""),
            ("salt_at_drain", "1 mS/cm after 2 min", "too_early", "wait 6 minutes"),
            ("level_creep", "0.1 in after 5 min", "too_early", "wait 20 minutes"),
        ],
    )
    def test_each(self, name: str, text: str, kind: str | None, says: str) -> None:
        if text == "2 d":
            with pytest.raises(UsageError, match="d is a time, and this is a length"):
                interpret(shipped(), name, text)
            return
        challenge = interpret(shipped(), name, text).challenge
        assert (challenge.kind if challenge else None) == kind
        if challenge:
            assert challenge.says.startswith(name)
            assert says in challenge.says


class TestRefused:
    """What is no reading is refused with the observation's name."""

    @pytest.mark.parametrize(
        ("name", "text", "says"),
        [
            ("backwash_at_drain", "0,6 gpm", 'backwash_at_drain: "0,6 gpm": write a decimal point'),
            ("bubbles", "3 gpm", "is not read as a number; say one of none_seen"),
            ("backwash_at_drian", "3 gpm", "did you mean backwash_at_drain?"),
        ],
    )
    def test_the_line(self, name: str, text: str, says: str) -> None:
        with pytest.raises(UsageError) as refusal:
            interpret(shipped(), name, text)
        assert says in str(refusal.value)

    def test_a_site_that_cannot_be(self) -> None:
        with pytest.raises(UsageError, match="tank_diameter"):
            interpret(shipped(), "backwash_at_drain", "1 gpm", {"tank_diameter": "9 psi"})


class TestElsewhere:
    """Outcomes that no number tells."""

    def test_a_length_does_not_speak_of_kinks(self) -> None:
        """A kinked line is long as often as the model says: 0.93 of short, 0.07 of long."""
        found = interpret(shipped(), "drain_line_seen", "35 ft", {"drain_bore": "0.5 in"})
        named = dict(
            zip(method_of(shipped(), "drain_line_seen")[0].outcomes, found.likelihood, strict=True)
        )
        expected = 0.93 * named["sound_line"] + 0.07 * named["long_or_high"]
        assert named["kinked"] == pytest.approx(expected)


class TestInTheNetwork:
    """What a likelihood does there."""

    def faults(self, likelihood: tuple[float, ...]) -> tuple[dict[str, float], float]:
        belief = believe(
            shipped(),
            Question(complaints=("salt_unused",), seen=(Seen(0, "backwash_at_drain", likelihood),)),
        )
        assert isinstance(belief, Belief)
        return dict(belief.faults), math.exp(belief.log_evidence)

    def test_it_mixes_the_outcomes_by_their_probability(self) -> None:
        """P(fault | reading) = sum of L_o P(o) P(fault | o) / sum of L_o P(o)."""
        found = interpret(shipped(), "backwash_at_drain", "2.2 gpm", {"tank_diameter": "10 in"})
        together, _ = self.faults(found.likelihood)
        count = len(found.likelihood)
        alone = [self.faults(tuple(float(i == k) for i in range(count))) for k in range(count)]
        weights = [value * p for value, (_, p) in zip(found.likelihood, alone, strict=True)]
        for fault, chance in together.items():
            mixed = math.fsum(
                w * faults[fault] for w, (faults, _) in zip(weights, alone, strict=True)
            )
            assert chance == pytest.approx(mixed / math.fsum(weights), abs=1e-12)

    def test_the_misreading_is_the_floor_for_gross_errors_and_counts_once(self) -> None:
        """However sure the number, each world keeps m/k of the evidence: P(reading | world) =
        (1 - m) sum of row L + m/k, since the bands of the scale sum to 1."""
        found = interpret(shipped(), "backwash_at_drain", "0.6 gpm", {"tank_diameter": "10 in"})
        observation = method_of(shipped(), "backwash_at_drain")[0]
        bands = [value / math.fsum(found.likelihood) for value in found.likelihood]
        assert math.fsum(bands) == pytest.approx(1)
        m, k = observation.misreading.value, len(bands)
        for row in observation.rows:
            wanted = [row.gives.of.get(outcome, 0.0) for outcome in observation.outcomes]
            mixed = [(1 - m) * value + m / k for value in wanted]
            by_network = math.fsum(p * value for p, value in zip(mixed, bands, strict=True))
            by_hand = (1 - m) * math.fsum(
                p * value for p, value in zip(wanted, bands, strict=True)
            ) + m / k
            assert by_network == pytest.approx(by_hand)
            assert by_network >= m / k * (1 - 1e-9)
