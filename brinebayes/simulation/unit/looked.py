"""What is seen, smelt or felt without a tool."""

from __future__ import annotations

from collections.abc import Mapping

from brinebayes.physics import brine
from brinebayes.physics.units import FT, IN
from brinebayes.simulation.unit import flows, service
from brinebayes.simulation.unit.scene import LOOKED, Answer, Question, Scene
from brinebayes.simulation.unit.site import SALT_HEAP_KG_M3

#: Iron is seen from the secondary standard on, 0.3 mg/L. Source: 40 CFR 143.3.
COLOURED_MG_L = 0.3

#: Salt up to a hand's breadth is nearly none. Common practice, no source.
HAND_M = IN.to_si(4)


def floor_seen(scene: Scene) -> str:
    """A crack wets the floor; an overflow does where it is not led to a drain, half of them."""
    cracked = scene.parts.crack_m3_s > 0 and not scene.misses(0.12)
    spilt = scene.log.overflowed and scene.person.happens(0.5, "overflow on floor")
    return "wet" if cracked or spilt or scene.luck.happens(0.04, "sweat") else "dry_floor"


def glass_seen(scene: Scene) -> str:
    """Colour comes in pushes; raw well water browns after some minutes."""
    rust = scene.parts.rust_mg_l * scene.luck.factor(0.4, "push")
    if rust > COLOURED_MG_L or scene.parts.beyond == "rusty_pipe":
        return "clear_glass" if scene.misses(0.12) else "coloured_soft"
    raw = scene.site.iron_mg_l * scene.luck.between(0.0, 0.35, "air")
    return "coloured_raw" if raw > 2 * COLOURED_MG_L else "clear_glass"


def smell_found(scene: Scene) -> str:
    if scene.site.smell_elsewhere == "raw":
        return "raw_too"
    if scene.parts.slime or scene.parts.beyond == "dead_leg":
        return "no_smell" if scene.misses(0.12) else "softened_only"
    return "hot_only" if scene.site.smell_elsewhere == "hot" else "no_smell"


def liquid_m(scene: Scene) -> float:
    """Height of the water in the brine tank."""
    site = scene.site
    return brine.height_m(scene.now.tanks.liquid_m3, site.brine_tank_m, site.open_part)


def salt_m(scene: Scene) -> float:
    """Height of the salt in the tank."""
    heap = scene.now.tanks.salt_kg / SALT_HEAP_KG_M3
    return brine.height_m(heap, scene.site.brine_tank_m)


def salt_seen(scene: Scene) -> str:
    """A bridge looks like plenty; salt under water is hard to judge."""
    if scene.parts.salt_contact < 0.1:
        return "plenty"
    return "nearly_none" if salt_m(scene) < HAND_M else "plenty"


def water_in_tank(scene: Scene) -> str:
    if scene.parts.salt_contact < 0.1:
        crust = max(salt_m(scene), brine.height_m(scene.site.full_m3, scene.site.brine_tank_m))
        return "over_salt" if liquid_m(scene) > crust + HAND_M else "under_salt"
    return "over_salt" if liquid_m(scene) > salt_m(scene) else "under_salt"


def salt_kind(scene: Scene) -> str:
    """The dirtier, the surer it is seen."""
    dirty = scene.luck.happens(scene.parts.salt_dirt, "seen") or scene.luck.happens(0.03, "dust")
    return "dirty_or_wrong" if dirty else "right_kind"


def display(scene: Scene) -> str:
    parts = scene.parts
    if parts.power < 0.7:
        return "dark" if parts.power < 0.4 or scene.luck.happens(0.6, "dim") else "error_or_frozen"
    if parts.board in ("frozen", "garbled"):
        return "error_or_frozen"
    if parts.sensor_dead and scene.luck.happens(0.5, "error code"):
        return "error_or_frozen"
    if parts.motor_dead and scene.luck.happens(0.2, "error code"):
        return "error_or_frozen"
    return "normal"


def clock(scene: Scene) -> str:
    """A dark or garbled display shows no right hour."""
    off = abs(scene.parts.clock_off_h) > 1
    unread = scene.parts.power < 0.4 or scene.parts.board in ("frozen", "garbled")
    return "wrong_hour" if off or unread or scene.luck.happens(0.05, "drift") else "right_hour"


def bypass_position(scene: Scene) -> str:
    """A handle that is a tenth off its stop is easily taken for home."""
    gap = scene.parts.bypass_handle
    seen = gap > 0 and not (gap < 0.15 and scene.misses(0.35))
    return "part_or_full_bypass" if seen else "at_service_stop"


def valve_mark(scene: Scene) -> str:
    off = scene.parts.stands != "service"
    return "away_from_service" if off and not scene.misses(0.05) else "at_service"


def drain_in_service(scene: Scene) -> str:
    """A drip that is missed in a minute is one of less than some gallons a day."""
    passing = service.passing_m3_s(scene.site, scene.parts)
    return "runs" if passing > service.SEEN_M3_S else "dry_drain"


