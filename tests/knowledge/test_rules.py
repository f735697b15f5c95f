"""Which rules hold, given what is known."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.rules import Facts, fired
from brinebayes.knowledge.schema import Rule, When

MODEL = read_model(Path(__file__).parents[1] / "models" / "small")


def names(facts: Facts) -> set[str]:
    return {each.rule_id for each in fired(MODEL, facts)}


class TestEachKind:
    """In the small model: one rule of every kind, made to hold and then just not."""

    @pytest.mark.parametrize(
        ("rule", "holds", "does_not"),
        [
            (
                "disc_has_no_seals",
                Facts(site={"valve": "disc"}),
                [Facts(), Facts(site={"valve": "piston"}), Facts(site={"supply": "town"})],
            ),
            (
                "level_settles_injector",
                Facts(saw={"level": "falls", "suction_felt": "strong"}),
                [Facts(saw={"level": "falls"}), Facts(saw={"suction_felt": "strong"})],
            ),
            (
                "hardness_first",
                Facts(complaints=("tank_overflows", "hard_water")),
                [Facts(), Facts(complaints=("tank_overflows",))],
            ),
            (
                "falls_without_suction",
                Facts(saw={"level": "falls", "suction_felt": "pushes"}),
                [Facts(saw={"level": "falls", "suction_felt": "strong"})],
            ),
            (
                "flood_make_safe",
                Facts(complaints=("tank_overflows",)),
                [Facts(complaints=("hard_water",))],
            ),
            (
                "pressure_escalates",
                Facts(saw={"suction_felt": "pushes"}, done=("clean_injector",)),
                [
                    Facts(saw={"suction_felt": "pushes"}),
                    Facts(saw={"suction_felt": "pushes"}, done=("replace_seals",)),
                    Facts(done=("clean_injector",)),
                ],
            ),
            (
                "air_gap_duty",
                Facts(site={"supply": "well"}),
                [
                    Facts(site={"supply": "town"}),
                    Facts(site={"supply": "well"}, saw={"level": "falls"}),
                ],
            ),
            (
                "soft_water_outside",
                Facts(saw={"outlet_hardness": "soft", "salt_use": "usual"}),
                [Facts(saw={"outlet_hardness": "soft", "salt_use": "stopped"})],
            ),
        ],
    )
    def test_fires_and_does_not(self, rule: str, holds: Facts, does_not: list[Facts]) -> None:
        assert rule in names(holds)
        for facts in does_not:
            assert rule not in names(facts)

    def test_every_rule_is_covered(self) -> None:
        mark: Any = self.test_fires_and_does_not
        assert {case[0] for case in mark.pytestmark[0].args[1]} == set(MODEL.rules)

    def test_nothing_known(self) -> None:
        assert fired(MODEL, Facts()) == ()


class TestTime:
    """A repair starts a new world; history speaks of the old one for good."""

    def test_history_counts_after_a_repair(self) -> None:
        facts = Facts(
            saw={"outlet_hardness": "soft"},
            saw_history={"salt_use": "usual", "outlet_hardness": "hard"},
            done=("clear_brine_line",),
        )
        assert "soft_water_outside" in names(facts)

    def test_what_was_seen_before_a_repair_does_not_count(self) -> None:
        facts = Facts(
            saw_history={"salt_use": "usual", "outlet_hardness": "soft"},
            done=("clear_brine_line",),
        )
        assert "soft_water_outside" not in names(facts)

    def test_not_seen_asks_about_the_present_world(self) -> None:
        before = Facts(site={"supply": "well"}, saw={"level": "falls"})
        after = Facts(
            site={"supply": "well"}, saw_history={"level": "falls"}, done=("replace_seals",)
        )
        assert "air_gap_duty" not in names(before)
        assert "air_gap_duty" in names(after)


class TestBecause:
    """The facts are named in the words of the model."""

    def test_words(self) -> None:
        facts = Facts(
            site={"supply": "well"},
            complaints=("hard_water",),
            saw={"suction_felt": "pushes"},
            done=("clean_injector",),
        )
        because = {each.rule_id: each.because for each in fired(MODEL, facts)}
        assert because == {
            "air_gap_duty": ("Water supply: own well", "not yet seen: Brine level"),
            "hardness_first": ("complaint: Water is hard",),
            "pressure_escalates": (
                "Suction at the valve: pushes water out",
                "done: Clean the injector",
            ),
        }

    def test_the_proof_may_be_asked_for(self) -> None:
        rule = Rule("duty", When(saw={"proof": "failed"}), "why", "judgement")
        model = replace(MODEL, rules={"after_proof": rule})
        (only,) = fired(model, Facts(saw={"proof": "failed"}))
        assert only.because == ("Draw soft water after a brine draw: failed",)
        assert fired(model, Facts(saw={"proof": "passed"})) == ()

    def test_a_rule_without_condition_always_holds(self) -> None:
        model = replace(MODEL, rules={"always": Rule("duty", When(), "why", "judgement")})
        (only,) = fired(model, Facts())
        assert only.because == ()


OUTCOMES = {
    name: sorted(observation.outcomes)
    for check in MODEL.checks.values()
    for name, observation in check.observations.items()
}
FACTS = st.builds(
    Facts,
    site=st.fixed_dictionaries(
        {}, optional={n: st.sampled_from(sorted(c.values)) for n, c in MODEL.site.items()}
    ),
    complaints=st.lists(st.sampled_from(sorted(MODEL.complaints)), unique=True).map(tuple),
    saw=st.fixed_dictionaries(
        {}, optional={name: st.sampled_from(outcomes) for name, outcomes in OUTCOMES.items()}
    ),
    done=st.lists(st.sampled_from(sorted(MODEL.repairs)), max_size=3).map(tuple),
)


class TestOrder:
    """Neither the order of the rules nor of the facts matters."""

    @given(facts=FACTS, order=st.permutations(sorted(MODEL.rules)))
    def test_of_rules(self, facts: Facts, order: list[str]) -> None:
        shuffled = replace(MODEL, rules=ReadOnly({name: MODEL.rules[name] for name in order}))
        assert fired(shuffled, facts) == fired(MODEL, facts)
        ids = [each.rule_id for each in fired(MODEL, facts)]
        assert ids == sorted(ids)

    @given(FACTS)
    def test_of_facts(self, facts: Facts) -> None:
        backwards = Facts(
            site=dict(reversed(facts.site.items())),
            complaints=tuple(reversed(facts.complaints)),
            saw=dict(reversed(facts.saw.items())),
            done=tuple(reversed(facts.done)),
        )
        assert fired(MODEL, backwards) == fired(MODEL, facts)
