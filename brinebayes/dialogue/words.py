"""Typed words that name things of the model."""

from __future__ import annotations

from brinebayes.errors import UsageError
from brinebayes.knowledge.names import suggest
from brinebayes.knowledge.schema import Model
from brinebayes.visit.events import Complained, Event, Found, Read, Saw
from brinebayes.visit.state import COMPLAINTS, observations_of, site_fact


def seen(model: Model, text: str) -> Event:
    """What was seen, read, or told of the site, by ids; a complaint in the customer's words too.

    Raises UsageError for what is neither.
    """
    key, sign, value = (part.strip() for part in text.partition("="))
    if sign:
        key = key.casefold()
        if key in model.measures:
            return site_fact(model, key, value)
        if is_number(value):
            return Read(key, value)
        value = value.casefold()
        if key in model.site:
            return site_fact(model, key, value)
        if key == COMPLAINTS:
            return Complained(value)
        return Saw(key, value)
    found = complaint(model, text)
    if not found:
        known = [*observations_of(model), *model.complaints]
        why = f"write it as: saw OBSERVATION=OUTCOME, or said and a complaint{suggest(text, known)}"
        raise UsageError(why)
    return Complained(found)


def found(model: Model, text: str) -> Found:
    """A fault by its id or name, and behind `=` how it was found. Raises UsageError."""
    name, _, how = (part.strip().casefold() for part in text.partition("="))
    if not name:
        raise UsageError("write it as: found FAULT, or found FAULT=seen")
    for fault, item in model.faults.items():
        if name in (fault, item.name.casefold()):
            return Found(fault, how)
    known = [*model.faults, *(item.name for item in model.faults.values())]
    raise UsageError(f"there is no fault '{name}'{suggest(name, known)}")


def is_number(text: str) -> bool:
    """Whether this is meant as a number, with or without its unit."""
    return text[:1].isdecimal() or (text[:1] in ("-", "+", ".", "~") and text[1:2].isdecimal())


def complaint(model: Model, text: str) -> str:
    """The complaint of this id, or whose words these are; empty if it is none."""
    folded = " ".join(text.casefold().split())
    if folded in model.complaints:
        return folded
    for name, item in model.complaints.items():
        sayings = [item.name, *item.words]
        if folded and any(folded == words.casefold() for words in sayings):
            return name
    return ""


def pair(text: str, shape: str) -> tuple[str, str]:
    """The halves of KEY=VALUE, as ids are written. Raises UsageError with the right shape."""
    key, sign, value = (part.strip() for part in text.partition("="))
    if not sign or not key or not value:
        raise UsageError(f"write it as: {shape}")
    return key.casefold(), value.casefold()


def word(text: str, shape: str) -> str:
    """A word that must be there, as ids are written. Raises UsageError with the right shape."""
    if not text:
        raise UsageError(f"write it as: {shape}")
    return text.casefold()
