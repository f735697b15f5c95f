"""Every question asked of one model: what was found, and the figures behind it."""

from __future__ import annotations

from brinebayes.checking import (
    applicability,
    escalation,
    identifiability,
    informativeness,
    provenance,
    remedies,
    safety,
    shares,
    zeros,
)
from brinebayes.checking.exact import Exact, exact
from brinebayes.checking.remark import Remark, error
from brinebayes.checking.shares import Shares
from brinebayes.errors import ModelError
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.well_formed.spots import FAULTS
from brinebayes.record import record


@record
class Examined:
    """`exact`, `shares` and `alike` are missing when no network has the stated shares."""

    remarks: tuple[Remark, ...]
    exact: Exact | None
    shares: Shares | None
    alike: tuple[tuple[str, ...], ...]


def examine(model: Model) -> Examined:
    """Ask everything, however much is found; raises nothing."""
    found = [
        *provenance.remarks(model),
        *applicability.remarks(model),
        *zeros.remarks(model),
        *remedies.remarks(model),
        *safety.remarks(model),
    ]
    try:
        network = exact(model)
    except ModelError as refused:
        return Examined((*found, error("no_exact_network", FAULTS, str(refused))), None, None, ())
    told, columns = informativeness.told(network), identifiability.columns(network)
    stated = shares.shares(network)
    found += [
        *shares.remarks(stated),
        *informativeness.remarks(model, told),
        *identifiability.remarks(model, columns),
        *escalation.remarks(network),
    ]
    return Examined(tuple(found), network, stated, identifiability.alike(columns))
