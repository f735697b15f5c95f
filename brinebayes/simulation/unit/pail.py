"""Flows timed with a pail and a watch."""

from __future__ import annotations

from brinebayes.physics.units import GPM
from brinebayes.simulation.unit.scene import Scene

#: A pail that nobody has checked is five to ten per cent off (judged in the trade's notes).
PAIL = 0.06


def timed(scene: Scene, flow_m3_s: float, *, small: bool = False) -> float:
    """A flow by pail and watch: the pail's own error all visit, the watch's each time."""
    marks = scene.person.factor(0.03 if small else PAIL, "jug" if small else "pail")
    return flow_m3_s * marks * (1 + 0.02 * scene.luck.normal("watch"))


def gpm(flow_m3_s: float) -> str:
    return f"{max(GPM.from_si(flow_m3_s), 0.0):.2f} gpm"
