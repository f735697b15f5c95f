"""What was learned, as edits of the model files."""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite
from pathlib import Path as FilePath

from brinebayes.errors import NotBetterError
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.versions import Edits
from brinebayes.knowledge.writing import Value, is_block_text
from brinebayes.tuning.changes import Change
from brinebayes.tuning.numbers import Path, number_at
from brinebayes.tuning.tune import Tuning


def edits(tuning: Tuning, folder: FilePath) -> Edits:
    """Every value that changes, in the files of `folder`.

    Raises NotBetterError when the new numbers are no better on the cases kept back.
    """
    if not tuning.accepted:
        raise NotBetterError(
            "the new numbers are not better on the cases kept back; nothing is written"
            if tuning.verdict.enough
            else f"only {tuning.verdict.record.cases} cases were kept back, too few to tell whether"
            " the new numbers are better; nothing is written"
        )
    found: dict[str, dict[Path, Value]] = {}
    texts: dict[str, str] = {}
    for one in tuning.changes:
        if one.stays:
            continue
        file = one.entry.file
        if file not in texts:
            texts[file] = (folder / file).read_text(encoding="utf-8")
        found.setdefault(file, {}).update(_of(tuning, one, texts[file]))
    if found:
        found.setdefault("model.yaml", {})["version",] = next_version(tuning.start)
    return found


def next_version(model: Model) -> str:
    """The last figure of the version counted up: 0.2.0 -> 0.2.1."""
    head, _, last = model.about.version.rpartition(".")
    if not last.isdigit():
        return f"{model.about.version}.1"
    return f"{head}.{int(last) + 1}" if head else str(int(last) + 1)


def _of(tuning: Tuning, one: Change, text: str) -> Iterable[tuple[Path, Value]]:
    at = one.entry.path
    if one.entry.states:
        for state, value in zip(one.entry.states, one.new, strict=True):
            yield (*at, "of", state), value
    else:
        yield (*at, "value"), one.new[0]
    before = number_at(tuning.start, one.entry.key)
    weight = min(known.weight for known in one.known)
    yield (*at, "basis"), "learned"
    if isfinite(weight):
        yield (*at, "weight"), round(float(weight), 1)
    if before.basis != "learned" and not is_block_text(text, one.entry.file, (*at, "note")):
        yield (*at, "note"), f"{_held(one)} before the cases ({one.basis}): {before.note}"
    yield (*at, "cases"), max(1, round(one.cases))
    yield (*at, "learned_on"), tuning.sorted.last_day


def _held(one: Change) -> str:
    if not one.entry.states:
        return f"{one.old[0]:g}"
    return ", ".join(f"{s} {v:g}" for s, v in zip(one.entry.states, one.old, strict=True))
