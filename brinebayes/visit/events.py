"""What can happen in a visit. An event is a fact about the past; none of them is ever changed."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SiteKnown:
    """A site condition became known."""

    condition: str
    value: str


@dataclass(frozen=True, slots=True)
class Complained:
    """The customer made a complaint."""

    complaint: str


@dataclass(frozen=True, slots=True)
class Saw:
    """An observation was made."""

    observation: str
    outcome: str


@dataclass(frozen=True, slots=True)
class Done:
    """A repair was carried out."""

    repair: str


@dataclass(frozen=True, slots=True)
class SetupIs:
    """The technician states how one part of the unit stands right now."""

    variable: str
    value: str


@dataclass(frozen=True, slots=True)
class CouldNot:
    """A check or repair cannot be done on this visit; it says nothing about the unit."""

    act: str


@dataclass(frozen=True, slots=True)
class PartMissing:
    """A part is not in the van."""

    part: str


Event = SiteKnown | Complained | Saw | Done | SetupIs | CouldNot | PartMissing

#: The word that names each kind of event in a visit file.
KINDS: dict[str, type[Event]] = {
    "site": SiteKnown,
    "complaint": Complained,
    "saw": Saw,
    "done": Done,
    "setup": SetupIs,
    "could_not": CouldNot,
    "part_missing": PartMissing,
}
