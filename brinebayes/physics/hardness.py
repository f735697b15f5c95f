"""Hardness of the water, as kg of CaCO3 per m3; the trade's units stand in `units`."""

from __future__ import annotations

from brinebayes.errors import UsageError
from brinebayes.physics.units import CACO3_KG_MOL

SODIUM_KG_MOL = 0.02298977


def sodium_kg_m3(removed_kg_m3: float) -> float:
    """Sodium that softening adds: two ions for each calcium, 2 M(Na)/M(CaCO3)."""
    return removed_kg_m3 * 2 * SODIUM_KG_MOL / CACO3_KG_MOL


def blend_kg_m3(raw_kg_m3: float, soft_kg_m3: float, bypassed: float) -> float:
    """Hardness of a blend of which the part `bypassed` went round the softener."""
    return bypassed * raw_kg_m3 + (1 - bypassed) * soft_kg_m3


def bypassed_part(raw_kg_m3: float, soft_kg_m3: float, blend: float) -> float:
    """The part that went round the softener, from the hardness of the blend.

    Raises `UsageError` where raw and softened water are equally hard.
    """
    if raw_kg_m3 == soft_kg_m3:
        raise UsageError("raw and softened water are equally hard; no blend can be told from them")
    return (blend - soft_kg_m3) / (raw_kg_m3 - soft_kg_m3)
