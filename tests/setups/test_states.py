"""States, their numbering, and conditions on them."""

from __future__ import annotations

import numpy as np
import pytest

from brinebayes.errors import UsageError
from brinebayes.setups import states
from brinebayes.setups.states import Space
from tests.setups.oracle import changed, fits
from tests.setups.shipped import ASKED, shipped_setups


class TestWorstCase:
    """What nobody has looked at takes its worst value."""

    def test_nothing_known(self) -> None:
        setups = shipped_setups()
        assert states.named(setups, states.worst_case(setups, {})) == {
            "water": "unsure",
            "pressure": "unsure",
            "position": "unsure",
            "power": "unsure",
            "valve": "unsure",
            "drain": "unsure",
            "brine": "unsure",
            "inside": "unsure",
        }

    def test_what_is_known_stays(self) -> None:
        setups = shipped_setups()
        found = states.named(setups, states.worst_case(setups, {"power": "unplugged"}))
        assert (found["power"], found["water"]) == ("unplugged", "unsure")

    def test_an_unknown_variable_is_refused_with_a_near_name(self) -> None:
        with pytest.raises(UsageError, match=r"'watr' does not exist \(did you mean water\?\)"):
            states.worst_case(shipped_setups(), {"watr": "service"})

    def test_an_unknown_value_is_refused(self) -> None:
        with pytest.raises(UsageError, match="value of power 'running' does not exist"):
            states.worst_case(shipped_setups(), {"power": "running"})


class TestSpace:
    """Every state has one number, and arrays over states agree with the states themselves."""

    def test_numbers_and_states_are_one_to_one(self) -> None:
        space = Space(shipped_setups())
        assert [space.number(space.state(n)) for n in range(0, space.size, 7)] == list(
            range(0, space.size, 7)
        )

    def test_a_state_of_another_model_is_refused(self) -> None:
        with pytest.raises(UsageError, match="no state of water, pressure"):
            Space(shipped_setups()).number(("open", "shut"))

    @pytest.mark.parametrize("name", list(ASKED))
    def test_where_agrees_with_each_state(self, name: str) -> None:
        setups = shipped_setups()
        space, some = Space(setups), range(0, 20_000, 97)
        mask = space.where(ASKED[name])
        assert [bool(mask[n]) for n in some] == [
            fits(setups, space.state(n), ASKED[name]) for n in some
        ]
        assert [bool(mask[n]) for n in some] == [
            states.holds(setups, space.state(n), ASKED[name]) for n in some
        ]

    def test_after_agrees_with_each_state(self) -> None:
        setups = shipped_setups()
        space, leaves = Space(setups), {"position": "brine", "inside": "brine"}
        after = space.after(leaves)
        for n in range(0, space.size, 101):
            assert space.state(int(after[n])) == changed(setups, space.state(n), leaves)
            assert space.state(int(after[n])) == states.with_values(setups, space.state(n), leaves)

    def test_an_empty_condition_holds_everywhere(self) -> None:
        space = Space(shipped_setups())
        assert np.all(space.where({}))
