"""A checked model from a folder, proven once for each content of its files."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from brinebayes.knowledge import cache, hashing
from brinebayes.knowledge.schema import CheckedModel

if TYPE_CHECKING:
    from brinebayes.knowledge.shop import Shop


def ready(folder: Path) -> CheckedModel:
    """Read and prove the model in `folder`, or take it from the cache when nothing has changed.

    Raises `ModelError` when it is refused, `UsageError` if there is no such folder. From the cache
    it needs neither pydantic nor a YAML parser.
    """
    files = hashing.model_bytes(folder)
    return cache.remember("checked", hashing.hash_of(files), lambda: _proven(files, str(folder)))


def with_shop(model: str, shop: str) -> tuple[CheckedModel, Shop]:
    """A shipped model by its name, or the one in a folder, with the figures of a shop's file in it.

    An empty `shop`: the model's own. Raises `ModelError` for either, `UsageError` for no folder.
    """
    from brinebayes.knowledge.shipped import model_folder
    from brinebayes.knowledge.shop import NO_SHOP, apply, read_shop

    checked = ready(model_folder(model))
    if not shop:
        return checked, NO_SHOP
    found = read_shop(Path(shop), checked.model)
    return apply(checked, found), found


def _proven(files: Mapping[str, bytes], folder: str) -> CheckedModel:
    from brinebayes.checking.proof import prove
    from brinebayes.knowledge.reading import read_bytes

    return prove(read_bytes(files, folder), files)
