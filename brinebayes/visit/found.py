"""How it is known that a fault was there."""

from __future__ import annotations

from typing import Literal, get_args

#: seen: with one's own eyes. repaired_and_proven: its repair was followed by a passed proof.
#: repaired_only: its repair was carried out and nothing was proven. judged: held to be the cause.
How = Literal["seen", "repaired_and_proven", "repaired_only", "judged"]

HOWS: tuple[str, ...] = get_args(How)
