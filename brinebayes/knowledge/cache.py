"""What takes long to make is made once per user, model and version, and kept in a private folder.

The folder is `$BRINEBAYES_CACHE` if set (`off`: keep nothing), else `$XDG_CACHE_HOME/brinebayes`,
else `~/.cache/brinebayes`. Entries hold pickles (see `kept`), and a pickle can run code when it is
read: nothing is read that others could have written. The cache is never the reason that something
fails; what is absent, damaged, or cannot be written is made again.
"""

from __future__ import annotations

import hashlib
import os
import stat
import sys
import time
from collections.abc import Callable
from functools import lru_cache
from typing import Any, TypeVar

import brinebayes
from brinebayes.knowledge import kept

T = TypeVar("T")

#: Raise when the meaning of a kept object changes although the package version does not.
SCHEMA_VERSION = 4

MOST_ENTRIES = 40

_ENDING = ".pickle"
_TEMPORARY = ".tmp"
_ABANDONED_AFTER_S = 3600.0


def remember(kind: str, key: str, make: Callable[[], T]) -> T:
    """What `make()` returned for this kind and key the last time, or what it returns now.

    `kind` is a plain word; `key` names everything that `make` depends on (usually a model hash).
    What `make` raises passes through.
    """
    folder = cache_folder()
    path = None if folder is None else os.path.join(folder, _file_name(kind, key))
    if folder is not None and path is not None:
        found: list[T] = _read(folder, path)
        if found:
            return found[0]
    made = make()
    if folder is not None and path is not None:
        _write(folder, path, made)
    return made


def cache_folder() -> str | None:
    """Where entries are kept; None if the cache is off or there is no home folder."""
    chosen = os.environ.get("BRINEBAYES_CACHE", "")
    if chosen.lower() == "off":
        return None
    if chosen:
        return os.path.abspath(chosen)
    # The specification of base directories says that a path which is not absolute is ignored.
    base = os.environ.get("XDG_CACHE_HOME", "")
    if not os.path.isabs(base):
        base = os.path.join(os.path.expanduser("~"), ".cache")
    return os.path.join(base, "brinebayes") if os.path.isabs(base) else None


def _file_name(kind: str, key: str) -> str:
    if not kind.isidentifier():
        raise ValueError(f"the kind of a cache entry must be a plain word, not {kind!r}")
    parts = (
        kind,
        key,
        brinebayes.__version__,
        sys.version,
        str(SCHEMA_VERSION),
        _code_stamp(brinebayes.__file__),
    )
    digest = hashlib.sha256("\0".join(parts).encode(errors="surrogateescape")).hexdigest()
    return f"{kind}-{digest[:40]}{_ENDING}"


@lru_cache(maxsize=1)
def _code_stamp(package_file: str) -> str:
    """Changes when any file of this package changes, so that edited code meets no old entries."""
    stamps: list[str] = []
    try:
        _stamp(os.path.dirname(package_file), stamps)
    except OSError:
        return ""
    return hashlib.sha256("\n".join(sorted(stamps)).encode(errors="surrogateescape")).hexdigest()


def _stamp(folder: str, stamps: list[str]) -> None:
    with os.scandir(folder) as entries:
        for entry in entries:
            if entry.name.endswith(".py"):
                at = entry.stat()
                stamps.append(f"{entry.path}\0{at.st_mtime_ns}\0{at.st_size}")
            elif "." not in entry.name and entry.name != "__pycache__" and entry.is_dir():
                _stamp(entry.path, stamps)


# --- reading -----------------------------------------------------------------------------------


def _read(folder: str, path: str) -> list[Any]:
    """The kept object in a list, or an empty list."""
    # Whatever goes wrong here (rights, damage, a class that moved) has one answer: make it again.
    try:
        if not _only_ours(os.stat(folder)):
            return []
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0))
        try:
            return [kept.read(handle)] if _only_ours(os.fstat(handle)) else []
        finally:
            os.close(handle)
    except Exception:
        return []


def _only_ours(status: os.stat_result) -> bool:
    """Owned by this user, and nobody else may write. Systems without owners: taken as ours."""
    if not hasattr(os, "geteuid"):
        return True
    others_write = status.st_mode & (stat.S_IWGRP | stat.S_IWOTH)
    return status.st_uid == os.geteuid() and not others_write


# --- writing -----------------------------------------------------------------------------------


def _write(folder: str, path: str, made: object) -> None:
    temporary = f"{path}.{os.getpid()}.{os.urandom(4).hex()}{_TEMPORARY}"
    try:
        os.makedirs(folder, mode=0o700, exist_ok=True)
        if not _only_ours(os.stat(folder)):
            return
        handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        try:
            with os.fdopen(handle, "wb") as file:
                kept.write(file, made)
                file.flush()
                os.fsync(file.fileno())
            os.replace(temporary, path)
        finally:
            if os.path.exists(temporary):
                os.unlink(temporary)
        _prune(folder)
    except Exception:
        return


def _prune(folder: str) -> None:
    """Remove the oldest entries beyond the limit, and what an interrupted run left behind."""
    ages: list[tuple[float, str]] = []
    with os.scandir(folder) as entries:
        for entry in entries:
            written = entry.stat(follow_symlinks=False).st_mtime
            if entry.name.endswith(_ENDING):
                ages.append((written, entry.path))
            elif (
                entry.name.endswith(_TEMPORARY)
                and _ENDING in entry.name
                and written < time.time() - _ABANDONED_AFTER_S
            ):
                os.unlink(entry.path)
    ages.sort(reverse=True)
    for _, path in ages[MOST_ENTRIES:]:
        os.unlink(path)
