"""What every recommendation imports from this room stays light."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = ("pydantic", "yaml", "ruamel", "numpy", "networkx", "pgmpy", "tempfile", "difflib")


@pytest.mark.parametrize(
    "module", ["schema", "frozen", "hashing", "cache", "kept", "rules", "shipped", "names"]
)
def test_is_imported_without(module: str) -> None:
    code = (
        f"import sys, brinebayes.knowledge.{module}; "
        f"print(*[name for name in {HEAVY!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == []
