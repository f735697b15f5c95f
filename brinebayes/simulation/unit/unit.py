"""A softener in its house, to be asked, repaired and judged; what simulated visits work on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from hashlib import blake2b

from brinebayes.errors import UsageError
from brinebayes.physics.units import FT, FT3, GAL, GPG, GPM, IN, LB_PER_FT3, PSI
from brinebayes.simulation.unit import (
    asked,
    brined,
    cycled,
    flows,
    gauged,
    jet,
    judging,
    looked,
    opened,
    settings,
    tested,
)
from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.faults import damaged
from brinebayes.simulation.unit.parts import SOUND, Parts
from brinebayes.simulation.unit.remains import HARMS, harmed, still_there
from brinebayes.simulation.unit.repairs import MAKES_BRINE, REPAIRS, Luck
from brinebayes.simulation.unit.scene import Answer, Question, Scene, answer
from brinebayes.simulation.unit.site import Site
from brinebayes.simulation.unit.weeks import Log, State, start

QUESTIONS: Mapping[str, Question] = {
    **asked.ANSWERS,
    **looked.ANSWERS,
    **settings.ANSWERS,
    **tested.ANSWERS,
    **cycled.ANSWERS,
    **brined.ANSWERS,
    **gauged.ANSWERS,
    **opened.ANSWERS,
}


@dataclass
class Unit:
    """One softener with what is wrong with it. Only `repair` and `prove` change it.

    Answers, proof and repairs draw their luck from what is asked, the physical state and the number
    of the try, never from the order of the visit: two policies that bring the same unit to the same
    state are told the same. `checks`: the observations of each check. `drawn`: the faults put in.
    """

    name: str
    house: Site
    drawn: tuple[str, ...]
    parts: Parts
    log: Log
    complaints: tuple[str, ...]
    chance: Chance
    checks: Mapping[str, tuple[str, ...]]
    done: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._first = self.parts
        self._now = self.log.end

    def copy(self) -> Unit:
        """The same unit as it was when the call came, for another policy."""
        return replace(self, parts=self._first, done={})

    @property
    def site(self) -> Mapping[str, str]:
        """The model's site conditions, as seen at a glance or told on the phone."""
        return self.house.known

    @property
    def faults(self) -> frozenset[str]:
        """What is wrong now: of the faults put in those that are left, and harm done since."""
        left = (fault for fault in self.drawn if still_there(fault, self._first, self.parts))
        done = (fault for fault in HARMS if harmed(fault, self._first, self.parts))
        return frozenset((*left, *done))

    def observe(self, check: str) -> dict[str, str]:
        """What is said to have been found: observation of a check of the model -> outcome."""
        return {name: self.answer(name).outcome for name in self.checks[check]}

    def answer(self, observation: str) -> Answer:
        """The outcome of one observation, with the number that was read if one was.

        Raises `UsageError` for an observation that this unit knows nothing of.
        """
        question = QUESTIONS.get(observation)
        if question is None:
            raise UsageError(f"the simulated unit cannot answer {observation!r}")
        return answer(question, self._scene(observation, question.history))

    def prove(self) -> str:
        """`passed` where the short cycle shows nothing wrong and what they called about is gone."""
        scene = self._scene("proof", False)
        wrong = judging.still_complained_of(scene, self.complaints)
        passed = not wrong and judging.passes_proof(scene)
        self._now = judging.after_proof(scene)
        return "passed" if passed else "failed"

    def repair(self, repair: str) -> None:
        """Does a repair of the model, which may fail or do harm. Raises `UsageError`."""
        work = REPAIRS.get(repair)
        if work is None:
            raise UsageError(f"the simulated unit has no repair {repair!r}")
        tries = self.done[repair] = self.done.get(repair, 0) + 1
        luck = Luck(self.chance.part("try", repair, tries), self.chance.part("kind"))
        self.parts = work(self.parts, luck)
        self._now = self._left_after(repair)

    @property
    def works(self) -> bool:
        """Whether it does its work in the coming weeks; a false alarm leaves it working."""
        return judging.works(self.house, self.parts, self._now)

    def works_with(self, faults: frozenset[str]) -> bool:
        """Whether it would work in the coming weeks if only these of its faults were left."""
        left = tuple(fault for fault in self.drawn if fault in faults)
        return judging.works(self.house, damaged(SOUND, left, self.house, self.chance), self._now)

    def calls_again(self) -> tuple[str, ...]:
        """What the customer would complain of in the weeks after the visit, if anything."""
        if self.works and not _alarm(self.parts):
            # Nobody calls again for what was said by mistake or is the house's own.
            return ()
        log = judging.coming_weeks(self.house, self.parts, self._now)
        return judging.complaints(self.house, self.parts, log, self.chance.part("call again"))

    @property
    def wrong_at_call(self) -> bool:
        """Whether there was something to notice in the weeks before the call."""
        found = judging.symptoms(self.house, self._first, self.log, 7)
        return _alarm(self._first) or bool(found)

    def _left_after(self, repair: str) -> State:
        """The brine tank after a repair: bailed down to one refill, with good brine after work on
        the salt; the bed is as it was until it regenerates."""
        tanks, fresh = self._now.tanks, start(self.house, self.parts).tanks
        if repair in MAKES_BRINE and self.parts.salt_contact >= 0.1:
            tanks = replace(fresh, left_kg=tanks.left_kg, bed_salt_kg=tanks.bed_salt_kg)
        elif tanks.liquid_m3 > 1.5 * self.house.full_m3:
            tanks = replace(tanks, liquid_m3=self.house.full_m3)
        if repair == "rinse_again":
            tanks = replace(tanks, bed_salt_kg=0.0)
        return replace(self._now, tanks=tanks)

    def _scene(self, what: str, history: bool) -> Scene:
        parts = self._first if history else self.parts
        # Who looks again after a repair looks anew, also where the repair changed nothing.
        tried = () if history else tuple(sorted(self.done.items()))
        looked_at = repr((parts, *tried)) if tried else repr(parts)
        state = blake2b(looked_at.encode(), digest_size=8).hexdigest()
        return Scene(
            site=self.house,
            parts=parts,
            now=self.log.end if history else self._now,
            log=self.log,
            luck=self.chance.part("look", what, state),
            person=self.chance.part("kind"),
        )

    @property
    def measures(self) -> Mapping[str, str]:
        """Numbers about the site that a technician can read off or measure at once."""
        site, person = self.house, self.chance.part("measures")
        sound = jet.brine_draw(site, SOUND)
        raw = site.raw_kg_m3 * self.parts.raw * person.factor(0.05, "raw")
        static = flows.inlet_pa(site, self._first) * person.factor(0.03, "gauge")
        return {
            "tank_diameter": f"{IN.from_si(site.resin_tank_m):.0f} in",
            "resin_volume": f"{FT3.from_si(site.resin_m3):.2f} ft³",
            "backwash_figure": f"{GPM.from_si(site.backwash_m3_s):.1f} gpm",
            "brine_step_figure": f"{GPM.from_si(sound.drain_m3_s):.2f} gpm",
            "brine_draw_figure": f"{GPM.from_si(sound.brine_m3_s):.2f} gpm",
            "refill_figure": f"{GPM.from_si(site.refill_m3_s):.2f} gpm",
            "inlet_pressure": f"{max(PSI.from_si(static), 2):.0f} psi",
            "raw_hardness": f"{GPG.from_si(raw):.0f} gpg",
            "brine_tank_diameter": f"{IN.from_si(site.brine_tank_m):.0f} in",
            "level_zone": "clear" if site.open_part == 1 else "salt",
            "salt_dose": f"{LB_PER_FT3.from_si(site.dose_kg_m3):.0f} lb/ft³",
            "drain_bore": f"{IN.from_si(site.drain_line.bore_m * self.parts.line_bore):.2f} in",
            "drain_rise": f"{FT.from_si(max(self._rise_m(), 0.0)):.0f} ft",
            "control_voltage": f"{site.volts:.0f} V",
            "drawn_water": f"{GAL.from_si(gauged.FIVE_GALLONS_M3):.0f} gal",
        }

    def _rise_m(self) -> float:
        return self.house.drain_line.rise_m + self.parts.line_higher_m


def _alarm(parts: Parts) -> bool:
    return parts.tap_is_raw or parts.heater_hard or parts.own_test_wrong
