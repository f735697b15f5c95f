"""What stands before somebody who looks: the unit, its past weeks, and their own errors."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from brinebayes.simulation.unit import jet, service
from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.parts import SOUND, Parts
from brinebayes.simulation.unit.site import Site
from brinebayes.simulation.unit.weeks import Log, State, bed_lets_through, leak_part, raw_kg_m3


@dataclass(frozen=True, slots=True)
class Answer:
    """What is said of an observation: its outcome, and where an instrument was read the number."""

    outcome: str
    number: str = ""


@dataclass(frozen=True)
class Scene:
    """`log`: the weeks before the call. `luck`: errors of this look at this state of the unit;
    `person`: what stays the same all visit, such as a pail that is marked wrongly."""

    site: Site
    parts: Parts
    now: State
    log: Log
    luck: Chance
    person: Chance

    @cached_property
    def sound_draw(self) -> jet.Draw:
        """The brine step of this unit in order, which its tables give."""
        return jet.brine_draw(self.site, SOUND)

    @cached_property
    def draw(self) -> jet.Draw:
        """The brine step as it is."""
        return jet.brine_draw(self.site, self.parts)

    @property
    def raw(self) -> float:
        """Hardness of the raw water in kg/m3."""
        return raw_kg_m3(self.site, self.parts)

    @property
    def at_unit(self) -> float:
        """Hardness at the unit's own outlet now."""
        past = leak_part(self.site, self.parts)
        own = bed_lets_through(self.site, self.parts, self.now.tanks.left_kg)
        return self.raw * (past + (1 - past) * own)

    @property
    def in_house(self) -> float:
        """Hardness behind the bypass now."""
        part = service.bypassed(self.site, self.parts)
        return self.raw * part + self.at_unit * (1 - part)

    def misses(self, probability: float) -> bool:
        """Whether this look overlooks what is there, or sees what is not."""
        return self.luck.happens(probability, "missed")

    def gauge(self, value: float, relative: float, absolute: float = 0.0) -> float:
        """A value as read, with the instrument's error in it."""
        return value * (1 + relative * self.luck.normal("rel")) + absolute * self.luck.normal("abs")


@dataclass(frozen=True, slots=True)
class Question:
    """How one observation is answered. `slip`: how often it is simply wrong, judged: people
    remember badly (0.06), look in a hurry (0.03), and open things with care (0.015)."""

    look: Callable[[Scene], Answer | str]
    outcomes: tuple[str, ...]
    slip: float
    #: Speaks of the weeks before the call, whatever was repaired since.
    history: bool = False


ASKED, LOOKED, MEASURED, OPENED = 0.06, 0.03, 0.015, 0.015


def answer(question: Question, scene: Scene) -> Answer:
    """The answer, slips included: then any other outcome is said, in words."""
    said = question.look(scene)
    found = said if isinstance(said, Answer) else Answer(said)
    if not scene.luck.happens(question.slip, "slip"):
        return found
    others = [outcome for outcome in question.outcomes if outcome != found.outcome]
    return Answer(scene.luck.one_of(others, "slipped to"))
