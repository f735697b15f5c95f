"""What gauge, meter and voltmeter read."""

from __future__ import annotations

import math
from collections.abc import Mapping

from brinebayes.physics.units import GAL, PSI
from brinebayes.simulation.unit import flows, service
from brinebayes.simulation.unit.parts import LEAST_VOLTS
from brinebayes.simulation.unit.scene import MEASURED, Answer, Question, Scene
from brinebayes.simulation.unit.site import TAP_M3_S


def static_pressure(scene: Scene) -> Answer:
    """About 25 psi is low and 30 enough (the check's own words): half way between."""
    read = scene.gauge(flows.inlet_pa(scene.site, scene.parts), 0.03, PSI.to_si(1))
    word = "low" if read < PSI.to_si(27.5) else "normal_pressure"
    return Answer(word, f"{PSI.from_si(read):.0f} psi")


def flowing_pressure(scene: Scene) -> Answer:
    """With a tap wide open; about ten psi of fall is usual (the check's own words)."""
    still = flows.inlet_pa(scene.site, scene.parts)
    flowing = _tap_pa(scene)
    fall = scene.gauge(still - flowing, 0.03, PSI.to_si(1))
    word = "falls_away" if fall > PSI.to_si(12) else "holds"
    return Answer(word, f"{max(PSI.from_si(still - fall), 0.0):.0f} psi")


def _tap_pa(scene: Scene) -> float:
    """Pressure at the unit with a tap that would take its usual flow at the usual pressure."""
    site, parts = scene.site, scene.parts
    usual = site.static_pa - site.feed_pa
    flow = TAP_M3_S
    for _ in range(60):
        pressure = max(flows.inlet_pa(site, parts, flow), 0.0)
        flow += 0.3 * (TAP_M3_S * math.sqrt(pressure / usual) - flow)
    return max(flows.inlet_pa(site, parts, flow), 0.0)


def unit_loss(scene: Scene) -> str:
    """Up to 15 psi at rated flow is allowed. Source: NSF/ANSI 44."""
    loss = scene.gauge(service.unit_loss_pa(scene.site, scene.parts), 0.1)
    return "large_loss" if loss > PSI.to_si(15) else "small_loss"


def meter_count(scene: Scene) -> Answer:
    """Five gallons drawn through the unit; what goes round it is not counted."""
    through = 1 - service.bypassed(scene.site, scene.parts)
    counted = 5 * scene.parts.meter_counts * through * (1 + 0.03 * scene.luck.normal("paddle"))
    word = "counts" if counted > 3 else "counts_nothing"
    return Answer(word, f"{counted:.1f} gal of 5 gal")


def supply_voltage(scene: Scene) -> Answer:
    volts = abs(scene.gauge(scene.site.volts * scene.parts.power, 0.03, 0.2))
    word = "normal_voltage" if volts > LEAST_VOLTS * scene.site.volts else "no_voltage"
    return Answer(word, f"{volts:.1f} V")


#: The pail that these readings are taken with.
FIVE_GALLONS_M3 = GAL.to_si(5)


ANSWERS: Mapping[str, Question] = {
    "static_pressure": Question(static_pressure, ("normal_pressure", "low"), MEASURED),
    "flowing_pressure": Question(flowing_pressure, ("holds", "falls_away"), MEASURED),
    "unit_loss": Question(unit_loss, ("small_loss", "large_loss"), MEASURED),
    "meter_count": Question(meter_count, ("counts", "counts_nothing"), MEASURED),
    "supply_voltage": Question(supply_voltage, ("normal_voltage", "no_voltage"), MEASURED),
}
