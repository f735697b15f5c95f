"""A visit without a terminal: type lines, look at the prompt and at what would be recorded."""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path

from brinebayes.checking.ready import ready
from brinebayes.dialogue.answer import answer
from brinebayes.dialogue.dialogue import Dialogue, Said, open_dialogue, proceed
from brinebayes.dialogue.prompt import Prompt
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shop import NO_SHOP, Shop, apply
from brinebayes.visit.events import Event
from brinebayes.visit.state import VisitState

SMALL = Path(__file__).resolve().parents[1] / "models" / "small"
TODAY = date(2024, 5, 31)

#: Past the first questions of the small model: nothing said, nothing known, all as usual.
TO_THE_FIRST_ACT = ("", "go", "1")


@cache
def small() -> CheckedModel:
    """The small model of the tests, proven."""
    return ready(SMALL)


class Sitting:
    """One sitting of a technician, from the events that are already in the file."""

    def __init__(
        self,
        *lines: str,
        events: tuple[Event, ...] = (),
        shop: Shop = NO_SHOP,
        checked: CheckedModel | None = None,
    ) -> None:
        self.dialogue: Dialogue = open_dialogue(apply(checked or small(), shop), events, shop)
        self.said: tuple[Said, ...] = ()
        self.over = False
        self.type(*lines)

    def type(self, *lines: str) -> Sitting:
        """Type lines one after the other; afterwards `said` is what the last of them brought."""
        for line in lines:
            turn = answer(self.dialogue, line, TODAY)
            self.dialogue = proceed(self.dialogue, turn)
            self.said, self.over = turn.said, turn.over
        return self

    @property
    def prompt(self) -> Prompt:
        return self.dialogue.prompt

    @property
    def state(self) -> VisitState:
        return self.dialogue.state

    @property
    def events(self) -> tuple[Event, ...]:
        return self.dialogue.events

    @property
    def words(self) -> list[str]:
        """The names of what was said last."""
        return [said.what for said in self.said]

    def at(self) -> tuple[str, str]:
        """The kind of prompt and what it is about."""
        return self.prompt.kind, self.prompt.subject
