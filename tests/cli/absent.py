"""What must not be imported on the way to `next`, and what a process of it has imported."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

#: Libraries that cost more to import than an answer takes; the list of LIBRARIES and test tools.
HEAVY = (
    *(
        "pgmpy",
        "pandas",
        "pydantic",
        "networkx",
        "scipy",
        "sklearn",
        "matplotlib",
        "yaml",
        "ruamel",
        "python_calamine",
    ),
    *("rich", "pint", "fluids", "thermo", "CoolProp", "uncertainties"),
)

#: Parts of the standard library and of numpy that are only needed once in a while.
SELDOM = (
    "tempfile",
    "fractions",
    "decimal",
    "importlib.resources",
    "zipfile",
    "asyncio",
    "random",
    "numpy.random",
)

#: Our own modules that answer something else.
ELSEWHERE = (
    *("brinebayes.cli.model", "brinebayes.cli.reckon", "brinebayes.cli.visit"),
    *(
        "brinebayes.knowledge.yaml_strict",
        "brinebayes.knowledge.reading",
        "brinebayes.knowledge.shape",
    ),
    *("brinebayes.physics.workbench", "brinebayes.checking.proof", "brinebayes.dialogue"),
    *("brinebayes.knowledge.metric", "brinebayes.checking.report"),
    *("brinebayes.network.build", "brinebayes.network.compile", "brinebayes.network.preparing"),
    *("brinebayes.cases", "brinebayes.cli.cases", "sqlite3"),
    *("brinebayes.visit.record", "brinebayes.visit.file", "brinebayes.wording.screen"),
)


def imported_by_next(folder: Path, *options: str) -> tuple[list[str], str]:
    """(which of these `next` has imported with what is kept in `folder`, its output)."""
    code = (
        f"import sys; sys.argv = ['brinebayes', 'next', *{options!r}]\n"
        "from brinebayes.cli.main import main\n"
        "try:\n    main()\nexcept SystemExit as end:\n    assert end.code == 0\n"
        f"wrong = {{*{HEAVY!r}, *{SELDOM!r}, *{ELSEWHERE!r}}} & set(sys.modules)\n"
        "print(*sorted(wrong), file=sys.stderr)\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        env={**os.environ, "BRINEBAYES_CACHE": str(folder)},
        check=True,
    )
    return ran.stderr.split(), ran.stdout
