"""Which combinations must never be."""

from __future__ import annotations

from brinebayes.setups.invariants import broken, keeps_all
from brinebayes.setups.states import Space, service
from tests.setups.oracle import unsafe
from tests.setups.shipped import shipped_setups


class TestInvariants:
    """Agreement with a plain reading of setups.yaml."""

    def test_service_breaks_none(self) -> None:
        assert broken(shipped_setups(), service(shipped_setups())) == ()

    def test_both_forms_agree_with_the_plain_reading(self) -> None:
        setups = shipped_setups()
        space = Space(setups)
        safe = keeps_all(setups, space)
        for n in range(0, space.size, 13):
            expected = unsafe(setups, space.state(n))
            assert list(broken(setups, space.state(n))) == expected
            assert bool(safe[n]) == (not expected)
