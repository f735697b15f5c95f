"""The page's engine in Node: a batch of tasks in one process, see `driver.js`."""

from __future__ import annotations

import json
import shutil
import subprocess
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest

from brinebayes.network.evidence import Question
from brinebayes.page.program import engine

DRIVER = Path(__file__).with_name("driver.js")
NODE = shutil.which("node") or shutil.which("nodejs")

needs_node = pytest.mark.skipif(NODE is None, reason="Node is not installed (apt: nodejs)")


def run(tasks: Sequence[Mapping[str, Any]]) -> list[Any]:
    """The answer to each task, in order."""
    assert NODE is not None
    with tempfile.TemporaryDirectory() as folder:
        program = Path(folder) / "program.js"
        program.write_text(f"{engine()}\n{DRIVER.read_text(encoding='utf-8')}", encoding="utf-8")
        ran = subprocess.run(
            [NODE, str(program)], input=json.dumps(tasks), capture_output=True, text=True
        )
    assert ran.returncode == 0, ran.stderr[-3000:]
    found: list[Any] = json.loads(ran.stdout)
    return found


def question(asked: Question) -> dict[str, Any]:
    """A question as the driver reads it."""
    seen = [
        {"epoch": s.epoch, "observation": s.observation, "likelihood": list(s.likelihood)}
        for s in asked.seen
    ]
    return {
        "site": dict(asked.site),
        "complaints": list(asked.complaints),
        "done": list(asked.done),
        "seen": seen,
    }
