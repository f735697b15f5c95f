"""The one place where the time is read, and where chance names something."""

from __future__ import annotations

from datetime import UTC, date, datetime


def utc() -> str:
    """Now, as visit files have it."""
    from brinebayes.visit.record import time_text

    return time_text(datetime.now(UTC))


def today() -> date:
    """The date where the technician is."""
    return datetime.now().astimezone().date()


def new_id() -> str:
    """An id that no other visit has."""
    from secrets import token_hex

    return token_hex(8)
