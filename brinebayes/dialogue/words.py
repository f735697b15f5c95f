"""Typed words that name things of the model."""

from __future__ import annotations

import re
from collections import Counter

from brinebayes.errors import UsageError
from brinebayes.knowledge.names import suggest
from brinebayes.knowledge.schema import Model
from brinebayes.visit.events import Complained, Event, Found, Read, Saw
from brinebayes.visit.state import COMPLAINTS, observations_of, site_fact

#: Words in common from which a complaint is asked for: one that no other has.
CLEAR = 1.0
_ENDING = re.compile(r"(es|s|ing)$")


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
        hint = suggest(text, known) or meant(model, text)
        raise UsageError(f"write it as: saw OBSERVATION=OUTCOME, or said and a complaint{hint}")
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


def said(model: Model, text: str) -> Complained:
    """The same as an event. Raises UsageError for words that are no complaint, with the one they
    may mean."""
    found = complaint(model, text)
    if not found:
        hint = suggest(text, model.complaints) or meant(model, text)
        raise UsageError(f"there is no complaint '{text}'{hint}")
    return Complained(found)


def meant(model: Model, text: str) -> str:
    """` (did you mean ...?)` with the complaint that shares most words with a text, if one does.

    A word counts the less the more complaints it occurs in. It is asked and never taken for said.
    """
    known = {
        name: _stems(" ".join((item.name, *item.words))) for name, item in model.complaints.items()
    }
    often = Counter(stem for stems in known.values() for stem in stems)
    told = _stems(text)
    shared = {name: sum(1 / often[stem] for stem in stems & told) for name, stems in known.items()}
    best = max(shared.values(), default=0.0)
    first = [name for name, one in shared.items() if one == best]
    if best < CLEAR or len(first) > 1:
        return ""
    return f" (did you mean {first[0]}, {model.complaints[first[0]].name}?)"


def _stems(text: str) -> set[str]:
    """The words of a text without the endings of plural and verb."""
    words = "".join(c if c.isalpha() else " " for c in text.casefold()).split()
    return {_ENDING.sub("", word) for word in words if len(word) > 2}


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
