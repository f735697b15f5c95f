"""Which states can come about, and what holds in all that an unknown state may be."""

from __future__ import annotations

import numpy as np
import pytest

from brinebayes.knowledge.schema import Invariant, Move, Setups, SetupVariable
from brinebayes.setups.states import Space
from brinebayes.setups.unknown import Step, real_states
from tests.setups import oracle
from tests.setups.shipped import ASKED, number, shipped_setups


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


class TestAssumed:
    """A worst value that is also a real one stands for all others while it is only assumed."""

    SETUPS = Setups(
        variables={
            "cover": SetupVariable("cover", {"on": "", "off": ""}, worst="on", service="on"),
            "water": SetupVariable("water", {"on": "", "off": ""}, worst="on", service="on"),
        },
        moves={
            "shut": Move("shut", {}, {"water": "off"}, number(1.0)),
            "turn_on": Move("turn on", {}, {"water": "on"}, number(1.0)),
            "lift": Move("lift", {}, {"cover": "off"}, number(1.0)),
        },
        invariants={"spray": Invariant({"cover": "off", "water": "on"}, "it sprays")},
    )

    def test_worked_by_hand(self) -> None:
        """Numbers 0 to 3: (on, on), (on, off), (off, on) which is never, (off, off)."""
        space = Space(self.SETUPS)
        real = real_states(self.SETUPS, space)
        assert real.can_be.tolist() == [True, True, False, True]
        assert real.stands_for_all == (False, False)
        shut, covered = space.where({"water": "off"}), space.where({"cover": "on"})
        assert real.every(shut).tolist() == [False, True, False, True]
        # Assumed, 0 may be any of 0, 1, 3; 1 may be 1 or 3; 2 can then only be 3.
        assert real.every_assumed(shut).tolist() == [False, True, True, True]
        assert real.every_assumed(covered).tolist() == [False, False, False, False]
        # Only the cover assumed: 1 may be 1 or 3. Only the water assumed: 0 may be 0 or 1.
        assert real.every_assumed(shut, only=0).tolist() == [False, True, False, True]
        assert real.every_assumed(covered, only=1).tolist() == [True, True, False, False]
