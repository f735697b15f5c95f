"""Every answer pushes in the direction the trade expects, so that no two columns can be swapped.

The table is written by hand in trade terms (data/directions.yaml). For each observation it says of
every pair of neighbouring outcomes which fault is likelier after one than after the other; swapping
two columns of a table in the model turns one of these lines round.
"""

from __future__ import annotations

from functools import cache

import pytest

from brinebayes.network import graph
from brinebayes.network.belief import Belief, Question, believe
from tests.situations import situations as s

MODEL = s.shipped()
TABLE = s.read(s.DATA / s.DIRECTIONS)
#: A direction that holds by a hair would not notice much; outcomes must tell at least this much.
CLEARLY = 1.1


@cache
def at_first() -> Belief:
    """Beliefs about a unit of which only the call is known."""
    return believe(MODEL, Question())


def after(observation: str, outcome: str, fault: str) -> float:
    """P(fault | this outcome and the call)."""
    at = graph.states_of(MODEL, observation).index(outcome)
    column = list(MODEL.faults).index(fault)
    joint = at_first().joint[observation][at, column]
    return float(joint / at_first().outcomes[observation][at])


@pytest.mark.parametrize("line", TABLE["outcomes"], ids=lambda line: f"{line[0]}: {line[1]}")
def test_outcomes_push_the_right_way(line: list[str]) -> None:
    """After one outcome the fault is clearly likelier than after its neighbour."""
    observation, outcome, other, fault = line
    assert after(observation, outcome, fault) > CLEARLY * after(observation, other, fault)


def test_every_pair_of_neighbours_is_covered() -> None:
    """For every observation, the lines tie all its outcomes together, neighbour to neighbour."""
    told = {(line[0], frozenset(line[1:3])) for line in TABLE["outcomes"]}
    missing = [
        (name, first, second)
        for name, observation in graph.observations(MODEL).items()
        for first, second in zip(
            list(observation.outcomes)[:-1], list(observation.outcomes)[1:], strict=True
        )
        if (name, frozenset((first, second))) not in told
    ]
    assert not missing


@pytest.mark.parametrize("line", TABLE["complaints"], ids=lambda line: f"{line[0]}: {line[1]}")
def test_complaints_push_the_right_way(line: list[str]) -> None:
    """A complaint makes its faults likelier than they are for calls at large."""
    complaint, fault = line
    told = believe(MODEL, Question(complaints=(complaint,))).faults[fault]
    assert told > CLEARLY * at_first().faults[fault]


def test_every_complaint_is_covered() -> None:
    """No complaint without a direction."""
    assert {line[0] for line in TABLE["complaints"]} == set(MODEL.complaints)


@pytest.mark.parametrize("line", TABLE["site"], ids=lambda line: f"{line[1]}: {line[3]}")
def test_site_pushes_the_right_way(line: list[str]) -> None:
    """What is so about the place makes the fault likelier than where it is otherwise."""
    condition, value, other, fault = line
    here = believe(MODEL, Question(site={condition: value})).faults[fault]
    there = believe(MODEL, Question(site={condition: other})).faults[fault]
    assert here > CLEARLY * there


def test_every_site_condition_with_factors_is_covered() -> None:
    """Each condition that changes odds, or decides what exists, has a line."""
    told = {line[0] for line in TABLE["site"]}
    deciding = {c for fault in MODEL.faults.values() for c in fault.applies}
    changing = {
        name
        for name, condition in MODEL.site.items()
        if any(value.factors for value in condition.values.values())
    }
    assert deciding | changing <= told
