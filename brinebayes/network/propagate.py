"""The engine as its callers see it: beliefs from a compiled tree, joints, draws."""

from __future__ import annotations

from brinebayes.network.calibration import Beliefs, calibrate, log_evidence, posteriors
from brinebayes.network.draws import Stratum, draw
from brinebayes.network.joints import Ask, Joints, answer, joints, prepare

__all__ = [
    "Ask",
    "Beliefs",
    "Joints",
    "Stratum",
    "answer",
    "calibrate",
    "draw",
    "joints",
    "log_evidence",
    "posteriors",
    "prepare",
]
