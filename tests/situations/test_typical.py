"""What a senior technician expects to see of each fault must lead back to the fault."""

from __future__ import annotations

import pytest

from brinebayes.network.belief import Question, believe
from tests.situations import situations as s

MODEL = s.shipped()
#: The unknown cause has no look of its own; it is what is left when nothing else fits.
NAMED = [fault for fault in MODEL.faults if fault != MODEL.about.unknown_cause]


@pytest.mark.parametrize("fault", NAMED)
def test_typical_is_told(fault: str) -> None:
    """Two to five things to see, none of them after a repair."""
    assert 1 <= len(MODEL.faults[fault].typical) <= 5


def test_typical_observations_put_the_fault_among_the_first_three() -> None:
    """For at least nineteen faults in twenty; the rest are named when it fails."""
    missed = {}
    for fault in NAMED:
        typical = MODEL.faults[fault].typical
        seen = tuple(s.sighting(MODEL, 0, name, outcome) for name, outcome in typical.items())
        ranked = s.ranked(believe(MODEL, Question(seen=seen)))
        if fault not in ranked[:3]:
            missed[fault] = ranked[:4]
    assert len(missed) <= 0.05 * len(NAMED), missed
