"""Published discrete networks, from the wheel of pgmpy 0.1.26, which carries them as BIF files.

The wheel is downloaded once, through pip, into the user's cache; nothing of it is kept here.
Sources, after the repository of B. Scutari (bnlearn): ALARM: Beinlich et al. 1989; HEPAR II:
Onisko 2003; INSURANCE: Binder et al. 1997.
"""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from functools import cache
from pathlib import Path

from brinebayes.network.exchange import read_bif
from brinebayes.network.tables import Network

WHEEL = "pgmpy-0.1.26-py3-none-any.whl"
INSIDE = "pgmpy/utils/example_models/{}.bif.gz"
#: Variables of each, as the repository states them.
NETWORKS = {"alarm": 37, "hepar2": 70, "insurance": 27}


class UnavailableError(Exception):
    """The wheel is not in the cache and cannot be downloaded."""


def cache_folder() -> Path:
    """Where the wheel is kept: outside the project."""
    base = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    return Path(base) / "brinebayes-tests"


@cache
def published(name: str) -> tuple[Network, tuple[str, ...]]:
    """A network and what was mended in it. Raises `UnavailableError` when it cannot be had."""
    folder = cache_folder()
    wheel = folder / WHEEL
    if not wheel.exists():
        _download(folder)
    unpacked = folder / f"{name}.bif.gz"
    if not unpacked.exists():
        with zipfile.ZipFile(wheel) as archive:
            content = archive.read(INSIDE.format(name))
        part = unpacked.with_suffix(f".{os.getpid()}")
        part.write_bytes(content)
        part.replace(unpacked)
    return read_bif(unpacked)


def _download(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    command = [sys.executable, "-m", "pip", "download", "pgmpy==0.1.26", "--no-deps", "--quiet"]
    command += ["--only-binary", ":all:", "--disable-pip-version-check", "--dest", str(folder)]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise UnavailableError(f"the wheel with the published networks: {error}") from None
    if not (folder / WHEEL).exists():
        last = (done.stderr.strip().splitlines() or ["no message"])[-1]
        raise UnavailableError(f"the wheel with the published networks is not to be had: {last}")
