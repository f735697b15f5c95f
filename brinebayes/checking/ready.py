"""A checked model from a folder, proven once for each content of its files."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from brinebayes.knowledge import cache, hashing
from brinebayes.knowledge.schema import CheckedModel


def ready(folder: Path) -> CheckedModel:
    """Read and prove the model in `folder`, or take it from the cache when nothing has changed.

    Raises `ModelError` when it is refused, `UsageError` if there is no such folder. From the cache
    it needs neither pydantic nor a YAML parser.
    """
    files = hashing.model_bytes(folder)
    return cache.remember("checked", hashing.hash_of(files), lambda: _proven(files, str(folder)))


def _proven(files: Mapping[str, bytes], folder: str) -> CheckedModel:
    from brinebayes.checking.proof import prove
    from brinebayes.knowledge.reading import read_bytes

    return prove(read_bytes(files, folder), files)