def drain_line_seen(scene: Scene) -> Answer:
    """Half-inch up to 20 ft is the trade's limit (common practice); from 8 ft on it climbs high.

    A third of the lines runs behind something somewhere; a plug may sit down in the standpipe.
    """
    parts, tube = scene.parts, flows.drain_line(scene.site, scene.parts)
    feet = FT.from_si(tube.length_m) * scene.luck.factor(0.07, "paced")
    number = f"{feet:.0f} ft"
    hidden = 0.05 if scene.site.line_in_sight else 0.5
    if parts.line_clear < 0.5 and not scene.misses(hidden):
        return Answer("kinked")
    if parts.end_clear < 0.5 and not scene.misses(0.15):
        return Answer("plugged_or_frozen")
    climbs = FT.from_si(tube.rise_m) > 8
    narrow = tube.bore_m < IN.to_si(0.4)
    # A line as long as the trade allows is passed if it is only a little longer.
    if climbs or narrow or feet > 22:
        return Answer("long_or_high", number)
    return Answer("sound_line", number)


def drain_gap(scene: Scene) -> str:
    return "gap_there" if scene.site.gap_at_drain else "no_gap"


def brine_line_seen(scene: Scene) -> str:
    """A plug of salt inside a clear tube is seen, one in a fitting is not."""
    blocked = scene.parts.brine_line_clear < 0.2 and not scene.misses(0.25)
    return "kinked_or_plugged" if blocked else "sound"


def ports_seen(scene: Scene) -> str:
    return "reversed_ports" if scene.parts.reversed_ports else "right_way"


def inlet_seen(scene: Scene) -> str:
    shut = scene.parts.inlet_clear < 0.3 and not scene.misses(0.15)
    return "shut_or_dirty" if shut or scene.site.slow_dirt else "open_and_clean"


def salt_probe(scene: Scene) -> str:
    """A rod meets what lies there; old tanks have a hand of fine salt at the bottom."""
    if scene.parts.salt_contact < 0.1 and not scene.misses(0.06):
        return "hollow"
    mush = scene.parts.mush_m > IN.to_si(2) and not scene.misses(0.06)
    return "mush" if mush or scene.luck.happens(0.04, "fines") else "loose"


def strainer_found(scene: Scene) -> str:
    parts = scene.parts
    if parts.basket_broken or (parts.reversed_ports and parts.resin_there < 0.95):
        return "clean_strainer" if scene.misses(0.07) else "beads_there"
    if parts.soft_beads and scene.luck.happens(0.12, "crumbs"):
        return "beads_there"
    rust = parts.rust_mg_l > COLOURED_MG_L or parts.beyond == "rusty_pipe"
    if rust and scene.luck.happens(0.6, "rust"):
        return "rust_there"
    return "rust_there" if scene.luck.happens(0.04, "main") else "clean_strainer"


ANSWERS: Mapping[str, Question] = {
    "floor_seen": Question(floor_seen, ("dry_floor", "wet"), LOOKED),
    "glass_seen": Question(glass_seen, ("clear_glass", "coloured_soft", "coloured_raw"), LOOKED),
    "smell_found": Question(
        smell_found, ("no_smell", "softened_only", "hot_only", "raw_too"), LOOKED
    ),
    "salt_seen": Question(salt_seen, ("plenty", "nearly_none"), LOOKED),
    "water_in_tank": Question(water_in_tank, ("under_salt", "over_salt"), LOOKED),
    "salt_kind": Question(salt_kind, ("right_kind", "dirty_or_wrong"), LOOKED),
    "display": Question(display, ("normal", "error_or_frozen", "dark"), LOOKED),
    "clock": Question(clock, ("right_hour", "wrong_hour"), LOOKED),
    "bypass_position": Question(
        bypass_position, ("at_service_stop", "part_or_full_bypass"), LOOKED
    ),
    "valve_mark": Question(valve_mark, ("at_service", "away_from_service"), LOOKED),
    "drain_in_service": Question(drain_in_service, ("dry_drain", "runs"), LOOKED),
    "drain_line_seen": Question(
        drain_line_seen, ("sound_line", "kinked", "long_or_high", "plugged_or_frozen"), LOOKED
    ),
    "drain_gap": Question(drain_gap, ("gap_there", "no_gap"), LOOKED),
    "brine_line_seen": Question(brine_line_seen, ("sound", "kinked_or_plugged"), LOOKED),
    "ports_seen": Question(ports_seen, ("right_way", "reversed_ports"), LOOKED),
    "inlet_seen": Question(inlet_seen, ("open_and_clean", "shut_or_dirty"), LOOKED),
    "salt_probe": Question(salt_probe, ("loose", "hollow", "mush"), LOOKED),
    "strainer_found": Question(
        strainer_found, ("clean_strainer", "beads_there", "rust_there"), LOOKED
    ),
}
