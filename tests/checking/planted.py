"""The small model with one mistake planted in its files, and what is then said of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from brinebayes.checking.examine import examine
from brinebayes.checking.remark import Places, Remark
from brinebayes.errors import Problem
from brinebayes.knowledge.hashing import model_bytes
from brinebayes.knowledge.reading import read_bytes
from brinebayes.knowledge.schema import Model

SMALL = Path(__file__).resolve().parents[1] / "models" / "small"


@dataclass(frozen=True)
class Edit:
    """In `file`, the text `replace` (it occurs once) becomes `by`."""

    file: str
    replace: str
    by: str


@dataclass(frozen=True)
class Planted:
    """Edits, and the one remark that must come of them.

    `at`: a text of the edited file; the remark must point at its line. `says`: words it contains.
    """

    name: str
    edits: tuple[Edit, ...]
    severity: str
    kind: str
    at: str
    says: tuple[str, ...]


def edited(edits: tuple[Edit, ...]) -> dict[str, bytes]:
    """The files of the small model with the edits made."""
    files = model_bytes(SMALL)
    for edit in edits:
        text = files[edit.file].decode("utf-8")
        assert text.count(edit.replace) == 1, f"{edit.replace!r} must occur once in {edit.file}"
        files[edit.file] = text.replace(edit.replace, edit.by).encode("utf-8")
    return files


@cache
def small() -> Model:
    return read_bytes(model_bytes(SMALL))


@cache
def before() -> frozenset[Remark]:
    """Everything that is said of the small model as it is."""
    return frozenset(examine(small()).remarks)


def new_remarks(files: dict[str, bytes]) -> list[Remark]:
    """What is said of the edited model and was not said before."""
    found = examine(read_bytes(files)).remarks
    return [remark for remark in found if remark not in before()]


def line_of(text: str, part: str) -> int:
    assert text.count(part) == 1, f"{part!r} must occur once"
    return text.count("\n", 0, text.index(part)) + 1


def problem(files: dict[str, bytes], remark: Remark) -> Problem:
    return Places(files).problem(remark)
