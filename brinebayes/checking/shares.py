"""Does the exact network give back the shares of calls that the files state?"""

from __future__ import annotations

from collections.abc import Iterator

from brinebayes.checking.exact import Exact
from brinebayes.checking.remark import Remark, error
from brinebayes.knowledge.well_formed.spots import ABOUT, FAULTS
from brinebayes.record import record

#: Stated shares have two or three digits; the network must meet them far closer than that.
TOLERANCE = 1e-9


@record
class Shares:
    """`stated` and `found`: share of calls per fault; `none_*`: share of calls without any."""

    stated: dict[str, float]
    found: dict[str, float]
    none_stated: float
    none_found: float


def shares(exact: Exact) -> Shares:
    """Stated shares beside P(fault | call) and P(no fault | call) of the network."""
    model = exact.model
    return Shares(
        stated={name: fault.share.value for name, fault in model.faults.items()},
        found=dict(exact.called.faults),
        none_stated=model.about.calls_without_fault.value,
        none_found=exact.called.no_fault,
    )


def remarks(found: Shares) -> Iterator[Remark]:
    """Shares that the network does not give back."""
    for name, stated in found.stated.items():
        if abs(found.found[name] - stated) > TOLERANCE:
            says = f"P({name} | a call) is {found.found[name]:.12g}, stated is {stated:.12g}"
            yield error("share_not_met", FAULTS / name / "share", says)
    if abs(found.none_found - found.none_stated) > TOLERANCE:
        says = (
            f"P(no fault | a call) is {found.none_found:.12g}, stated is {found.none_stated:.12g}"
        )
        yield error("share_not_met", ABOUT / "calls_without_fault", says)
