"""A softener in its house, to be asked, repaired and judged; what simulated visits work on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from hashlib import blake2b

from brinebayes.errors import UsageError
from brinebayes.physics.units import FT, FT3, GAL, GPG, GPM, IN, LB_PER_FT3, PSI
from brinebayes.simulation.unit import (
    asked,
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
from brinebayes.simulation.unit.parts import SOUND, Parts
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
    **gauged.ANSWERS,
    **opened.ANSWERS,
}


@dataclass
class Unit:
    """One softener with what is wrong with it. Only `repair` changes it.

    `observe`, `prove` and `repair` draw their luck from what is asked, the physical state and the
    number of the try, never from the order of the visit: two policies that bring the same unit to
    the same state are told the same. `faults`: as drawn, for scoring only.
    """

    name: str
    site: Site
    faults: tuple[str, ...]
    parts: Parts
    log: Log
    complaints: tuple[str, ...]
    chance: Chance
    done: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._first = self.parts
        self._now = self.log.end

    def copy(self) -> Unit:
        """The same unit as it was when the call came, for another policy."""
        return Unit(
            self.name,
            self.site,
            self.faults,
            self._first,
            self.log,
            self.complaints,
            self.chance,
        )

    def observe(self, observation: str) -> Answer:
        """What a technician, or the customer, says of one observation of the model.

        Raises `UsageError` for an observation that this unit knows nothing of.
        """
        question = QUESTIONS.get(observation)
        if question is None:
            raise UsageError(f"the simulated unit cannot answer {observation!r}")
        return answer(question, self._scene(observation, question.history))

    def prove(self) -> bool:
        """Whether the short cycle of the proof shows nothing wrong."""
        return judging.passes_proof(self._scene("proof", False))

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
        """Whether it does its work in the coming weeks, false alarms apart."""
        return judging.works(self.site, self.parts, self._now)

    def calls_again(self) -> tuple[str, ...]:
        """What the customer would complain of in the weeks after the visit, if anything."""
        log = judging.coming_weeks(self.site, self.parts, self._now)
        again = self.chance.part("call again")
        said = judging.complaints(self.site, self.parts, log, again)
        # Nobody calls again for what was said by mistake or is the house's own.
        return said if self._wrong() else ()

    def _wrong(self) -> bool:
        alarms = self.parts.tap_is_raw or self.parts.heater_hard or self.parts.own_test_wrong
        return alarms or not self.works

    @property
    def wrong_at_call(self) -> bool:
        """Whether there was something to notice in the weeks before the call."""
        alarms = self._first.tap_is_raw or self._first.heater_hard or self._first.own_test_wrong
        return alarms or bool(judging.symptoms(self.site, self._first, self.log, 7))

    def _left_after(self, repair: str) -> State:
        """The brine tank after a repair: bailed down to one refill, with good brine after work on
        the salt; the bed is as it was until it regenerates."""
        tanks, fresh = self._now.tanks, start(self.site, self.parts).tanks
        if repair in MAKES_BRINE and self.parts.salt_contact >= 0.1:
            tanks = replace(fresh, left_kg=tanks.left_kg, bed_salt_kg=tanks.bed_salt_kg)
        elif tanks.liquid_m3 > 1.5 * self.site.full_m3:
            tanks = replace(tanks, liquid_m3=self.site.full_m3)
        if repair == "rinse_again":
            tanks = replace(tanks, bed_salt_kg=0.0)
        return replace(self._now, tanks=tanks)

    def _scene(self, what: str, history: bool) -> Scene:
        parts = self._first if history else self.parts
        state = blake2b(repr(parts).encode(), digest_size=8).hexdigest()
        return Scene(
            site=self.site,
            parts=parts,
            now=self.log.end if history else self._now,
            log=self.log,
            luck=self.chance.part("look", what, state),
            person=self.chance.part("kind"),
        )

    @property
    def conditions(self) -> Mapping[str, str]:
        """The model's site conditions, as seen at a glance or told on the phone."""
        return self.site.known

    @property
    def measures(self) -> Mapping[str, str]:
        """Numbers about the site that a technician can read off or measure at once."""
        site, person = self.site, self.chance.part("measures")
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
        return self.site.drain_line.rise_m + self.parts.line_higher_m
