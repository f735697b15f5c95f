"""The ten calls as data, read as strictly as a model file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from brinebayes.knowledge import yaml_strict
from brinebayes.knowledge.schema import Model
from brinebayes.visit.events import Complained, Event, Saw, SiteKnown
from brinebayes.visit.state import VisitState, fold
from tests.situations.situations import BASES

DATA = Path(__file__).parent / "calls.yaml"
EXPECTATIONS = {
    "now",
    "ask",
    "ask_first",
    "ask_not",
    "carry",
    "carry_not",
    "leads",
    "elsewhere",
    "works",
}


@dataclass(frozen=True)
class Call:
    """One call: what the customer says, and what the sheet must hold."""

    name: str
    complaint: list[str]
    expect: Mapping[str, Any]
    reason: str
    basis: str
    site: Mapping[str, str] = field(default_factory=dict)
    saw: Mapping[str, str] = field(default_factory=dict)

    def events(self) -> list[Event]:
        """What was told, in order."""
        return [
            *(SiteKnown(name, value) for name, value in self.site.items()),
            *(Complained(name) for name in self.complaint),
            *(Saw(name, outcome) for name, outcome in self.saw.items()),
        ]

    def state(self, model: Model) -> VisitState:
        """The call as a visit that has not begun."""
        return fold(model, self.events())


def read() -> list[Call]:
    """Every call, refused where one is not complete."""
    document = yaml_strict.load(DATA.name, DATA.read_text(encoding="utf-8"))
    assert not document.problems, "\n".join(map(str, document.problems))
    calls = [Call(**item) for item in document.data["calls"]]
    for call in calls:
        assert set(call.expect) <= EXPECTATIONS, f"{call.name}: {set(call.expect) - EXPECTATIONS}"
        assert call.basis.startswith(BASES), f"{call.name}: basis {call.basis!r}"
        assert call.reason, call.name
    return calls
