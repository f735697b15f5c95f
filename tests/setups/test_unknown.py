"""Which states can come about, and what holds in all that an unknown state may be."""

from __future__ import annotations

import numpy as np
import pytest

from brinebayes.knowledge.schema import Condition
from brinebayes.setups.states import Space
from brinebayes.setups.unknown import Step, real_states
from tests.setups import oracle
from tests.setups.shipped import ASKED, shipped_setups


class TestRealStates:
    """Reachability from service, against a plain breadth-first search."""

    def test_the_same_states_as_a_plain_search(self) -> None:
        setups = shipped_setups()
        space = Space(setups)
        can_be = real_states(setups, space).can_be
        found = {space.state(int(n)) for n in np.flatnonzero(can_be)}
        assert found == set(oracle.real_states(setups))

    def test_every_value_but_unsure_comes_about(self) -> None:
        """No value of setups.yaml is there for nothing."""
        setups = shipped_setups()
        real = oracle.real_states(setups)
        for axis, variable in enumerate(setups.variables.values()):
            met = {state[axis] for state in real}
            assert set(variable.values) - met <= {"unsure"}

    def test_what_an_act_leaves_comes_about(self) -> None:
        setups = shipped_setups()
        space = Space(setups)
        odd = {"position": "service", "inside": "brine", "water": "bypassed"}
        act = Step({"water": "bypassed"}, {"drain": "pail"})
        without, with_act = real_states(setups, space), real_states(setups, space, [act])
        mask = space.where({**odd, "drain": "pail", "pressure": "pressurised", "valve": "drive"})
        assert not (without.can_be & mask & ~with_act.can_be).any()
        assert with_act.can_be.sum() >= without.can_be.sum()

    def test_an_act_that_would_break_an_invariant_leads_nowhere(self) -> None:
        setups = shipped_setups()
        space = Space(setups)
        act = Step({"water": "service"}, {"valve": "open"})
        unsafe = space.where({"valve": "open", "water": "service"})
        assert not (real_states(setups, space, [act]).can_be & unsafe).any()


class TestStandingFor:
    """`every` and `some` against the sets of real states themselves."""

    @pytest.mark.parametrize("name", list(ASKED))
    def test_against_the_sets(self, name: str) -> None:
        setups, needs = shipped_setups(), ASKED[name]
        space, plain = Space(setups), oracle.Unknown(shipped_setups())
        real = real_states(setups, space)
        mask = space.where(needs)
        every, some, accepted = real.every(mask), real.some(mask), plain.goal(needs)
        for n in range(0, space.size, 11):
            may_be = plain.may_be(space.state(n))
            assert bool(every[n]) == (may_be != 0 and not may_be & ~accepted)
            assert bool(some[n]) == bool(may_be & accepted)

    @pytest.mark.parametrize(
        ("needs", "known", "expected"),
        [
            ({"inside": ("rinsed", "brine")}, {"inside": "brine"}, True),
            ({"inside": ("rinsed", "brine")}, {"inside": "opened"}, False),
            # Wanting brine is wanting the worse: who assumes it may find the better.
            ({"inside": "brine"}, {"inside": "brine"}, False),
            # With the water on there is pressure, whatever else is assumed.
            ({"pressure": "pressurised"}, {"water": "feeding", "inside": "opened"}, True),
            ({"pressure": "pressurised"}, {"water": "bypassed", "inside": "opened"}, False),
        ],
    )
    def test_no_worse(self, needs: Condition, known: dict[str, str], expected: bool) -> None:
        setups = shipped_setups()
        space = Space(setups)
        state = oracle.changed(
            setups,
            oracle.in_service(setups),
            {"position": "backwash", "water": "feeding", **known},
        )
        found = real_states(setups, space).every_better(space.where(needs))
        assert bool(found[space.number(state)]) == expected
