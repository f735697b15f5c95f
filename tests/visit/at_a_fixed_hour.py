"""The command line on the last day of May 2024, for recordings that can be compared."""

from __future__ import annotations

from datetime import date

from brinebayes.cli import clock
from brinebayes.cli.main import main

TODAY = date(2024, 5, 31)


def run() -> None:
    """`main` with a clock that stands still."""
    setattr(clock, "utc", lambda: "2024-05-31T08:00:00Z")  # noqa: B010
    setattr(clock, "today", lambda: TODAY)  # noqa: B010
    main()


if __name__ == "__main__":
    run()
