"""Where the case log lies."""

from __future__ import annotations

import os
from pathlib import Path

from brinebayes.errors import UsageError

#: The environment may name the log's file for all commands; `off`: visits are not kept as cases.
VARIABLE = "BRINEBAYES_CASES"
OFF = "off"


def log_path(chosen: str = "") -> Path | None:
    """The log that was named, else the environment's, else the user's own; None if it is off.

    Raises UsageError where there is neither a name nor a home folder.
    """
    named = chosen or os.environ.get(VARIABLE, "")
    if named.lower() == OFF:
        return None
    if named:
        return Path(named)
    # The specification of base directories says that a path which is not absolute is ignored.
    base = os.environ.get("XDG_DATA_HOME", "")
    if not os.path.isabs(base):
        base = os.path.join(os.path.expanduser("~"), ".local", "share")
    if not os.path.isabs(base):
        raise UsageError(f"there is no home folder; name the case log: --log FILE or ${VARIABLE}")
    return Path(base) / "brinebayes" / "cases.db"


def required_path(chosen: str = "") -> Path:
    """As `log_path`, for what cannot do without a log. Raises UsageError where it is off."""
    path = log_path(chosen)
    if path is None:
        raise UsageError(f"the case log is switched off; name one: --log FILE or ${VARIABLE}")
    return path
