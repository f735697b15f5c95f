"""The hash that names a model: the same files, the same hash, wherever they lie."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from pathlib import Path

from brinebayes.errors import UsageError

#: Files with these endings are the model; anything else in the folder (a README) is not.
ENDINGS = (".yaml", ".yml")


def model_hash(folder: Path) -> str:
    """SHA-256 over the names and bytes of the folder's YAML files, in name order, in hexadecimal.

    Raises `UsageError` if there is no such folder.
    """
    return hash_of(model_bytes(folder))


def model_bytes(folder: Path) -> dict[str, bytes]:
    """Name and content of every YAML file in the folder, in name order."""
    try:
        with os.scandir(folder) as entries:
            names = sorted(e.name for e in entries if _is_ours(e.name) and e.is_file())
        return {name: (Path(folder) / name).read_bytes() for name in names}
    except OSError as error:
        raise UsageError(f"{folder}: no model can be read there ({error.strerror})") from None


def hash_of(files: Mapping[str, bytes]) -> str:
    """SHA-256 over names and contents, each with its length, so that nothing can change places."""
    digest = hashlib.sha256()
    for name in sorted(files):
        for part in (name.encode(), files[name]):
            digest.update(len(part).to_bytes(8, "big"))
            digest.update(part)
    return digest.hexdigest()


def _is_ours(name: str) -> bool:
    return name.endswith(ENDINGS) and not name.startswith(".")
