"""Versions of a model: a folder changes as a whole, and the way back stays open.

The files of the version before lie in `former/0001` and so on, the newest with the highest number;
what was given up by going back lies in `withdrawn`. Neither is part of the model.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Mapping
from pathlib import Path

from brinebayes.errors import UsageError
from brinebayes.knowledge import hashing
from brinebayes.knowledge.shipped import is_shipped
from brinebayes.knowledge.writing import Value, change_numbers
from brinebayes.knowledge.yaml_strict import Path as KeyPath

FORMER, WITHDRAWN = "former", "withdrawn"

#: File name -> path in it -> new value.
Edits = Mapping[str, Mapping[KeyPath, Value]]


def write(folder: Path, target: Path, edits: Edits, prove: Callable[[Path], object]) -> None:
    """A new version of the model in `folder` at `target`, which is a new folder or the same one.

    Only the values named change, and nothing is put in place before `prove` was content with it.
    Raises UsageError for a target that is in the way, and whatever `prove` raises.
    """
    folder, target = folder.resolve(), target.absolute()
    in_place = target.exists() and target.resolve() == folder
    _may_write(target, in_place)
    made = _beside(target)
    try:
        shutil.copytree(folder, made)
        _keep(made, FORMER, hashing.model_bytes(folder))
        for file, changes in edits.items():
            change_numbers(made, file, changes)
        prove(made)
        _put(made, target)
    finally:
        shutil.rmtree(made, ignore_errors=True)


def restore(folder: Path, prove: Callable[[Path], object]) -> None:
    """Go back to the version before the present one, which is kept in `withdrawn`.

    Raises UsageError when there is none before, and whatever `prove` raises.
    """
    target = folder.absolute()
    _may_write(target, True)
    last = former(folder)
    if not last:
        raise UsageError(f"{folder}: no former version is kept there")
    made = _beside(target)
    try:
        shutil.copytree(folder, made)
        _keep(made, WITHDRAWN, hashing.model_bytes(folder))
        for name in hashing.model_bytes(made):
            (made / name).unlink()
        back = made / FORMER / last[-1]
        for name, content in hashing.model_bytes(back).items():
            (made / name).write_bytes(content)
        shutil.rmtree(back)
        prove(made)
        _put(made, target)
    finally:
        shutil.rmtree(made, ignore_errors=True)


def former(folder: Path) -> tuple[str, ...]:
    """The names of the former versions that are kept, the oldest first."""
    place = Path(folder) / FORMER
    if not place.is_dir():
        return ()
    return tuple(sorted(each.name for each in place.iterdir() if each.is_dir()))


def _may_write(target: Path, in_place: bool) -> None:
    if is_shipped(target):
        raise UsageError(f"{target}: the shipped model stays as it is; name a folder of your own")
    if target.exists() and not in_place:
        raise UsageError(f"{target}: is there already; name a new folder, or that of the model")
    if not target.parent.is_dir():
        raise UsageError(f"{target.parent}: there is no such folder to write into")


def _keep(made: Path, where: str, files: Mapping[str, bytes]) -> None:
    numbers = (
        [int(e.name) for e in (made / where).glob("[0-9]*")] if (made / where).is_dir() else []
    )
    place = made / where / f"{max(numbers, default=0) + 1:04d}"
    place.mkdir(parents=True)
    for name, content in files.items():
        (place / name).write_bytes(content)


def _beside(target: Path) -> Path:
    return target.with_name(f".{target.name}.{os.getpid()}.{os.urandom(4).hex()}")


def _put(made: Path, target: Path) -> None:
    """Two renames at most; should the machine stop between them, both folders are still there."""
    for path in (*made.iterdir(), made):
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    if not target.exists():
        os.rename(made, target)
        return
    aside = _beside(target)
    os.rename(target, aside)
    os.rename(made, target)
    shutil.rmtree(aside)
