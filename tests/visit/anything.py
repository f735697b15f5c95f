"""Any event with any words in it, for laws about the file and the fold."""

from __future__ import annotations

from dataclasses import fields

from hypothesis import strategies as st

from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.visit.events import KINDS, CutOff, Event, Undo

WORD = st.text(min_size=1, max_size=8)


def event(*, cut_off: bool = False) -> st.SearchStrategy[Event]:
    """One event; a `cut_off` only where the line above may be one that was cut off."""
    kinds = [kind for kind in KINDS.values() if cut_off or kind is not CutOff]
    return st.sampled_from(kinds).flatmap(_of_kind)


def step() -> st.SearchStrategy[Event]:
    """One event that is no undo and speaks of the visit, not of its record."""
    return event().filter(lambda one: not isinstance(one, Undo))


def _of_kind(kind: type[Event]) -> st.SearchStrategy[Event]:
    values = {each.name: _value(str(each.type)) for each in fields(kind)}
    return st.fixed_dictionaries(values).map(lambda found: kind(**found))


def _value(shape: str) -> st.SearchStrategy[object]:
    if shape.startswith("Mapping"):
        return st.dictionaries(WORD, WORD, max_size=3).map(ReadOnly)
    if shape.startswith("tuple"):
        return st.lists(WORD, max_size=3).map(tuple)
    return WORD
