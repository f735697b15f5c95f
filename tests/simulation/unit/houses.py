"""Sites and units that the tests of the simulated unit share."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.simulation.unit import drawing, houses
from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.parts import SOUND, Parts
from brinebayes.simulation.unit.scene import Answer, Scene
from brinebayes.simulation.unit.site import Site
from brinebayes.simulation.unit.unit import Unit
from brinebayes.simulation.unit.weeks import serve, start

ROOT = Path(__file__).resolve().parents[3]

#: The unit that most houses have.
USUAL: Mapping[str, str] = {
    "tanks": "single",
    "started_by": "metered",
    "drive_kind": "electric",
    "valve_family": "piston",
    "refill_order": "refill_last",
    "brined": "downflow",
    "control_place": "in_valve",
    "water_source": "city",
    "drain_run": "short_run",
}


@lru_cache(maxsize=1)
def shipped() -> Model:
    """The shipped model, for its ids."""
    return read_model(ROOT / "models" / "softener")


@lru_cache(maxsize=256)
def house(number: int = 1, family: houses.Family = houses.A, **conditions: str) -> Site:
    """A house with the usual unit, otherwise than usual where `conditions` say so."""
    return houses.draw(family, {**USUAL, **conditions}, Chance(f"test house {number}"))


@lru_cache(maxsize=1024)
def unit(number: int, *faults: str, **conditions: str) -> Unit:
    """A unit of family A with these faults; for faults that need it, on a site that has it."""
    site = {**USUAL, **conditions}
    for fault in faults:
        for name, values in shipped().faults[fault].applies.items():
            accepted = (values,) if isinstance(values, str) else values
            if site[name] not in accepted:
                site[name] = accepted[0]
    return drawing.with_faults(shipped(), houses.A, f"test {number}", site, faults)


def scene(parts: Parts = SOUND, number: int = 1, luck: int = 0, **conditions: str) -> Scene:
    """A look at one house after three weeks with these parts."""
    site = house(number, **conditions)
    log = serve(site, parts, start(site, parts), 21)
    return Scene(site, parts, log.end, log, Chance(f"luck {luck}"), Chance(f"person {luck}"))


def commonest(look: Callable[[Scene], Answer | str], at: Scene) -> str:
    """What most people say who look at this scene."""
    said = []
    for luck in range(15):
        other = replace(at, luck=Chance(f"l{luck}"), person=Chance(f"p{luck}"))
        found = look(other)
        said.append(found if isinstance(found, str) else found.outcome)
    return max(set(said), key=said.count)
