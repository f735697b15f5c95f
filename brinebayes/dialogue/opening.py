"""From a file to a dialogue: does the model of today still know everything in it?"""

from __future__ import annotations

from pathlib import Path

from brinebayes.errors import DataError, UsageError
from brinebayes.knowledge.names import listed
from brinebayes.knowledge.schema import Model
from brinebayes.visit.events import Event, ModelIs, standing
from brinebayes.visit.record import Record
from brinebayes.visit.state import lacks


def model_is(model: Model) -> ModelIs:
    """The model by its id, version and hash."""
    return ModelIs(model.about.id, model.about.version, model.hash)


def checked_events(path: Path, record: Record, model: Model) -> tuple[Event, ...]:
    """The events of a file, every one of which the model can take.

    Raises DataError: the file belongs to another model, or names what the model lacks, by line.
    """
    before = record.model
    if before is not None and before.id != model.about.id:
        raise DataError(
            f"{path}: belongs to the model '{before.id}', not to '{model.about.id}'; "
            "give its folder with --model"
        )
    unknown = [
        f"line {entry.line}: {why}"
        for entry in record.entries
        if (why := lacks(model, entry.event)) is not None
    ]
    if unknown:
        changed = before is not None and before.hash != model.hash
        because = f" (begun with version {before.version})" if before and changed else ""
        raise DataError(
            f"{path}: the model {model.about.id} {model.about.version} does not know all of this "
            f"visit{because}: {listed(unknown, most=6)}"
        )
    try:
        standing(record.events)
    except UsageError as error:
        raise DataError(f"{path}: {error}") from None
    return record.events
