"""The one place where the time is read."""

from __future__ import annotations

from datetime import UTC, date, datetime


def utc() -> str:
    """Now, as visit files have it."""
    from brinebayes.visit.record import time_text

    return time_text(datetime.now(UTC))


def today() -> date:
    """The date where the technician is."""
    return datetime.now().astimezone().date()
