"""The README's parts that are run: its set-up commands, its commands, its outputs, its Python.

`python -m tests.readme` writes the outputs anew.
"""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from pathlib import Path

README = Path(__file__).resolve().parent.parent / "README.md"
OUTPUT = re.compile(
    r"<!-- output: brinebayes (?P<line>[^>]*) -->\n(?:```text\n(?P<text>.*?)```\n)?", re.S
)


def text() -> str:
    """The README as it stands."""
    return README.read_text(encoding="utf-8")


def set_up() -> list[str]:
    """The indented commands under "Set up"."""
    part = text().split("## Set up\n")[1].split("\n## ")[0]
    return [line.strip() for line in part.splitlines() if line.startswith("    ")]


def commands() -> list[list[str]]:
    """Every other indented command that starts with brinebayes, as words after it."""
    rest = text().split("## What it is not")[1].replace("\\\n", " ")
    lines = [line.strip() for line in rest.splitlines() if line.startswith("    brinebayes ")]
    return [shlex.split(line)[1:] for line in lines]


def python() -> list[str]:
    """The Python blocks."""
    return re.findall(r"```python\n(.*?)```", text(), re.S)


def output(line: str) -> str:
    """What a command prints."""
    words = [sys.executable, "-m", "brinebayes.cli.main", *shlex.split(line)]
    return subprocess.run(words, capture_output=True, text=True, check=True).stdout


def written_anew() -> str:
    """The README with every output as it is now."""
    return OUTPUT.sub(
        lambda found: (
            f"<!-- output: brinebayes {found['line']} -->\n```text\n{output(found['line'])}```\n"
        ),
        text(),
    )


if __name__ == "__main__":
    README.write_text(written_anew(), encoding="utf-8")
