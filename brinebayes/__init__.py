"""brinebayes: what to check or repair next on a household water softener, and why.

    import brinebayes as bb

    model = bb.load()
    answer = bb.ask(model, [bb.Complained("salt_unused"), bb.Saw("salt_seen", "plenty")])
    answer.faults[0], answer.next.act.name

Everything else is imported from its room, see DEVELOPERS.md.
"""

from __future__ import annotations

from collections.abc import Iterable
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from brinebayes.advice.advise import Advice
    from brinebayes.knowledge.schema import CheckedModel
    from brinebayes.visit.events import Event

__version__ = "0.1.0"

#: Names that are fetched from their room when they are first used, so that importing is cheap.
_FROM = {
    **dict.fromkeys(
        ("Complained", "CouldNot", "Done", "Measured", "PartMissing", "Read", "Saw", "SetupIs"),
        "brinebayes.visit.events",
    ),
    "SiteKnown": "brinebayes.visit.events",
    "BrinebayesError": "brinebayes.errors",
    "read_events": "brinebayes.visit.record",
}

__all__ = ["__version__", "ask", "load", *sorted(_FROM)]


def load(model: str | Path = "softener") -> CheckedModel:
    """A proven model: the name of a shipped one or a folder. Raises ModelError, UsageError."""
    from brinebayes.checking.ready import ready
    from brinebayes.knowledge.shipped import model_folder

    return ready(model_folder(model))


def ask(model: CheckedModel, events: Iterable[Event]) -> Advice:
    """Ranked faults and the next act after these events, in the order in which they happened.

    Raises UsageError for an id the model does not have, EvidenceConflict for what cannot be.
    """
    from brinebayes.advice.advise import advise
    from brinebayes.visit.state import fold

    return advise(model, fold(model.model, events))


def __getattr__(name: str) -> Any:
    if name in _FROM:
        return getattr(import_module(_FROM[name]), name)
    raise AttributeError(f"module 'brinebayes' has no attribute {name!r}")
